"""Stays and calls in words. `{% load work %}`."""

from datetime import timedelta

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from sites.models import Deployment, ServiceCall, Stage

register = template.Library()

TONES = {
    Stage.PLANNED: "plain",
    Stage.LOADED: "plain",
    Stage.INSTALLED: "good",
    Stage.REMOVED: "attention",
    Stage.HANDED_BACK: "good",
    Stage.CALLED_OFF: "plain",
    Stage.NOT_RECOVERED: "late",
}


@register.filter
def stage_word(stay: Deployment) -> SafeString:
    """The stage of a stay as a word with its shape."""
    return format_html('<span class="word word-{}">{}</span>', TONES[stay.stage], stay.stage.label.lower())


@register.filter
def result(stay: Deployment) -> str:
    """How a stay came out, in a sentence; empty while it runs."""
    if stay.stage == Stage.HANDED_BACK:
        missing = stay.hand_back.missing
        return f"Missing: {', '.join(missing)}." if missing else "Everything came home."
    if stay.stage in {Stage.CALLED_OFF, Stage.NOT_RECOVERED}:
        return stay.ended_why
    return ""


@register.filter
def days_in_house(stay: Deployment) -> timedelta | None:
    """How long the kit hung there, once it is out."""
    end = stay.removed_at or stay.not_recovered_at
    return end - stay.installed_at if end and stay.installed_at else None


@register.filter
def positions(stay: Deployment) -> list[tuple[str, str]]:
    """The positions watched in a stay, each once: [("SA", "Supply air")]. Expects placements prefetched."""
    return list({row.position.code: row.position.name for row in stay.placements.all()}.items())


@register.filter
def call_state(call: ServiceCall) -> SafeString:
    """Where a call stands, as a word with its shape. Expects a call from `calls_with_state`."""
    if not call.closed_on and call.running_stays:  # type: ignore[attr-defined]
        return stage_word(call.running_stays[0])  # type: ignore[attr-defined]
    tone = "attention" if call_word(call) == "needs a kit" else "plain"
    return format_html('<span class="word word-{}">{}</span>', tone, call_word(call))


def call_word(call: ServiceCall) -> str:
    """Where a call stands, in a word or two."""
    if call.closed_on:
        return "closed"
    if call.running_stays:  # type: ignore[attr-defined]
        return call.running_stays[0].stage.label.lower()  # type: ignore[attr-defined]
    if call.wants_kit:  # type: ignore[attr-defined]
        return "needs a kit"
    return "watched, to be closed" if call.was_watched else "open"  # type: ignore[attr-defined]
