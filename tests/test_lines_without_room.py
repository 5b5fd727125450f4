"""A line at which a joint is at an end of its fit is nearest, and told to leave no room. Worked by hand; builds are invented."""

from __future__ import annotations

import pytest
from cli_folder import folder_of
from test_paper_has_room import found_in

from fitsolve.report.cutting import part_sizes

PLAN = """unit = "mm"
finest = 0.5
workmanship = 0.1
give = 1
fits = { slip = [0, 0.2, 0.4], sliding = [0, 0, 0.4] }
[part.post]
x = "low 60 high"
[part.rail]
x = "bottom 60 top"
[joint.tenon]
meet = "rail.bottom/top in post.low/high, %s"
"""


def said(tmp_path, width: str, fit: str = "slip") -> list[str]:
    found = found_in(folder_of(tmp_path / "b", PLAN % fit, f"reading,post.low,post.high,{width},caliper,\n"))
    (rail,) = part_sizes(found, "rail")
    return [text for axis in rail.axes for text in axis.room]


@pytest.mark.parametrize("width", ["60", "60.4"])
def test_a_line_at_an_end_of_the_fit_is_told(tmp_path, width):
    # Wanted is 0.2 of clearance; of halves only 60 keeps 0 to 0.4, and leaves 0 in a mortise of 60, all 0.4 in one of 60.4.
    assert said(tmp_path, width) == ["no room to miss at this line: top; aim at exact"]


def test_a_line_with_room_is_not(tmp_path):
    assert said(tmp_path, "60.2") == []  # 60 leaves the 0.2 that is wanted


def test_nor_one_whose_fit_wants_none(tmp_path):
    assert said(tmp_path, "60", "sliding") == []  # aim 0: the size wanted itself leaves nothing
