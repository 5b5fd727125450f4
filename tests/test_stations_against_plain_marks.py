"""What is read at a station and does not go with the plain marks is not passed over."""

from __future__ import annotations

import json
import math

import pytest
from cli_folder import folder_of, run

PLAN = """
unit = "mm"
finest = 0.5
workmanship = 0.3
give = 1
[tool.rod]
good_to = 0.4
[part.stile]
copies = {{ l = "as drawn", r = "left for right" }}
x = "outer 50 inner"
z = "foot 1800 head"
[part.door]
x = "hinge 696 meet"
[joint.door]
meet = ["door.hinge short of stile.l.inner by 1.5 to 2.5, stile.l.inner below",
        "door.meet short of stile.r.inner by 1.5 to 2.5, stile.r.inner above"]
{more}
"""
READ = """
reading,stile.l.outer,stile.l.inner,50,rod,
reading,stile.r.inner,stile.r.outer,50,rod,
reading,stile.l.inner,stile.r.inner,700,rod,
reading,stile.l.inner,stile.r.inner,700,rod,
"""
FOOT = "reading,stile.l.inner@foot,stile.r.inner@foot,{},rod,\n"


def folder(at, *foot, more=""):
    return folder_of(at / "b", PLAN.format(more=more), READ + "".join(FOOT.format(one) for one in foot))


def told(at):
    return " ".join(run("sizes", at=at).stdout.split())


class TestOnceRead:
    """By hand: 700 read twice, u 0.2 / sqrt 2; at the foot u 0.2, and 0.15 for each station: 3.2905 sqrt(0.02 + 0.04
    + 2 * 0.0225) = 1.0663."""

    LIMIT = 3.2905 * math.sqrt(0.02 + 0.04 + 2 * 0.0225)

    def test_both_are_named_and_the_door_waits(self, tmp_path):
        at = folder(tmp_path, "702")
        said = told(at)
        assert "SHAPE #5 stile.l.inner@foot..stile.r.inner@foot, 702 by rod: 2.00 mm more than goes with " in said
        assert "stile.l.inner..stile.r.inner, which is 700, ± 0.29, by what else is read." in said
        assert "door door stile.l and door door stile.r are judged at the plain marks" in said
        assert "WAIT door: read #5 again first, see SHAPE" in said
        assert "CUT NOW door" not in said
        assert run("made", "door", at=at).exit_code == 2
        assert "read #5 again; what it does not go with" in run(at=at).stdout
        (shape,) = json.loads(run("sizes", "--json", at=at).stdout)["shape"]
        assert shape["off_mm"] == pytest.approx(2.0)
        assert shape["moves"] == ["door"]

    @pytest.mark.parametrize(("off", "told_of"), [(LIMIT - 0.01, False), (LIMIT + 0.01, True), (-LIMIT - 0.01, True)])
    def test_only_what_is_more_than_wood_and_cuts_come_out(self, tmp_path, off, told_of):
        assert ("SHAPE" in told(folder(tmp_path, f"{700 + off:.4f}"))) is told_of


def test_read_twice_alike_it_is_the_shape_of_the_wood(tmp_path):
    said = told(folder(tmp_path, "702", "702.1"))
    assert said.count("SHAPE") == 1
    assert "It was read twice alike: the wood is bent or leans there." in said
    assert "WAIT door" not in said


def test_read_again_and_otherwise_it_still_waits(tmp_path):
    said = told(folder(tmp_path, "702", "700"))
    assert "STOP #5" in said
    assert "swapped" not in said
    assert "WAIT door" in said


def test_where_nothing_rests_on_the_plain_marks_the_checks_tell_it(tmp_path):
    at = folder(tmp_path, "702", more='[check]\nsame = "stile.l.inner@foot..stile.r.inner@foot = 700, within 0.5"')
    for row in ("made,door,,,,\n", "close,door door stile.l,,,,glued\n", "close,door door stile.r,,,,glued\n"):
        number = len((at / "log.csv").read_text().splitlines())
        with (at / "log.csv").open("a") as log:
            log.write(f"{number},2025-11-25T15:00:00+00:00,{row}")
    said = told(at)
    assert "SHAPE" not in said
    assert "1 beyond" in said
