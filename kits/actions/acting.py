"""How every change of state is made: one function, one transaction, one event, one answer however often it is sent."""

import hashlib
import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Set
from dataclasses import dataclass, field, fields, is_dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar
from uuid import UUID, uuid4

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction
from django.db.models import F
from django.utils import timezone

from kits.models import Event, EventAbout, Receipt, Told, User
from kits.models.base import Versioned
from kits.promises import Refused, kept, sentence_for

CLOCK_TOLERANCE = timedelta(minutes=2)
LONGEST_BACKDATING = timedelta(days=366)


@dataclass(frozen=True, kw_only=True)
class Act:
    """Who did a thing, who wrote it down, when it happened and when it was recorded."""

    typed_by: User
    happened_at: datetime
    recorded_at: datetime
    did_by: User | None = None
    did_by_name: str = ""
    answers_for: User | None = None
    told: Told = Told.SELF
    why: str = ""
    request_id: UUID = field(default_factory=uuid4)
    # The version the person saw, or the request whose result they built on; None asks for no such check.
    based_on: int | UUID | None = None
    payload_sha256: str = ""

    @classmethod
    def by(cls, user: User, **changes: Any) -> "Act":
        """`user` did it and types it, now unless `happened_at` or `recorded_at` say otherwise."""
        recorded_at = changes.pop("recorded_at", None) or timezone.now()
        happened_at = changes.pop("happened_at", None) or recorded_at
        if not changes.get("did_by_name"):
            changes.setdefault("did_by", user)
        return cls(typed_by=user, happened_at=happened_at, recorded_at=recorded_at, **changes)

    def at(self, instant: datetime) -> "Act":
        """The same act at another instant."""
        return replace(self, happened_at=instant)


@dataclass(frozen=True, kw_only=True)
class Done:
    """What an action answers: a sentence, what it was about, and whether it had been done before."""

    sentence: str
    subjects: tuple[tuple[str, int], ...]
    version: int | None
    event_id: int
    again: bool = False

    def row(self, model: type[models.Model]) -> Any:
        """The first subject of that model, read from the database."""
        for kind, row_id in self.subjects:
            if kind == kind_of(model):
                return model._default_manager.get(pk=row_id)
        raise LookupError(f"This answer is not about a {model._meta.verbose_name}.")

    def rows(self, model: type[models.Model]) -> list[Any]:
        """All subjects of that model, in the order they were named."""
        ids = [row_id for kind, row_id in self.subjects if kind == kind_of(model)]
        found = model._default_manager.in_bulk(ids)
        return [found[row_id] for row_id in ids]

    def as_answer(self) -> dict[str, Any]:
        return {
            "sentence": self.sentence,
            "subjects": [list(subject) for subject in self.subjects],
            "version": self.version,
            "event_id": self.event_id,
        }

    @classmethod
    def from_answer(cls, answer: Mapping[str, Any]) -> "Done":
        return cls(
            sentence=answer["sentence"],
            subjects=tuple((kind, row_id) for kind, row_id in answer["subjects"]),
            version=answer["version"],
            event_id=answer["event_id"],
            again=True,
        )


Given = ParamSpec("Given")
Row = TypeVar("Row", bound=models.Model)


def action(function: Callable[Concatenate[Act, Given], Done]) -> Callable[Concatenate[Act, Given], Done]:
    """Make `function` one transaction that is harmless to repeat: the same request gets its first answer again."""

    @wraps(function)
    def perform(act: Act, *args: Given.args, **given: Given.kwargs) -> Done:
        if args:
            raise TypeError(f"{function.__name__} takes keywords only, after the act")
        check_clock(act)
        # A generator is read once: the fingerprint and the action must both see what it gives.
        told: dict[str, Any] = {
            name: list(value) if isinstance(value, Iterator) else value for name, value in given.items()
        }
        # A phone's clock may be a little ahead; nothing is written down as happening later than now.
        now = act.at(min(act.happened_at, act.recorded_at))
        fingerprint = act.payload_sha256 or fingerprint_of(function.__name__, act, told)

        def once() -> Done:
            receipt = claim(act, fingerprint)
            if receipt.answer:
                return Done.from_answer(receipt.answer)
            done = function(now, **told)  # type: ignore[call-arg]
            receipt.answer = done.as_answer()
            receipt.save(update_fields=["answer"])
            return done

        try:
            return kept(once)
        except ValidationError as error:
            raise in_our_words(error) from error

    return perform


VIOLATED = re.compile(r"Constraint “(\w+)” is violated")


def in_our_words(error: ValidationError) -> ValidationError:
    """The same refusal, where a check of a model only named its rule with the rule's sentence instead."""
    if not any(VIOLATED.search(message) for message in error.messages):
        return error

    def reword(message: str) -> str:
        named = VIOLATED.search(message)
        return sentence_for(named[1]) if named else message

    if not hasattr(error, "error_dict"):
        return Refused([reword(message) for message in error.messages])
    return Refused({name: [reword(text) for text in texts] for name, texts in error.message_dict.items()})


def check_clock(act: Act) -> None:
    """Refuse what has not happened yet, and what is so long ago that the year must be a slip."""
    if act.happened_at > act.recorded_at + CLOCK_TOLERANCE:
        raise Refused(
            "That time is still to come. Write down when it happened, not when it is planned.", code="future"
        )
    if act.happened_at < act.recorded_at - LONGEST_BACKDATING:
        raise Refused("That is more than a year ago. Check the year.", code="long_ago")


def claim(act: Act, fingerprint: str) -> Receipt:
    """The receipt of this request: a new one with an empty answer, or the one already answered."""
    try:
        with transaction.atomic():
            return Receipt.objects.create(
                user=act.typed_by,
                request_id=act.request_id,
                payload_sha256=fingerprint,
                made_at=act.recorded_at,
            )
    except IntegrityError:
        receipt = Receipt.objects.get(user=act.typed_by, request_id=act.request_id)
    if receipt.payload_sha256 != fingerprint:
        raise Refused(
            "This request was already used for something else. Open the page again and send it from there.",
            code="request_reused",
        )
    return receipt


def fingerprint_of(name: str, act: Act, given: Mapping[str, Any]) -> str:
    """SHA-256 of what was asked: the action and all it was given, not the clock."""
    # A password kept as a fast hash would be given away.
    given = {key: value for key, value in given.items() if key != "password"}
    told = [name, plain(given), act.why, act.did_by_name, plain(act.did_by), str(act.told)]
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()


def plain(value: Any) -> Any:
    """`value` as JSON can hold it; a row becomes its kind and id."""
    if isinstance(value, models.Model):
        return [kind_of(value._meta.model), value.pk]  # a signed-in user comes wrapped, so not type()
    if isinstance(value, Mapping):
        return {str(plain(key)): plain(item) for key, item in value.items()}
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    if isinstance(value, date):  # datetime too
        return value.isoformat()
    if isinstance(value, Decimal | UUID):
        return str(value)
    if isinstance(value, str) or value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(value, type):
        return value.__name__
    if is_dataclass(value):
        return {part.name: plain(getattr(value, part.name)) for part in fields(value)}
    if isinstance(value, Set):
        return sorted((plain(item) for item in value), key=str)
    if isinstance(value, Iterable):
        return [plain(item) for item in value]
    return str(value)


def kind_of(model: type[models.Model]) -> str:
    """The word an event uses for a model: stable whatever the database."""
    return {"deployment": "stay", "servicecall": "call"}.get(
        model._meta.model_name or "", model._meta.model_name or ""
    )


def model_of(kind: str) -> type[models.Model] | None:
    """The model behind an event's word, if there is one."""
    for app in ("kits", "sites", "reports"):
        for model in apps.get_app_config(app).get_models():
            if kind_of(model) == kind:
                return model
    return None


def hold(row: Row, *, based_on: int | UUID | None = None, act: Act | None = None) -> Row:
    """Lock `row` and read it afresh; with `based_on`, refuse when it has changed since that was seen."""
    fresh = type(row)._default_manager.select_for_update(no_key=True).get(pk=row.pk)
    if based_on is not None and isinstance(fresh, Versioned):
        check_version(fresh, based_on, act)
    return fresh


def check_version(row: Versioned, based_on: int | UUID, act: Act | None) -> None:
    """Refuse, telling what the shop holds, unless `row` still is what the sender saw or made."""
    seen = version_after(row, based_on, act) if isinstance(based_on, UUID) else based_on
    if seen != row.version:
        raise Refused(what_happened_since(row, seen), code="stale")


def version_after(row: Versioned, request_id: UUID, act: Act | None) -> int:
    """The version that `row` had after an earlier request of the same person."""
    receipt = Receipt.objects.filter(request_id=request_id, user=act.typed_by).first() if act else None
    if receipt is None or not receipt.answer:
        raise Refused(
            "An earlier step from this phone has not arrived yet. It will be sent first.", code="waiting"
        )
    about = EventAbout.objects.filter(
        event=receipt.answer["event_id"], kind=kind_of(type(row)), subject_id=row.pk
    ).first()
    if about is None or about.version is None:
        raise Refused(
            f"The earlier step this builds on was about something else than {row}. Open the page again.",
            code="out_of_order",
        )
    return about.version


def what_happened_since(row: Versioned, version: int) -> str:
    """What the shop holds now about `row`, in a sentence."""
    later = Event.objects.filter(
        abouts__kind=kind_of(type(row)), abouts__subject_id=row.pk, abouts__version__gt=version
    ).last()
    news = f"{later.summary} ({later.doer})" if later else "it was changed"
    return f"Meanwhile, about {row}: {news}. Nothing of yours was saved. Look at it as it stands now, then send again."


def event_for(act: Act, what: str, sentence: str, *, why: str | None = None, **more: Any) -> Event:
    """The event of an action, not yet saved."""
    told: dict[str, Any] = {"request_id": act.request_id, **more}
    return Event(
        what=what,
        summary=sentence[:300],
        why=(act.why if why is None else why)[:300],
        did_by=act.did_by,
        did_by_name=act.did_by_name,
        answers_for=act.answers_for or act.did_by or act.typed_by,
        typed_by=act.typed_by,
        told=act.told,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        **told,
    )


def record(
    act: Act,
    what: str,
    sentence: str,
    *,
    about: Iterable[models.Model],
    details: Mapping[str, Any] | None = None,
    why: str | None = None,
) -> Done:
    """Write the one event of an action; each versioned subject counts one up. The first subject is the main one."""
    subjects = list(dict.fromkeys(about))
    event = event_for(act, what, sentence, why=why, details=plain(details or {}))
    event.save(force_insert=True)
    for row in subjects:
        count_up(row)
    EventAbout.objects.bulk_create(
        EventAbout(
            event=event, kind=kind_of(type(row)), subject_id=row.pk, version=getattr(row, "version", None)
        )
        for row in subjects
    )
    return Done(
        sentence=sentence,
        subjects=tuple((kind_of(type(row)), row.pk) for row in subjects),
        version=getattr(subjects[0], "version", None) if subjects else None,
        event_id=event.pk,
    )


def count_up(row: models.Model) -> None:
    """One more change of `row`, counted in the database: the row in hand may have been read long before."""
    if isinstance(row, Versioned) and not getattr(row, "never_changes", False):
        same = type(row)._default_manager.filter(pk=row.pk)
        same.update(version=F("version") + 1)
        row.version = same.values_list("version", flat=True).get()
