"""One sensor at one temperature: its offset, and how well that is known.

offset = mean of the reference (corrected by its certificate) - mean of the sensor. It is ADDED to what the sensor reads.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from kits.measuring.budget import Budget, Term, from_readings, mean, rectangular, resolution
from kits.measuring.reference import Reference
from kits.measuring.screening import Suspect, screen
from kits.measuring.trouble import CannotCompute
from kits.units import Unit, temperature_text

SENSOR_STEP_KELVIN = 0.0625
"""One step of the sensor at 12 bits."""
FEWEST_STEADY_READINGS = 5

Method = Literal["ice", "stirred", "air", "boiling"]


@dataclass(frozen=True, kw_only=True)
class Bath:
    """How far the places in a bath (or in air) differ, and how far all of it wanders while it is read.

    Uniformity is each sensor's own: every one sits in its own place. Wandering is shared by sensors that are read at
    the same moment, as those of one kit are; read one after the other, it is each one's own too.
    """

    uniformity_half_width_kelvin: float
    stability_half_width_kelvin: float
    read_together: bool = True
    why: str = ""

    def terms(self) -> tuple[Term, ...]:
        return (
            rectangular("Bath: differences between places", self.uniformity_half_width_kelvin),
            rectangular(
                "Bath: wandering while it was read",
                self.stability_half_width_kelvin,
                shared=self.read_together,
            ),
        )


DEFAULT_BATHS: dict[Method, Bath] = {
    "ice": Bath(
        uniformity_half_width_kelvin=0.02,
        stability_half_width_kelvin=0.01,
        why="Crushed ice with water between and sensors in the middle differs by a few hundredths; floating cubes do by tenths.",
    ),
    "stirred": Bath(
        uniformity_half_width_kelvin=0.03,
        stability_half_width_kelvin=0.03,
        why="Stirred water keeps its places alike within some hundredths, and cools slowly while you read.",
    ),
    "air": Bath(
        uniformity_half_width_kelvin=0.3,
        stability_half_width_kelvin=0.15,
        why="Still air differs by tenths over a hand's width, and people, lamps and draughts move it; bundle the sensors and cover them.",
    ),
    "boiling": Bath(
        uniformity_half_width_kelvin=0.1,
        stability_half_width_kelvin=0.05,
        why="Water boils hotter at the bottom of the pot than at its top, and bubbles come and go.",
    ),
}


@dataclass(frozen=True, kw_only=True)
class PointResult:
    """What one sensor came to at one temperature."""

    reference_reading_celsius: float | None
    """Mean of what the reference showed, as it stands; None for ice and boiling water."""
    reference_mean_celsius: float
    """The temperature it truly was, as well as the reference knows."""
    sensor_mean_celsius: float
    offset_kelvin: float
    budget: Budget
    suspects: tuple[Suspect, ...] = ()
    """Readings that were counted although they look odd."""
    notes: tuple[str, ...] = ()

    @property
    def raw_error_kelvin(self) -> float:
        """Reading minus reference, with no offset applied."""
        return -self.offset_kelvin

    @property
    def expanded_kelvin(self) -> float:
        return self.budget.expanded_kelvin


def measure_point(
    *,
    sensor_readings_celsius: Sequence[float],
    reference: Reference,
    bath: Bath,
    reference_readings_celsius: Sequence[float] = (),
    sensor_step_kelvin: float = SENSOR_STEP_KELVIN,
    assumed_scatter_kelvin: float | None = None,
    unit: Unit = "C",
) -> PointResult:
    """Compare one sensor with the reference at one temperature.

    `assumed_scatter_kelvin`: ± this much where there is one reading only; left out, one step of that display. Refused
    with all their sentences: readings that cannot be temperatures, and a reference beyond its table.
    """
    shown = _reference_reading(reference, reference_readings_celsius)
    if shown is not None:
        _refuse(screen(reference_readings_celsius, unit=unit), "The reference")
    true_celsius = reference.true_celsius(shown, unit)
    suspects = screen(sensor_readings_celsius, expected_celsius=true_celsius, unit=unit)
    _refuse(suspects, "The sensor")
    sensor_mean = mean(sensor_readings_celsius)
    if shown is not None:
        _refuse(screen([shown], expected_celsius=sensor_mean, unit=unit), "The reference, beside the sensor")

    terms = [
        from_readings(
            "Sensor: scatter of its readings",
            sensor_readings_celsius,
            assumed_half_width_kelvin=assumed_scatter_kelvin or sensor_step_kelvin,
        ),
        resolution("Sensor: one step of its reading", sensor_step_kelvin),
    ]
    if shown is not None:
        terms.append(
            from_readings(
                "Reference: scatter of its readings",
                reference_readings_celsius,
                assumed_half_width_kelvin=assumed_scatter_kelvin or reference.step_kelvin,
                shared=True,
            )
        )
    budget = Budget.of(*terms, *reference.terms_at(true_celsius), *bath.terms())
    return PointResult(
        reference_reading_celsius=shown,
        reference_mean_celsius=true_celsius,
        sensor_mean_celsius=sensor_mean,
        offset_kelvin=true_celsius - sensor_mean,
        budget=budget,
        suspects=tuple(suspects),
        notes=_notes(sensor_readings_celsius, reference_readings_celsius),
    )


def _reference_reading(reference: Reference, readings: Sequence[float]) -> float | None:
    if reference.needs_readings:
        if not readings:
            raise CannotCompute(
                "The reference has no reading at this point. Type what it showed beside the sensors."
            )
        return mean(readings)
    if readings:
        raise CannotCompute(
            "Ice and boiling water are the reference here: leave the reference's readings empty."
        )
    return None


def _refuse(suspects: Sequence[Suspect], whose: str) -> None:
    sentences = [suspect.sentence for suspect in suspects if suspect.must_go]
    if sentences:
        raise CannotCompute(f"{whose}: " + " ".join(sentences))


def _notes(sensor_readings: Sequence[float], reference_readings: Sequence[float]) -> tuple[str, ...]:
    notes = []
    if len(sensor_readings) == 1:
        notes.append(
            "One reading of the sensor only: its scatter cannot be known and was assumed. "
            f"Take {FEWEST_STEADY_READINGS} or more."
        )
    elif len(sensor_readings) < FEWEST_STEADY_READINGS:
        notes.append(
            f"{len(sensor_readings)} readings of the sensor: with few readings the uncertainty grows. "
            f"Take {FEWEST_STEADY_READINGS} or more."
        )
    if len(reference_readings) == 1:
        notes.append("One reading of the reference only: its scatter cannot be known and was assumed.")
    return tuple(notes)


@dataclass(frozen=True)
class OneOffset:
    """One offset for all temperatures checked, with the uncertainty of using it at any of them."""

    offset_kelvin: float
    budget: Budget


def one_offset(points: Sequence[PointResult]) -> OneOffset:
    """The mean of the points' offsets. That they differ is a term of its own, beside the least certain point's terms."""
    offset = mean([point.offset_kelvin for point in points])
    least_certain = max(points, key=lambda point: point.budget.standard_uncertainty_kelvin).budget
    apart = max(abs(point.offset_kelvin - offset) for point in points)
    return OneOffset(
        offset, least_certain.with_terms(rectangular("Points: one offset for all of them", apart))
    )


def point_text(celsius: float, unit: Unit) -> str:
    """How a point is called on a page or paper: "at 77.0 °F"."""
    return f"at {temperature_text(celsius, unit)}"
