"""What is odd about readings while they are typed into an open check."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kits.checking import pure_reference, unit_read
from kits.measuring.screening import screen
from kits.measuring.trouble import CannotCompute
from kits.models import CalibrationCheck, CheckPoint
from kits.units import Unit


@dataclass(frozen=True, kw_only=True)
class Doubtful:
    """Something odd about readings that were kept. `must_go`: the check cannot be closed with it.

    `sensor_id` None: the reference. `index` None: it is about all of them, not one.
    """

    sensor_id: int | None
    index: int | None
    sentence: str
    must_go: bool
    meant_celsius: float | None = None


def doubts_of(
    check: CalibrationCheck, point: CheckPoint, readings: Mapping[int | None, Sequence[float]]
) -> list[Doubtful]:
    """What is odd about the readings of a point, by sensor id (None: the reference)."""
    unit, found = unit_read(), []
    shown = list(readings.get(None, ()))
    aimed = None if point.aimed_celsius is None else float(point.aimed_celsius)
    expected, beyond = expected_celsius(check, point, shown, unit)
    if beyond:
        found.append(Doubtful(sensor_id=None, index=None, sentence=beyond, must_go=True))
    for sensor_id, values in readings.items():
        near = aimed if sensor_id is None else expected
        for suspect in screen(values, expected_celsius=near, unit=unit):
            found.append(
                Doubtful(
                    sensor_id=sensor_id,
                    index=suspect.index,
                    sentence=suspect.sentence,
                    must_go=suspect.must_go,
                    meant_celsius=suspect.meant_celsius,
                )
            )
        if len(values) == 1:
            sentence = "One reading only: how much it scatters cannot be known. Take five, if you can."
            found.append(Doubtful(sensor_id=sensor_id, index=None, sentence=sentence, must_go=False))
    return found


def expected_celsius(
    check: CalibrationCheck, point: CheckPoint, shown: Sequence[float], unit: Unit
) -> tuple[float | None, str]:
    """The temperature of the bath as far as it is known, and what is wrong with how the reference tells it."""
    aimed = None if point.aimed_celsius is None else float(point.aimed_celsius)
    try:
        reference = pure_reference(check)
        if not reference.needs_readings:
            return reference.true_celsius(None, unit), ""
        if not shown:
            return aimed, ""
        return reference.true_celsius(sum(shown) / len(shown), unit), ""
    except CannotCompute as trouble:
        return aimed, str(trouble)
