"""The stay: its whole story on one page, and what we tell the customer about it."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from kits.models import Event, FollowUp, User
from kits.templatetags.kitperch import when
from kits.web import EVERYBODY, StepForm, for_roles, take_step, user_of
from reports import gather
from reports.stay_cost import cost_of
from reports.views.papers import stay_with_all
from sites.actions.findings import write_findings
from sites.doubts import doubts_of_stay
from sites.models import Deployment, Stage
from sites.stay_drawing import draw_stay


def told(stay: Deployment, zone: ZoneInfo) -> list[Event]:
    """Every event of the stay, newest first; a corrected time says what it was and what it is."""
    events = list(gather.stay_events(stay))
    for event in events:
        if event.what == "time corrected":
            was, now = (say_instant(event.details[key], zone) for key in ("was", "is"))
            event.why = f"{event.why} (was {was}, is {now})"
    return events[::-1]


def say_instant(text: str, zone: ZoneInfo) -> str:
    """An instant kept as text in an event, as people read it."""
    return when(datetime.fromisoformat(text), zone)


def address(name: str, *args: Any) -> str:
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def next_step(stay: Deployment) -> tuple[str, str]:
    """The one thing to do now, as a label and an address; empty when the stay has ended."""
    code = stay.kit.code
    match stay.stage:
        case Stage.PLANNED:
            return "Load the kit", address("load", code)
        case Stage.LOADED:
            return "Install the kit", address("install", code)
        case Stage.INSTALLED:
            return "Take the kit out", address("remove", code)
        case Stage.REMOVED:
            return "Hand the kit back", address("hand_back", code)
    return "", ""


def other_steps(stay: Deployment, user: User) -> list[tuple[str, str]]:
    """What else this person may do with the stay now."""
    code, found = stay.kit.code, []
    if stay.stage == Stage.INSTALLED:
        found += [
            ("Move a sensor", address("move_sensor", code)),
            ("Swap a lead", address("swap_lead", code)),
        ]
    if user.is_office and stay.stage in {Stage.PLANNED, Stage.LOADED, Stage.INSTALLED}:
        found.append(("Agree a later day", address("extend", stay.pk)))
    if user.is_office and stay.stage in {Stage.PLANNED, Stage.LOADED}:
        found.append(("Call the stay off", address("call_off", stay.pk)))
    if user.is_office and stay.stage == Stage.INSTALLED:
        found.append(("The customer asked for it", address("customer_asked", stay.pk)))
        found.append(("It is here, but nobody wrote down the pull", address("settle", code)))
    if user.is_office and stay.installed_at:
        found.append(("Mark days", address("mark_days", stay.pk)))
        found.append(("Leads were cut", address("cut_leads", stay.pk)))
        found.append(("Offer access in writing", address("offer_access", stay.pk)))
    if user.is_manager and stay.installed_at and not hasattr(stay, "no_access"):
        found.append(("Charge no access", address("no_access", stay.pk)))
    if user.is_manager and stay.stage in {Stage.LOADED, Stage.INSTALLED, Stage.REMOVED}:
        found.append(("Give up as not recovered", address("not_recovered", stay.pk)))
    if user.is_manager and stay.loaded_at:
        found.append(("Correct a time", address("correct_time", stay.pk)))
    return [(label, url) for label, url in found if url]


@for_roles(*EVERYBODY)
@require_GET
def stay_page(request: HttpRequest, pk: int) -> HttpResponse:
    """The whole stay: what stands where, how it came about, what was counted, its papers."""
    stay = stay_with_all(pk)
    zone = stay.unit.site.zone
    paper = gather.stay_paper(stay, printed_at=timezone.now())
    label, url = next_step(stay)
    today = timezone.now().astimezone(zone).date()
    late = (
        stay.ended_at is None
        and stay.loaded_at is not None
        and ((stay.removed_at is None and stay.take_out_by < today) or stay.back_in_shop_by < today)
    )
    unit = request.shop.temperature_unit  # type: ignore[attr-defined]
    drawing, says = draw_stay(
        stay,
        gather.placements_of(stay),
        unit=unit,
        zone=zone,
        now=timezone.now(),
    )
    with timezone.override(zone):
        return render(
            request,
            "reports/stay.html",
            {
                "drawing": drawing,
                "cost": cost_of(stay, today) if user_of(request).is_office else None,
                "drawing_says": says,
                "doubts": [(one, one.sentence(unit)) for one in doubts_of_stay(stay)],
                "stay": stay,
                "site": stay.unit.site,
                "zone": zone,
                "paper": paper,
                "stages": stages(stay),
                "late": late,
                "next_label": label,
                "next_url": url,
                "other_steps": other_steps(stay, user_of(request)),
                "events": told(stay, zone),
                "extensions": stay.extensions.all(),
                "follow_ups": FollowUp.objects.filter(kit=stay.kit, what__contains=str(stay.call)),
                "installation": getattr(stay, "installation", None),
                "removal": getattr(stay, "removal", None),
                "hand_back": getattr(stay, "hand_back", None),
            },
        )


def stages(stay: Deployment) -> list[tuple[str, datetime | None]]:
    """The stages of this stay with their times, in order; a stay that ended early ends early here too."""
    found: list[tuple[str, datetime | None]] = [("Planned", stay.planned_at), ("Loaded", stay.loaded_at)]
    if stay.called_off_at:
        reached = [row for row in found if row[1]]
        return [*reached, ("Called off", stay.called_off_at)]
    found.append(("Installed", stay.installed_at))
    if stay.not_recovered_at:
        found.append(("Removed", stay.removed_at))
        return [*[row for row in found if row[1]], ("Not recovered", stay.not_recovered_at)]
    return [*found, ("Removed", stay.removed_at), ("Back in shop", stay.handed_back_at)]


class FindingsForm(StepForm):
    """What we saw and suggest, for the customer, in plain words."""

    saw = forms.CharField(
        label="What we saw",
        widget=forms.Textarea(attrs={"rows": 4}),
        required=False,
        help_text="One sentence a line, three at most. No trade words the customer would have to ask about.",
    )
    suggest = forms.CharField(
        label="What we suggest", widget=forms.Textarea(attrs={"rows": 3}), required=False
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            del self.fields[name]

    def clean_saw(self) -> str:
        text: str = self.cleaned_data["saw"]
        if len([line for line in text.splitlines() if line.strip()]) > 3:
            raise forms.ValidationError(
                "Three sentences at most, one a line. Put the rest under what we suggest."
            )
        return text


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def findings(request: HttpRequest, pk: int) -> HttpResponse:
    """Write what the customer reads."""
    stay = stay_with_all(pk)
    initial = {"saw": stay.saw, "suggest": stay.suggest}
    form = FindingsForm(request.POST or None, subject=stay, initial=initial)
    return take_step(
        request,
        form,
        lambda act: write_findings(
            act, stay=stay, saw=form.cleaned_data["saw"], suggest=form.cleaned_data["suggest"]
        ),
        template="reports/findings.html",
        context={"stay": stay},
        then=lambda done: stay.get_absolute_url(),
    )
