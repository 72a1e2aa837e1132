"""A curve drawn from points: where they lie, that nothing leaves the picture, what stands at the lines."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.curve import BOTTOM_PX, HEIGHT_PX, TOP_PX, Point, drawn


def curve(*points, **changes):
    return drawn(
        [Point(x=x, y=y, give_or_take=u) for x, y, u in points],
        level_text=str,
        foot_text=lambda x: f"{x:.0f}",
        **changes,
    )


def test_nothing_is_drawn_of_nothing():
    assert curve() is None


def test_later_is_further_right_and_more_is_higher_whatever_the_order_given():
    marks = curve((9, 0.4, 0.1), (1, -0.2, 0.1), (5, 0.1, 0.1)).marks
    assert [float(mark.x.rstrip("%")) for mark in marks] == sorted(
        float(mark.x.rstrip("%")) for mark in marks
    )
    heights = [float(mark.y) for mark in marks]
    assert heights == sorted(heights, reverse=True)
    assert all(float(mark.top) < float(mark.y) < float(mark.bottom) for mark in marks)


def test_zero_lies_in_the_middle_and_the_limits_alike_above_and_below():
    levels = {level.text: float(level.y) for level in curve((1, 0.3, 0.1), limit=0.5).levels}
    middle = levels["0.0"]
    assert middle == pytest.approx(TOP_PX + (HEIGHT_PX - TOP_PX - BOTTOM_PX) / 2)
    assert levels["0.5"] < middle < levels["-0.5"] and middle - levels["0.5"] == pytest.approx(
        levels["-0.5"] - middle, abs=0.11
    )


def test_lines_without_a_limit_stand_at_round_figures_of_the_unit_shown():
    drawing = curve((0, 0.03, 0.05), (50, -0.02, 0.05), shown_for_one=1.8)
    assert {round(abs(float(level.text)) * 1.8, 6) for level in drawing.levels} == {0.0, 0.1}


def test_one_point_stands_alone_in_the_middle_with_its_day_under_it():
    drawing = curve((7, 0.1, 0.1))
    assert drawing.marks[0].x == "55%" and drawing.strokes == []
    assert [(foot.text, foot.anchor) for foot in drawing.feet] == [("7", "middle")]


@given(
    st.lists(st.tuples(st.floats(-1e5, 1e5), st.floats(-50, 50), st.floats(0, 20)), min_size=1, max_size=12),
    st.none() | st.floats(0.01, 5),
)
def test_every_bar_stays_inside_the_picture(points, limit):
    drawing = curve(*points, limit=limit)
    for mark in drawing.marks:
        assert TOP_PX - 0.1 <= float(mark.top) <= float(mark.bottom) <= HEIGHT_PX - BOTTOM_PX + 0.1
        assert 0 <= float(mark.x.rstrip("%")) <= 100
