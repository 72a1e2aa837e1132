"""Calls, and promising kits to them."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db.models import Max

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.records import apply, check_overlaps
from kits.models import Kit, Shop, User
from kits.promises import Refused
from sites.actions.common import check_asked_on, check_dates, close_stay, needs_kit, set_dates
from sites.days import day_of, say_day
from sites.free import hold_of, judge, shop_zone, with_what_counts
from sites.models import Deployment, Extension, ServiceCall, Stage

FIRST_CALL_NUMBER = 1001


@action
def book_call(act: Act, *, fields: Mapping[str, Any]) -> Done:
    """Book a service call; it gets the next number."""
    highest = ServiceCall.objects.aggregate(highest=Max("number"))["highest"] or FIRST_CALL_NUMBER - 1
    call = ServiceCall(number=highest + 1)
    apply(call, fields)
    return record(act, "call booked", f"Call {call.number} booked", about=[call])


@action
def close_call(act: Act, *, call: ServiceCall, why: str) -> Done:
    """The call is done or will not be done; refused while a kit is still promised or out for it."""
    call = hold(call, based_on=act.based_on, act=act)
    if stay := call.deployments.running().select_related("kit").first():
        raise Refused(
            f"{stay.kit} is {stay.stage.label.lower()} for this call. Bring that stay to its end first."
        )
    call.closed_on, call.closed_why = day_of(act.happened_at, shop_zone()), why[:200]
    needs_kit(call, "")
    call.save()
    return record(act, "call closed", f"Call {call.number} closed", about=[call], why=why)


def new_stay(
    act: Act, kit: Kit, call: ServiceCall, take_out_by: date, back_in_shop_by: date, technician: User | None
) -> Deployment:
    """A planned stay, not yet saved."""
    start, until = hold_of(call.window_from, back_in_shop_by, shop_zone())
    return Deployment(
        kit=kit,
        unit=call.unit,
        call=call,
        technician=technician or call.technician,
        holds_from=start,
        holds_until=until,
        take_out_by=take_out_by,
        back_in_shop_by=back_in_shop_by,
        planned_at=act.happened_at,
    )


@action
def plan(
    act: Act,
    *,
    call: ServiceCall,
    kit: Kit,
    take_out_by: date,
    back_in_shop_by: date,
    technician: User | None = None,
    not_in_date_why: str = "",
) -> Done:
    """Promise a kit to a call, from the first day of its window until the kit is back in the shop.

    A kit whose sensors do not stay in date is refused, unless a manager says why it goes all the same.
    """
    kit = hold(kit, based_on=act.based_on, act=act)
    call = hold(call)
    check_open(call)
    check_dates(act, call.window_from, take_out_by, back_in_shop_by)
    late = check_suits(act, kit, call, take_out_by, back_in_shop_by, not_in_date_why.strip())
    stay = new_stay(act, kit, call, take_out_by, back_in_shop_by, technician)
    check_overlaps(stay)
    stay.save()
    needs_kit(call, "")
    sentence = f"{kit} is planned for {call}, back in shop by {say_day(back_in_shop_by)}"
    if late:
        sentence += f", though {late}"
    why = not_in_date_why.strip() if late else act.why
    return record(act, "planned", sentence, about=[kit, stay, call], why=why)


def check_open(call: ServiceCall) -> None:
    """A call takes one kit at a time and none once it is closed."""
    if call.closed_on:
        raise Refused(f"{str(call).capitalize()} is closed. Book a new call.")
    if stay := call.deployments.running().select_related("kit").first():
        raise Refused(
            f"{str(call).capitalize()} has {stay.kit} already ({stay.stage.label.lower()}). Call that off first."
        )


def check_suits(
    act: Act,
    kit: Kit,
    call: ServiceCall,
    take_out_by: date,
    back_in_shop_by: date,
    not_in_date_why: str = "",
) -> str:
    """Refuse a kit that the assign page would show as not free, with the same reasons.

    Returns which sensors are not in date, where a manager lets it go all the same.
    """
    looked_at = with_what_counts(Kit.objects.filter(pk=kit.pk), act.recorded_at).get()
    candidate = judge(
        looked_at,
        call,
        back_in_shop_by,
        take_out_by=take_out_by,
        wanted=call.wanted_positions.count(),
        now=act.recorded_at,
        wear=0,
        shop=Shop.current(),
    )
    if not candidate.against:
        return ""
    if not candidate.only_not_in_date:
        raise Refused(
            f"{kit} cannot take {call}: {'; '.join(candidate.against)}. Choose another kit.", code="not_free"
        )
    if not act.typed_by.is_manager:
        raise Refused(
            f"{kit} cannot take {call}: {candidate.not_in_date}. Check the sensors first, choose another kit, or have "
            "a manager let it go with a reason.",
            code="not_in_date",
        )
    if not not_in_date_why:
        raise Refused(
            {"not_in_date_why": [f"For {kit}, {candidate.not_in_date}. Say why it goes all the same."]},
            code="not_in_date",
        )
    return candidate.not_in_date


@action
def call_off(act: Act, *, stay: Deployment, why: str) -> Done:
    """The stay will not happen. A loaded kit stays on that truck until it is put on the shelf."""
    kit = hold(stay.kit)
    stay = hold(stay, based_on=act.based_on, act=act)
    if stay.stage not in {Stage.PLANNED, Stage.LOADED}:
        raise Refused(
            f"This stay is {stay.stage.label.lower()} already and cannot be called off.", code="wrong_stage"
        )
    if not why.strip():
        raise Refused({"why": ["Say why it is called off."]})
    close_stay(stay, Stage.CALLED_OFF, at=act.happened_at, why=why)
    needs_kit(stay.call, f"{kit} was called off")
    return record(
        act, "called off", f"Stay of {kit} for {stay.call} called off", about=[stay, kit, stay.call], why=why
    )


@action
def extend(
    act: Act,
    *,
    stay: Deployment,
    agreed_by: str,
    agreed_on: date,
    how: str,
    take_out_by: date,
    back_in_shop_by: date,
) -> Done:
    """The customer agreed to another end: who, on which day and how. Refused where the next plan begins before.

    A first agreed end only moves back; what was extended, perhaps by a slip, can be shortened again.
    """
    kit = hold(stay.kit)
    stay = hold(stay, based_on=act.based_on, act=act)
    if stay.ended_at or stay.removed_at:
        raise Refused(
            f"This stay is {stay.stage.label.lower()}. There is nothing left to extend.", code="wrong_stage"
        )
    if take_out_by == stay.take_out_by or (take_out_by < stay.take_out_by and not stay.extensions.exists()):
        raise Refused(
            {"take_out_by": [f"It is to be out by {say_day(stay.take_out_by)} already. Give a later day."]}
        )
    if not agreed_by.strip():
        raise Refused({"agreed_by": ["Say who agreed, by name."]})
    if agreed_on > day_of(act.recorded_at, stay.unit.site.zone):
        raise Refused({"agreed_on": ["That day is still to come. Give the day on which they agreed."]})
    start = day_of(stay.installed_at or stay.holds_from, shop_zone())
    check_dates(act, start, take_out_by, back_in_shop_by)
    before = stay.take_out_by, stay.back_in_shop_by
    set_dates(stay, take_out_by, back_in_shop_by)
    extension = Extension(
        deployment=stay,
        agreed_by=agreed_by.strip(),
        agreed_on=agreed_on,
        how=how,
        take_out_by_before=before[0],
        take_out_by=take_out_by,
        back_in_shop_by_before=before[1],
        back_in_shop_by=back_in_shop_by,
    )
    extension.full_clean()
    extension.save()
    word = "extended" if take_out_by > before[0] else "shortened again"
    sentence = f"Stay of {kit} {word}: take out by {say_day(take_out_by)} instead of {say_day(before[0])}"
    return record(act, "extended", sentence, about=[stay, kit])


@action
def note_customer_asked(act: Act, *, stay: Deployment, asked_on: date) -> Done:
    """The customer asked for the kit to be taken out on a day; nothing is charged from then on."""
    kit = hold(stay.kit)
    stay = hold(stay, based_on=act.based_on, act=act)
    check_asked_on(act, stay, asked_on)
    stay.customer_asked_on = asked_on
    stay.save(update_fields=["customer_asked_on"])
    return record(
        act, "customer asked", f"Customer asked for {kit} on {say_day(asked_on)}", about=[stay, kit]
    )
