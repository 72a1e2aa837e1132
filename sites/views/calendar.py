"""A person's calendar: the page on which its secret address is made and revoked, and the calendar itself."""

import json
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import conditional_page, require_http_methods, require_POST, require_safe

from kits.actions.acting import Act, Done
from kits.web import EVERYBODY, StepForm, for_roles, take_step, user_of, wants_json
from sites.actions import calendar as actions
from sites.calendar import calendar_of, new_token, owner_of, token_sha256
from sites.icalendar_feed import CONTENT_TYPE
from sites.models import CalendarAddress

PAGE = "sites/my_calendar.html"


class CalendarForm(StepForm):
    """A press of a button: nothing is typed, and only one's own address is made or revoked, now."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            del self.fields[name]


def shown(request: HttpRequest) -> dict[str, object]:
    """What the page tells: the person's present address, without its secret, and an unused form to revoke it."""
    live = CalendarAddress.objects.filter(user=user_of(request), revoked_at=None).first()
    return {"live": live, "revoking": CalendarForm(auto_id=False)}


@never_cache
@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def my_calendar(request: HttpRequest) -> HttpResponse:
    """Makes an address and shows it in the answer to that very request, never again."""
    fresh: list[str] = []

    def make(act: Act) -> Done:
        token = new_token()
        done = actions.make_calendar_address(act, token_sha256=token_sha256(token))
        if not done.again:
            fresh.append(request.build_absolute_uri(reverse("calendar_feed", args=[token])))
        return done

    answer = take_step(
        request,
        CalendarForm(request.POST or None),
        make,
        template=PAGE,
        context=shown(request),
        then=lambda done: reverse("my_calendar"),
    )
    if not fresh:
        return answer
    if wants_json(request):
        return JsonResponse({**json.loads(answer.content), "address": fresh[0]})
    return render(request, PAGE, {**shown(request), "form": CalendarForm(), "address": fresh[0]})


@never_cache
@for_roles(*EVERYBODY)
@require_POST
def calendar_revoke(request: HttpRequest) -> HttpResponse:
    """The address opens nothing any more."""
    return take_step(
        request,
        CalendarForm(request.POST),
        lambda act: actions.revoke_calendar_address(act),
        template=PAGE,
        context=shown(request),
        then=lambda done: reverse("my_calendar"),
    )


@login_not_required
@conditional_page  # asked for every hour and mostly unchanged
@require_safe
def calendar_feed(request: HttpRequest, token: str) -> HttpResponse:
    """The calendar that `token` opens. An unknown one and a revoked one are answered alike."""
    owner = owner_of(token)
    if owner is None:
        raise Http404
    answer = HttpResponse(calendar_of(owner), content_type=CONTENT_TYPE)
    answer.headers["Content-Disposition"] = 'inline; filename="kits.ics"'
    answer.headers["Cache-Control"] = "private, no-cache"
    return answer
