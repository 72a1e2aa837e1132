"""How sentences about leads are drawn."""

from django import template

register = template.Library()
WORD_JOINER = "\u2060"


@register.filter
def tails_whole(sentence: str) -> str:
    """Keep the dots of "…A1F3" on one line with its digits.

    >>> tails_whole("It is …A1F3.") == "It is …\\u2060A1F3."
    True
    """
    return sentence.replace("…", "…" + WORD_JOINER)
