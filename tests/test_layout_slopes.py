"""A slanted line is laid out by its slope and by where both its ends lie. Worked by hand; builds are invented."""

from __future__ import annotations

import pytest
from test_hand_cases import found

from fitsolve.report.layout import part_layout

RAIL = """
[part.rail]
copies = { l = "as drawn", r = "left for right", under = "top for bottom" }
x = "end 90 shoulder 500 middle"
z = ["lower 60 upper", "lower@shoulder 60 (give 1) upper"]
slopes = "lower@shoulder..lower@end 1:6 down"
"""
LEG = """
[part.leg]
copies = { l = "as drawn", r = "left for right" }
x = "outer 90 inner"
z = "foot 100 notch@inner 60 top 540 head"
slopes = "notch@inner..notch@outer 1:6 down"
"""


def notes(result, part: str) -> list[str]:
    return [text for axis in part_layout(result, part).axes for text in axis.notes if text.startswith("slope")]


@pytest.mark.parametrize("copy", ["l", "r", "under"])
def test_an_end_that_lies_before_the_start_lies_the_other_way(copy):
    """A tail 90 long at 1:6 is 15 wider at its end; read 96 long, 16."""
    (drawn,) = notes(found(RAIL), f"rail.{copy}")
    assert drawn == "slope 1:6: lower@shoulder at 0, lower@end at 15 the other way (shoulder..end 90)"
    (read,) = notes(found(RAIL, f"reading rail.{copy}.end rail.{copy}.shoulder 96 fine"), f"rail.{copy}")
    assert read == "slope 1:6: lower@shoulder at 0, lower@end at 16 the other way (shoulder..end 96)"


@pytest.mark.parametrize("copy", ["l", "r"])
def test_both_ends_are_told_from_where_the_figures_run(copy):
    (drawn,) = notes(found(LEG), f"leg.{copy}")
    assert drawn == "slope 1:6: notch@inner at 100, notch@outer at 85 (inner..outer 90)"
    wide = found(LEG, f"reading leg.{copy}.outer leg.{copy}.inner 93 fine")
    assert notes(wide, f"leg.{copy}") == ["slope 1:6: notch@inner at 100, notch@outer at 84.5 (inner..outer 93)"]


def test_nothing_is_told_of_what_is_made():
    assert notes(found(LEG, "made leg.l - - -"), "leg.l") == []
