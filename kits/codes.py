"""Kit codes: drawing one, reading what somebody typed or scanned, and what a label's QR symbol says.

A code is six characters from an alphabet of thirty (no 0 1 I L O U): five drawn at random and one check character of
ISO/IEC 7064 MOD 37-2, which finds every single wrong character and every exchange of two. Only codes whose check
character is itself one of the thirty are given out.
"""

import re
import secrets
import unicodedata
from collections.abc import Iterable
from random import Random
from urllib.parse import unquote

from stdnum.iso7064 import mod_37_2

ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
NEVER_ISSUED = "01ILOU"
PAYLOAD_LENGTH = 5
CODE_LENGTH = 6

# What one character on a worn or dirty label is taken for, both ways.
_LOOK_ALIKE_PAIRS = "0O 0Q 0D OQ OD 1I 1L IL 17 2Z 5S 8B 6G UV MN KX 4A EF PR CG VY 38 UJ"
LOOK_ALIKES = frozenset(frozenset(pair) for pair in _LOOK_ALIKE_PAIRS.split())

# ISO/IEC 18004, alphanumeric mode, level Q: characters a symbol of each version holds.
QR_CAPACITY_LEVEL_Q = {2: 29, 3: 47}

UNPREDICTABLE = secrets.SystemRandom()

_SCAN = re.compile(r"/k/([^/?#\s]*)", re.IGNORECASE)


class BadCode(ValueError):
    """What was typed is no kit code. The message says why; `position` counts from 1 where one character is to blame."""

    def __init__(self, sentence: str, position: int | None = None) -> None:
        super().__init__(sentence)
        self.position = position


def draw_code(random_source: Random = UNPREDICTABLE) -> str:
    """A new kit code at random. Whether the shop already has it is for the caller to find out."""
    while True:
        payload = "".join(random_source.choice(ALPHABET) for _ in range(PAYLOAD_LENGTH))
        check = check_character(payload)
        if check in ALPHABET:
            return payload + check


def check_character(payload: str) -> str:
    """The MOD 37-2 check character of a payload: 0-9, A-Z or *."""
    return mod_37_2.calc_check_digit(payload)


def is_code(text: str) -> bool:
    """Whether `text`, as it stands, is a code this shop could have given out."""
    return len(text) == CODE_LENGTH and all(c in ALPHABET for c in text) and mod_37_2.is_valid(text)


def fold_code(typed: str) -> str:
    """The same characters in one form: width folded, upper case, without blanks, hyphens and invisible marks."""
    folded = unicodedata.normalize("NFKC", typed).upper()
    return "".join(c for c in folded if not _is_filler(c))


def _is_filler(character: str) -> bool:
    """Blanks, hyphens and dashes of any kind, the minus sign, and invisible marks such as the soft hyphen."""
    category = unicodedata.category(character)
    return character.isspace() or category in {"Pd", "Cf", "Cc", "Zs"} or character in "\u2212\u00ad"


def code_from_scan(text: str) -> str:
    """The code part of a scanned label address, or the text itself when it is no address. Folded, not yet checked."""
    if found := _SCAN.search(text):
        return fold_code(unquote(found[1]))
    if "://" in text:
        raise BadCode(
            "This is an address, but not that of a kit label. Scan the square on the kit's own tag."
        )
    return fold_code(text)


def read_code(typed: str) -> str:
    """The kit code somebody typed or scanned, or BadCode saying which character cannot be right."""
    code = code_from_scan(typed)
    if not code:
        raise BadCode("Type the six characters on the kit's tag.")
    for position, character in enumerate(code, start=1):
        if character not in ALPHABET:
            raise BadCode(_stranger(position, character), position)
    if len(code) != CODE_LENGTH:
        raise BadCode(_wrong_length(code))
    expected = check_character(code[:PAYLOAD_LENGTH])
    if expected not in ALPHABET:
        raise BadCode(
            f"No kit has a code that begins {code[:PAYLOAD_LENGTH]}. One of these five characters is misread or two "
            "are exchanged; compare them with the tag."
        )
    if code[PAYLOAD_LENGTH] != expected:
        raise BadCode(
            f"{code} is no kit code: after {code[:PAYLOAD_LENGTH]} character 6 would be {expected}, not {code[-1]}. "
            "One character is misread or two are exchanged; compare them with the tag."
        )
    return code


def _stranger(position: int, character: str) -> str:
    """Why one character cannot stand in a kit code, and what it may be instead."""
    shown = character if character.isprintable() else f"U+{ord(character):04X}"
    if character not in NEVER_ISSUED:
        return f"Character {position}, {shown}, cannot be right: kit codes use only the digits 2 to 9 and plain letters."
    instead = sorted(c for c in ALPHABET if frozenset((character, c)) in LOOK_ALIKES)
    hint = f" It may be {' or '.join(instead)}." if instead else ""
    return (
        f"Character {position}, {shown}, cannot be right: kit codes never use 0 O 1 I L U, "
        f"because they are easily mistaken.{hint} Compare it with the tag."
    )


def _wrong_length(code: str) -> str:
    count = len(code)
    missing = CODE_LENGTH - count
    if missing > 0:
        return (
            f"A kit code has six characters; {code} has {count}, so {missing} {_is_or_are(missing)} missing."
        )
    shown = code if count <= 12 else f"{code[:12]}…"
    return (
        f"A kit code has six characters; {shown} has {count}, so {-missing} {_is_or_are(-missing)} too many."
    )


def _is_or_are(count: int) -> str:
    return "is" if count == 1 else "are"


def near_codes(typed: str, known: Iterable[str]) -> list[str]:
    """At most three of the shop's codes that a small slip turns into what was typed, likeliest first."""
    try:
        wanted = code_from_scan(typed)
    except BadCode:
        return []
    ranked = sorted((rank, code) for code in known if (rank := _slip_rank(wanted, code)) is not None)
    return [code for _, code in ranked[:3]]


def _slip_rank(typed: str, code: str) -> int | None:
    """How likely `code` was meant by `typed`: 0 likeliest, None when more than one slip apart."""
    if len(typed) == len(code):
        return _same_length_rank(typed, code)
    longer, shorter = (typed, code) if len(typed) > len(code) else (code, typed)
    if len(longer) - len(shorter) != 1:
        return None
    one_left_out = any(longer[:i] + longer[i + 1 :] == shorter for i in range(len(longer)))
    return 4 if one_left_out else None


def _same_length_rank(typed: str, code: str) -> int | None:
    differing = [i for i, (a, b) in enumerate(zip(typed, code, strict=True)) if a != b]
    if not differing:
        return None
    look_alike = all(frozenset((typed[i], code[i])) in LOOK_ALIKES for i in differing)
    if len(differing) == 1:
        return 0 if look_alike else 2
    if len(differing) > 2:
        return None
    first, second = differing
    exchanged = (typed[first], typed[second]) == (code[second], code[first])
    if exchanged:
        return 1 if second - first == 1 else 3
    return 3 if look_alike else None


def label_text(host: str, code: str) -> str:
    """What the QR symbol of a kit's label says. All upper case, so that it packs as alphanumeric."""
    return f"HTTPS://{host.upper()}/K/{code}"


def qr_version(text: str) -> int:
    """The smallest QR version, 2 or 3, that holds a label's text at level Q."""
    for version, capacity in QR_CAPACITY_LEVEL_Q.items():
        if len(text) <= capacity:
            return version
    spare = QR_CAPACITY_LEVEL_Q[3] - len(label_text("", "0" * CODE_LENGTH))
    raise ValueError(
        f"The shop's web address is too long for a label: host and port may have {spare} characters."
    )
