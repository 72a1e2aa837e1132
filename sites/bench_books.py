"""What no single rule can see about checks: each closed one has a result for every sensor, and its offsets are in force."""

from kits.actions.acting import kind_of
from kits.models import CalibrationCheck, CheckResult, CheckSensor, EventAbout, Offset, OffsetSource, Verdict


def check_contradictions() -> list[str]:
    """Sentences, one for each thing that does not fit together about the checks; none when all is well."""
    closed = {check.pk: check for check in CalibrationCheck.objects.filter(closed_at__isnull=False)}
    members = set(CheckSensor.objects.filter(sitting__in=closed).values_list("sitting", "sensor"))
    results = {(row.sitting_id, row.sensor_id): row for row in CheckResult.objects.select_related("sensor")}
    given = {
        row.result_id: row
        for row in Offset.objects.filter(source=OffsetSource.CHECK).order_by("pk").iterator()
    }
    told = set(
        EventAbout.objects.filter(kind=kind_of(CalibrationCheck), event__what="check closed").values_list(
            "subject_id", flat=True
        )
    )
    found = [f"{check} is closed and no event tells of it" for pk, check in closed.items() if pk not in told]
    found += [
        f"{closed[check]} is closed without a result for one of its sensors (id {sensor})"
        for check, sensor in sorted(members - results.keys())
    ]
    for (check, sensor), result in sorted(results.items()):
        if (check, sensor) not in members:
            found.append(
                f"check {check} has a result for {result.sensor}, which took no part or is still open"
            )
            continue
        offset = given.get(result.pk)
        if result.verdict == Verdict.REPLACE:
            if offset is not None:
                found.append(f"{closed[check]}: {result.sensor} is to be replaced and was given an offset")
        elif offset is None or offset.in_force_from != closed[check].closed_at:
            found.append(f"{closed[check]}: no offset of {result.sensor} is in force from its closing")
        elif offset.offset_kelvin != result.offset_kelvin or offset.sensor_id != sensor:
            found.append(f"{closed[check]}: the offset of {result.sensor} is not the one it found")
    return found
