"""The type of the papers: plain words are set as they would be if marks had been looked for in them."""

import pytest
from reportlab.lib.pagesizes import LETTER
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from reports.papers.fonts import register_fonts
from reports.papers.type import marked, safe, say, type_scale

T = type_scale()


def drawn(paragraph: Paragraph, width: float) -> tuple[float, list[str]]:
    """The height of a paragraph, and what stands on each of its lines, without the blanks."""
    register_fonts()
    height = paragraph.wrap(width, 1000)[1]
    paragraph.drawOn(Canvas("nowhere.pdf", pagesize=LETTER), 0, 0)
    lines = paragraph.blPara.lines
    words = [line[1] if isinstance(line, tuple) else [word.text for word in line.words] for line in lines]
    return height, ["".join(line).replace(" ", "") for line in words]


@pytest.mark.parametrize("width", [40, 120, 500])
@pytest.mark.parametrize(
    "text",
    [
        pytest.param("Put a sensor at the supply plenum, two feet downstream of the coil.", id="plain"),
        pytest.param("  two  blanks\tand a tab ", id="blanks"),
        pytest.param("Perch & Sons <b>not bold</b> &amp; co", id="what looks like marks"),
        pytest.param("55.4\u202f°F at 9\u00a0Elm Street", id="blanks that do not break"),
        pytest.param("Donaudampfschifffahrtsgesellschaftskapitänsmütze", id="one long word"),
        pytest.param("first line\nsecond line", id="two lines"),
        pytest.param("", id="nothing"),
    ],
)
def test_words_are_set_as_if_marks_had_been_read(text: str, width: float) -> None:
    assert drawn(say(text, T.cell), width) == drawn(marked(safe(text), T.cell), width)


def test_a_paragraph_asked_for_another_width_breaks_its_lines_anew() -> None:
    words = say("Put a sensor at the supply plenum, two feet downstream of the coil.", T.cell)
    narrow, wide = words.wrap(60, 1000)[1], words.wrap(500, 1000)[1]
    assert narrow > wide > 0
    assert words.wrap(60, 1000)[1] == narrow


def test_a_paragraph_that_did_not_fit_a_page_has_its_lines_again_on_the_next() -> None:
    words = say("Put a sensor at the supply plenum, two feet downstream of the coil.", T.cell)
    height = words.wrap(60, 1000)[1]
    assert words.split(60, 1) == []  # no line of it fits, and reportlab forgets the lines
    assert words.wrap(60, 1000)[1] == height
    assert words.blPara.lines
