"""The calibration record: what one check found for each sensor, how, against what, and every term of the arithmetic.

It holds what ISO/IEC 17025:2017, 7.8.4 and 7.8.6 ask of a record (in our own words), and says that it is the shop's own
record, not the certificate of an accredited laboratory.
"""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer

from reports.papers.blocks import Cell, beside, box, facts, listing
from reports.papers.check_records import BudgetTable, CheckPaper, LineRow, PointRow, SensorRow
from reports.papers.page import CONTENT, Sheet, flow_pdf
from reports.papers.type import late, marked, safe, say, strong, type_scale
from reports.papers.units import difference, half_width, temperature
from reports.papers.words import count, day, sentence, when

T = type_scale()

OWN_RECORD = (
    "This is the shop's own record of comparing its sensors with a reference. It is not the certificate of an accredited "
    "calibration laboratory and must not be passed on as one."
)


def check_record_pdf(paper: CheckPaper) -> bytes:
    """The record of one closed check: results, rule, conditions, and the budget of every sensor."""
    sheet = Sheet(
        shop=paper.shop,
        title=f"Calibration record, check {paper.number}",
        subject=f"{paper.method}, {count(len(paper.sensors), 'sensor')}",
        kit_code=paper.kit_code,
        kit_name=paper.kit_name,
        stage="checked",
        running=f"{paper.method}, closed {when(paper.closed_at)}",
        copy="Shop's record",
        foot=f"printed {when(paper.printed_at)}",
        head_lines=(f"Check {paper.number}", paper.method, f"closed {when(paper.closed_at)}"),
    )
    return flow_pdf(sheet, list(_story(paper)))


def _story(paper: CheckPaper) -> Iterator[Flowable]:
    yield say("Calibration record", T.title)
    yield say(
        f"check {paper.number}, {paper.method.lower()}, {count(len(paper.sensors), 'sensor')}", T.subtitle
    )
    if paper.warnings:
        yield box(
            "late", "Read this first", [say(sentence(text), T.body) for text in paper.warnings], CONTENT, T
        )
        yield Spacer(1, 8)
    yield beside([[_how(paper)], [_against(paper)]], [CONTENT * 0.5, CONTENT * 0.5])
    yield say("What was found", T.heading)
    yield _results(paper)
    yield from _conformity(paper)
    yield from _differences(paper)
    yield box("plain", "", [say(OWN_RECORD, T.body)], CONTENT, T)
    yield CondPageBreak(180)
    yield say("The arithmetic", T.heading)
    yield say(
        "Each term is one thing that could be a little wrong: its figure divided by its divisor is its standard "
        "uncertainty u; the terms add as squares; k for 95 % is taken from their effective degrees of freedom (GUM, "
        "JCGM 100:2008). Terms marked “shared” are the same for all sensors of this sitting.",
        T.body,
    )
    for sensor in paper.sensors:
        yield from _arithmetic(sensor, paper)


def _how(paper: CheckPaper) -> Flowable:
    pairs: list[tuple[str, Cell]] = [
        ("Method", say(paper.method, T.cell_bold)),
        ("Begun", say(f"{when(paper.begun_at)}, {paper.begun_by}", T.cell)),
        ("Closed", say(f"{when(paper.closed_at)}, {paper.closed_by}", T.cell)),
        ("Conditions", say("\n".join(paper.conditions) or "none written down", T.cell)),
    ]
    return facts(pairs, CONTENT * 0.5 - 16, T, caption_width=62)


def _against(paper: CheckPaper) -> Flowable:
    pairs: list[tuple[str, Cell]] = [
        ("Beside", say(paper.reference, T.cell_bold)),
        ("Traced to", say(paper.traced, T.cell)),
        ("Its figures", say("\n".join(paper.reference_facts) or "none", T.cell)),
    ]
    return facts(pairs, CONTENT * 0.5, T, caption_width=62)


def _named(sensor: SensorRow) -> Flowable:
    tag = " ".join(part for part in (sensor.tag, sensor.tag_colour) if part) or "no tag"
    return marked(f"{strong(tag)}<br/>{safe(sensor.wired)}<br/>{safe(sensor.rom)}", T.cell)


def _results(paper: CheckPaper) -> Flowable:
    """Every result with its uncertainty, before and after."""
    unit = paper.shop.unit
    rows: list[list[Cell]] = []
    for sensor in paper.sensors:
        then = (
            f"with {difference(sensor.as_found_offset_kelvin, unit)} then in force"
            if sensor.as_found_offset_kelvin is not None
            else "no offset then"
        )
        word = late(sensor.verdict) if sensor.is_replaced else strong(sensor.verdict)
        new = "none: to be replaced" if sensor.is_replaced else difference(sensor.offset_kelvin, unit)
        rows.append(
            [
                _named(sensor),
                marked(
                    f"{strong(difference(sensor.as_found_error_kelvin, unit))}<br/>{safe(sensor.conformity)}, {safe(then)}",
                    T.cell,
                ),
                marked(
                    f"{strong(difference(sensor.as_left_error_kelvin, unit))}<br/>{safe(sensor.conformity_left)}",
                    T.cell,
                ),
                marked(strong(new), T.cell),
                say(f"{half_width(sensor.expanded_kelvin, unit)}\nk = {sensor.coverage_factor:.2f}", T.cell),
                marked(f"{word}<br/>{safe(f'next check {day(sensor.due_on)}')}", T.cell),
            ]
        )
    heads = ("Sensor", "As found, off by", "As left, off by", "Offset (added)", "U (95 %)", "Verdict")
    return listing(heads, rows, [CONTENT * share for share in (0.23, 0.2, 0.15, 0.13, 0.13, 0.16)], T)


def _conformity(paper: CheckPaper) -> Iterator[Flowable]:
    """The statement of conformity: which results, which limit, which rule, and the rule's risk."""
    unit = paper.shop.unit
    yield say("Against which limit", T.heading)
    yield say(
        f"Each sensor, as found and as left, is held against {half_width(paper.limit_kelvin, unit)}. {paper.rule} "
        f"{paper.rule_risk} A sensor that by itself is off by more than {half_width(paper.replace_beyond_kelvin, unit)} "
        f"is replaced, not corrected.",
        T.body,
    )
    chances = [
        f"{sensor.tag or sensor.rom[-4:]}: {_percent(sensor.probability_out)}"
        for sensor in paper.sensors
        if sensor.probability_out >= 0.00005
    ]
    rest = "" if len(chances) == len(paper.sensors) else " All others: less than 0.01 %." if chances else ""
    told = "; ".join(chances) + "." if chances else "less than 0.01 % for each of them."
    yield say(f"The chance that a sensor truly was beyond the limit as found: {told}{rest}", T.body)


def _percent(share: float) -> str:
    """ "4.1 %", "0.02 %"; next to certain it says so instead of rounding to 100."""
    percent = 100 * share
    return (
        "more than 99.9 %" if percent > 99.9 else f"{percent:.1f} %" if percent >= 1 else f"{percent:.2f} %"
    )


def _differences(paper: CheckPaper) -> Iterator[Flowable]:
    if paper.difference_kelvin is None:
        return
    yield say("Two of these sensors compared", T.heading)
    yield say(
        f"What the reference and the bath are off by is the same for all sensors of this sitting and drops out of a "
        f"difference. Between any two of them, such as return minus supply, the offsets leave "
        f"{half_width(paper.difference_kelvin, paper.shop.unit)} (95 %), before what a sensor's own step and its drift "
        f"since then add.",
        T.body,
    )
    yield Spacer(1, 6)


def _arithmetic(sensor: SensorRow, paper: CheckPaper) -> Iterator[Flowable]:
    yield CondPageBreak(150)
    tag = " ".join(part for part in (sensor.tag, sensor.tag_colour) if part) or "no tag"
    yield say(f"Sensor {tag}, {sensor.rom}", T.body_bold)
    yield say(sensor.advice, T.body)
    for point in sensor.points:
        yield KeepTogether([_point_line(point, paper), _budget(point.budget, paper)])
        for note in point.notes:
            yield say(sentence(note), T.caption)
        yield Spacer(1, 6)
    if sensor.line:
        yield _line(sensor.line, paper)
    if len(sensor.points) > 1:
        yield KeepTogether(
            [say("All points together, where it is widest", T.cell_bold), _budget(sensor.budget, paper)]
        )
    yield Spacer(1, 10)


def _point_line(point: PointRow, paper: CheckPaper) -> Flowable:
    unit = paper.shop.unit
    return say(
        f"Point {point.number}: reference {temperature(point.reference_celsius, unit)}, sensor "
        f"{temperature(point.sensor_celsius, unit)} in the mean of {count(point.readings, 'reading')}, "
        f"offset {difference(point.offset_kelvin, unit, places=4)}",
        T.cell,
    )


def _budget(budget: BudgetTable, paper: CheckPaper) -> Flowable:
    unit = paper.shop.unit
    rows: list[list[Cell]] = [
        [
            say(term.name + (", shared" if term.shared else ""), T.cell),
            say(term.kind, T.cell),
            say(difference(term.stated_kelvin, unit, places=4).lstrip("+"), T.figure),
            say(f"{term.divisor:.4g}", T.figure),
            say(difference(term.standard_uncertainty_kelvin, unit, places=4).lstrip("+"), T.figure),
            say(_freedom(term.degrees_of_freedom), T.figure),
            say(f"{term.share_percent:.1f} %", T.figure),
        ]
        for term in budget.terms
    ]
    rows.append(
        [
            say("Together: u, and U for 95 %", T.cell_bold),
            "",
            say(f"U {half_width(budget.expanded_kelvin, unit, places=3)}", T.figure),
            say(f"k {budget.coverage_factor:.3f}", T.figure),
            say(difference(budget.standard_uncertainty_kelvin, unit, places=4).lstrip("+"), T.figure),
            say(_freedom(budget.degrees_of_freedom), T.figure),
            "",
        ]
    )
    heads = ("Term", "Type", "Figure", "Divisor", "u", "Degrees of freedom", "Share")
    widths = [CONTENT * share for share in (0.33, 0.06, 0.15, 0.1, 0.14, 0.13, 0.09)]
    return listing(heads, rows, widths, T, right=(2, 3, 4, 5, 6))


def _freedom(freedom: float | None) -> str:
    return "∞" if freedom is None else f"{freedom:.0f}"


def _line(line: LineRow, paper: CheckPaper) -> Flowable:
    unit = paper.shop.unit
    about = temperature(line.zero_celsius, unit)
    return KeepTogether(
        [
            say("A straight line over temperature", T.cell_bold),
            say(
                f"Offset at {about}: {difference(line.intercept_kelvin, unit, places=4)}, u "
                f"{difference(line.intercept_uncertainty_kelvin, unit, places=4).lstrip('+')}. Slope "
                f"{line.slope_kelvin_per_kelvin:+.5f} for each degree, u {line.slope_uncertainty_kelvin_per_kelvin:.5f}. "
                f"Correlation r of the two {round(line.correlation, 3) + 0.0:.3f}; scatter of the points "
                f"{difference(line.scatter_kelvin, unit, places=4).lstrip('+')} with {line.degrees_of_freedom:.0f} degrees "
                f"of freedom.",
                T.cell,
            ),
            Spacer(1, 6),
        ]
    )
