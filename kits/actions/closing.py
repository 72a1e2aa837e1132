"""The end of a calibration check: closed, withdrawn later, or dropped; and what makes a sensor due at once."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.check_rules import said
from kits.actions.checks import hold_open
from kits.actions.custody import follow_up
from kits.check_arithmetic import plain_of
from kits.checking import SensorOutcome, outcome_of
from kits.measuring.rounding import stored, stored_uncertainty
from kits.models import (
    CalibrationCheck,
    CheckResult,
    CheckSensor,
    CheckWithdrawal,
    Conformity,
    DueNow,
    DueNowReason,
    FollowUp,
    Kit,
    Offset,
    OffsetSource,
    Sensor,
    Verdict,
)
from kits.promises import Refused

ENDLESS = 1_000_000
HOW_LENGTH = 200  # of `Offset.how`


@action
def close_check(act: Act, *, check: CalibrationCheck) -> Done:
    """Close a check: what it found is written down for good, and its offsets are in force from this instant.

    A sensor to be replaced gets no new offset; its kit says that the lead is to be replaced.
    """
    check = hold_open(check, act=act)
    if act.happened_at < check.begun_at:
        raise Refused(f"{str(check).capitalize()} was begun later than that, on {said(check.begun_at)}.")
    kits, sensors = hold_members(check)
    refuse_later_offsets(sensors, act.happened_at)
    outcomes = outcome_of(check, closing_at=act.happened_at)
    refuse_incomplete(outcomes)
    words = {outcome.sensor.pk: close_for(act, check, outcome) for outcome in outcomes}
    # Counted up and told while it is still open: once closed, not even its version changes.
    sentence = f"{str(check).capitalize()} closed: {counted(words.values())}"
    details = {"found": {str(outcome.sensor): words[outcome.sensor.pk].value for outcome in outcomes}}
    done = record(act, "check closed", sentence, about=[check, *sensors, *kits], details=details)
    closed = CalibrationCheck.objects.filter(pk=check.pk, closed_at=None)
    closed.update(closed_at=act.happened_at, closed_by=act.did_by or act.typed_by)
    return done


def hold_members(check: CalibrationCheck) -> tuple[list[Kit], list[Sensor]]:
    """The kits and sensors of a check, locked: kits before what they carry, each in one order."""
    members = list(check.sensors.select_related("sensor", "kit"))
    wired = Kit.objects.filter(
        wirings__sensor__in=[one.sensor_id for one in members], wirings__wired_until=None
    )
    kits = {one.kit for one in members if one.kit} | set(wired)
    held_kits = [hold(kit) for kit in sorted(kits, key=lambda kit: kit.pk)]
    held = {
        sensor.pk: hold(sensor) for sensor in sorted((one.sensor for one in members), key=lambda one: one.pk)
    }
    return held_kits, [held[one.sensor_id] for one in members]


def refuse_later_offsets(sensors: Sequence[Sensor], at: datetime) -> None:
    """An offset that came after the closing would take this one's place at once."""
    later = Offset.objects.filter(sensor__in=sensors, in_force_from__gte=at).select_related("sensor").first()
    if later:
        raise Refused(
            f"Sensor {later.sensor} has an offset from {said(later.in_force_from)} already. "
            "Close the check at a time after it, or leave that sensor out.",
            code="later_offset",
        )


def refuse_incomplete(outcomes: Sequence[SensorOutcome]) -> None:
    """Refuse with everything that is still in the way, sensor by sensor."""
    if not outcomes:
        raise Refused("No sensor takes part in this check. Add one, or drop the check.")
    missing = [f"{one.sensor}: {' '.join(one.trouble)}" for one in outcomes if one.trouble]
    if missing:
        raise Refused([f"Sensor {sentence}" for sentence in missing], code="incomplete")


def close_for(act: Act, check: CalibrationCheck, outcome: SensorOutcome) -> Verdict:
    """Write what the check found for one sensor, and what follows: its offset, or that it is to be replaced."""
    found = outcome.settled
    result = CheckResult.objects.create(**columns_of(check, outcome))
    if found.verdict == Verdict.REPLACE:
        to_be_replaced(act, check, outcome.member)
        return found.verdict
    correction = found.correction
    Offset.objects.create(
        sensor=outcome.sensor,
        in_force_from=act.happened_at,
        offset_kelvin=stored(correction.offset_kelvin),
        uncertainty_kelvin=stored_uncertainty(found.budget.expanded_kelvin),
        slope_kelvin_per_kelvin=Decimal(str(correction.slope_kelvin_per_kelvin)),
        slope_about_celsius=None if correction.about_celsius is None else stored(correction.about_celsius),
        points=[list(pair) for pair in correction.points],
        source=OffsetSource.CHECK,
        result=result,
        good_until=found.due.on,
        how=how_found(check),
        recorded_at=act.recorded_at,
        recorded_by=act.typed_by,
    )
    return found.verdict


def how_found(check: CalibrationCheck) -> str:
    """How an offset was found, as every paper that quotes it says; also that the reference was out of date, and why."""
    told = f"{check.get_method_display()}, beside {check.reference}, {check}"
    if check.out_of_date_why:
        told += f"; reference out of date, allowed by {check.out_of_date_allowed_by}: {check.out_of_date_why}"
    return told if len(told) <= HOW_LENGTH else told[: HOW_LENGTH - 1] + "…"


def columns_of(check: CalibrationCheck, outcome: SensorOutcome) -> dict[str, object]:
    """The columns of a result."""
    found = outcome.settled
    budget, decisive = found.budget, found.decisive
    freedom = budget.degrees_of_freedom
    then = decisive.offset_then_kelvin
    return {
        "sitting": check,
        "sensor": outcome.sensor,
        "as_found_offset_kelvin": None if then is None else stored(then),
        "as_found_error_kelvin": decimals(decisive.as_found.error_kelvin, 4),
        "as_left_error_kelvin": decimals(found.as_left.error_kelvin, 4),
        "offset_kelvin": stored(found.correction.offset_kelvin),
        "standard_uncertainty_kelvin": decimals(budget.standard_uncertainty_kelvin, 5),
        "shared_uncertainty_kelvin": decimals(budget.shared_kelvin, 5),
        "expanded_uncertainty_kelvin": decimals(budget.expanded_kelvin, 4),
        "coverage_factor": decimals(budget.coverage_factor, 3),
        "degrees_of_freedom": decimals(freedom, 1) if freedom < ENDLESS else None,
        "verdict": found.verdict,
        "conformity": conformity(decisive.as_found.word),
        "conformity_left": conformity(found.as_left.word),
        "probability_out": min(max(decisive.as_found.probability_out, 0.0), 1.0),
        "arithmetic": plain_of(outcome, check),
        "due_on": found.due.on,
        "due_why": found.due.sentence[:200],
    }


def conformity(word: str) -> Conformity:
    return Conformity(word.replace(" ", "_"))


def decimals(value: float, places: int) -> Decimal:
    return round(Decimal(str(value)), places)


def to_be_replaced(act: Act, check: CalibrationCheck, member: CheckSensor) -> None:
    """The sensor is no good any more: it is due at once, and its kit says that its lead is to be replaced."""
    note = f"{check} found it off by more than an offset may mend"
    DueNow.objects.create(sensor=member.sensor, since=act.happened_at, reason=DueNowReason.REPLACE, note=note)
    wiring = member.sensor.wiring
    if wiring is not None:
        follow_up(act, wiring.kit, lead_to_replace(check, member.sensor))


def lead_to_replace(check: CalibrationCheck, sensor: Sensor) -> str:
    """What is still to be done about the kit of a sensor that a check found no good."""
    return f"Replace the lead of sensor {sensor}: {check} found it off by too much"


def counted(words: Iterable[Verdict]) -> str:
    """ "3 good, 1 use offset"."""
    found = list(words)
    return ", ".join(
        f"{found.count(verdict)} {verdict.label.lower()}" for verdict in Verdict if verdict in found
    )


@action
def withdraw_check(act: Act, *, check: CalibrationCheck, why: str) -> Done:
    """A closed check proved mistaken: for each of its sensors the offset before it is in force again from now on.

    Where a sensor has a later offset already, that one stays and nothing is restated; the check is marked all the same.
    """
    if not act.typed_by.is_manager:
        raise Refused("A closed check is withdrawn by a manager.", code="managers_only")
    if not why.strip():
        raise Refused({"why": ["Say why the check is withdrawn."]})
    check = hold(check)
    if check.closed_at is None:
        raise Refused(f"{str(check).capitalize()} is not closed. Drop it instead.")
    if act.happened_at <= check.closed_at:
        raise Refused(f"{str(check).capitalize()} was closed later than that, on {said(check.closed_at)}.")
    before = CheckWithdrawal.objects.filter(sitting=check).select_related("withdrawn_by").first()
    if before:
        raise Refused(
            f"{str(check).capitalize()} was withdrawn already, by {before.withdrawn_by} on {said(before.withdrawn_at)}."
        )
    kits, sensors = hold_members(check)
    CheckWithdrawal.objects.create(
        sitting=check, withdrawn_at=act.happened_at, withdrawn_by=act.typed_by, why=why.strip()[:200]
    )
    kept = [sensor for sensor in sensors if not restate(act, check, sensor, check.closed_at)]
    lay_down_follow_ups(act, check, kits, sensors)
    sentence = f"{str(check).capitalize()} withdrawn"
    if len(kept) < len(sensors):
        sentence += ": the offsets before it are in force again"
    if kept:
        sentence += f"; {', '.join(map(str, kept))} keep{'s' if len(kept) == 1 else ''} the later offset"
    return record(act, "check withdrawn", sentence, about=[check, *sensors, *kits], why=why)


def restate(act: Act, check: CalibrationCheck, sensor: Sensor, closed_at: datetime) -> bool:
    """Put the offset before the check in force again; False where a later one than the check's has taken over."""
    offsets = list(
        Offset.objects.filter(sensor=sensor)
        .select_related("result__sitting__withdrawal")
        .order_by("in_force_from")
    )
    if any(row.in_force_from > closed_at for row in offsets):
        return False
    standing = [row for row in offsets if stands(row, check)]
    earlier = standing[-1] if standing else None
    if earlier is not None and earlier.source == OffsetSource.NONE:
        earlier = None
    found_bad = check.results.filter(sensor=sensor, verdict=Verdict.REPLACE).exists()
    if earlier is None and not offsets and not found_bad:
        return True  # it had none before, and the check gave it none
    Offset.objects.create(
        sensor=sensor,
        in_force_from=act.happened_at,
        offset_kelvin=earlier.offset_kelvin if earlier else 0,
        uncertainty_kelvin=earlier.uncertainty_kelvin if earlier else None,
        slope_kelvin_per_kelvin=earlier.slope_kelvin_per_kelvin if earlier else 0,
        slope_about_celsius=earlier.slope_about_celsius if earlier else None,
        points=earlier.points if earlier else [],
        source=OffsetSource.RESTATED if earlier else OffsetSource.NONE,
        result=earlier.result if earlier else None,
        good_until=earlier.good_until if earlier else None,
        how=f"{check} withdrawn; {earlier.how}"[:200] if earlier else f"{check} withdrawn"[:200],
        recorded_at=act.recorded_at,
        recorded_by=act.typed_by,
    )
    renew_due_now(act, check, sensor, earlier)
    return True


def stands(offset: Offset, withdrawn: CalibrationCheck) -> bool:
    """Whether an offset is not of the check just withdrawn, nor of one withdrawn before."""
    if offset.result is None:
        return True
    return offset.result.sitting_id != withdrawn.pk and not offset.result.sitting.is_withdrawn


def renew_due_now(act: Act, check: CalibrationCheck, sensor: Sensor, earlier: Offset | None) -> None:
    """What made the sensor due since that earlier offset, and only the withdrawn check had answered, does so again."""
    rows = DueNow.objects.filter(sensor=sensor, since__lt=check.closed_at).exclude(
        note__startswith=f"{check} found"
    )
    if earlier is not None:
        rows = rows.filter(since__gte=earlier.in_force_from)
    last = rows.order_by("since", "pk").last()
    if last is not None:
        DueNow.objects.create(sensor=sensor, since=act.happened_at, reason=last.reason, note=last.note)


def lay_down_follow_ups(
    act: Act, check: CalibrationCheck, kits: Iterable[Kit], sensors: Iterable[Sensor]
) -> None:
    """Leads that only this check wanted replaced need not be."""
    asked = [lead_to_replace(check, sensor)[:200] for sensor in sensors]
    FollowUp.objects.filter(kit__in=list(kits), what__in=asked, done_at=None).update(
        done_at=act.happened_at, done_by=act.typed_by, outcome=f"{str(check).capitalize()} was withdrawn"
    )


@action
def drop_check(act: Act, *, check: CalibrationCheck, why: str) -> Done:
    """An open check will not be finished. Its readings stay to be looked at; nothing follows from them."""
    if not why.strip():
        raise Refused({"why": ["Say why the check is dropped."]})
    check = hold_open(check, act=act)
    check.dropped_at, check.dropped_why = act.happened_at, why.strip()[:200]
    check.save(update_fields=["dropped_at", "dropped_why"])
    return record(act, "check dropped", f"{str(check).capitalize()} dropped", about=[check], why=why)


@action
def mark_due_now(act: Act, *, sensor: Sensor, reason: DueNowReason, note: str = "") -> Done:
    """Something happened to a sensor (dropped, repaired): its next check is due at once, whatever its date says."""
    wiring = sensor.wiring
    kit = hold(wiring.kit) if wiring else None
    sensor = hold(sensor, based_on=act.based_on, act=act)
    reason = DueNowReason(reason)
    due_now(act, sensor, reason, note)
    sentence = f"Sensor {sensor} is due for a check: {reason.label.lower()}"
    return record(act, "due now", sentence, about=[sensor, kit] if kit else [sensor], why=note or act.why)


def due_now(act: Act, sensor: Sensor, reason: DueNowReason, note: str = "") -> DueNow:
    """The row of it, for actions in which it happens."""
    return DueNow.objects.create(sensor=sensor, since=act.happened_at, reason=reason, note=note.strip()[:200])
