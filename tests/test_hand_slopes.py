"""Slopes worked by hand: specs/hand_cases.md, 9. All lengths in mm; all builds are invented."""

from __future__ import annotations

import json
from math import hypot, sqrt

import pytest

from fitsolve.report.fitwords import joint_lines
from fitsolve.report.machine import sizes_json
from tests.test_hand_cases import SLIP_AIM, SLIP_BAND, U_CUT, U_FINE, U_ROD, found, near, size

TAIL = """
[part.rail]
copies = {{ l = "as drawn", r = "left for right" }}
x = "end 90 shoulder 500 middle"
z = [{z}]
slopes = "lower@shoulder..lower@end {slope}"
"""
PLACED = '"lower 60 upper"'
ON_RUNS = '"lower@shoulder 60 (give 1) upper", "lower@end 75 (give {give}) upper"'


@pytest.mark.parametrize("copy", ["l", "r"])
@pytest.mark.parametrize(("slope", "s"), [("1:6 down", 1 / 6), ("1:8 down", 1 / 8), ("45° down", 1.0)])
def test_the_end_of_a_tail_follows_from_its_shoulder_and_its_length(copy, slope, s):
    result = found(
        TAIL.format(z=PLACED, slope=slope),
        f"reading rail.{copy}.lower@shoulder rail.{copy}.upper 60.4 fine",
        f"reading rail.{copy}.end rail.{copy}.shoulder 93 stick",
    )
    end = result.between(f"rail.{copy}.lower@end", f"rail.{copy}.upper")
    assert end.distance_mm == near(60.4 + s * 93)
    assert end.expanded_mm == near(2 * sqrt(U_FINE**2 + (s * U_ROD) ** 2 + U_CUT**2))


def test_readings_outrank_the_slope():
    result = found(
        TAIL.format(z=PLACED, slope="1:6 down"),
        "reading rail.l.lower@shoulder rail.l.upper 60.4 fine",
        "reading rail.l.lower@end rail.l.upper 77.7 fine",
        "reading rail.l.end rail.l.shoulder 93 stick",
    )
    assert result.between("rail.l.lower@end", "rail.l.upper").distance_mm == near(77.7)
    assert result.between("rail.l.lower@shoulder", "rail.l.upper").distance_mm == near(60.4)
    assert result.between("rail.l.end", "rail.l.shoulder").distance_mm == near(93)


@pytest.mark.parametrize("copy", ["l", "r"])
def test_a_tail_still_to_be_cut_moves_its_end_with_its_length(copy):
    result = found(
        TAIL.format(z=PLACED.replace("60", "60 (give 1)"), slope="1:6 down"),
        f"reading rail.{copy}.end rail.{copy}.shoulder 93 fine",
    )
    end = result.between(f"rail.{copy}.lower@end", f"rail.{copy}.upper")
    assert result.between(f"rail.{copy}.lower@shoulder", f"rail.{copy}.upper").distance_mm == near(60)
    assert end.distance_mm == near(60 + 93 / 6)


@pytest.mark.parametrize("give", [0.25, 1.0, 3.0])
def test_both_ends_share_what_the_length_asks_when_both_stand_on_runs(give):
    result = found(
        TAIL.format(z=ON_RUNS.format(give=give), slope="1:6"), "reading rail.l.end rail.l.shoulder 93 fine"
    )
    more = 3 / 6
    shoulder = size(result, "rail.l.lower@shoulder", "rail.l.upper")
    end = size(result, "rail.l.lower@end", "rail.l.upper")
    assert shoulder.size_mm == near(60 - more * 1 / (1 + give**2))
    assert end.size_mm == near(75 + more * give**2 / (1 + give**2))
    assert end.advice_expanded_mm == near(2 * (give**2 / (1 + give**2)) / 6 * U_FINE)


LAP = """
[part.rail]
copies = {{ l = "as drawn", r = "left for right" }}
x = "end 90 shoulder 500 middle"
z = "lower 60 upper"
slopes = "lower@shoulder..lower@end 1:6 down"
[part.leg]
copies = {{ l = "as drawn", r = "left for right" }}
x = "outer 90 inner"
z = "foot 100 bottom 60 (give {give}) top"
slopes = "bottom@inner..bottom@outer 1:6 down"
[joint.tail]
each = \"\"\"
e
l
r
\"\"\"
meet = ["rail.{{e}}.shoulder against leg.{{e}}.inner, shoulder",
        "rail.{{e}}.lower@shoulder/upper in leg.{{e}}.bottom@inner/top, slip",
        "rail.{{e}}.lower@end/upper in leg.{{e}}.bottom@outer/top, slip"]
"""


@pytest.mark.parametrize("copy", ["l", "r"])
def test_a_notch_laid_out_from_the_real_tail_has_its_width_at_the_shoulder_and_at_the_end(copy):
    """The tail is read at both ends, leg and lap have one depth: both widths of the notch come of one
    line, so both clearances are alike, and lie where one dado would (case 1 with twice the gaps)."""
    give, t = 2.0, 60.4
    result = found(
        LAP.format(give=give),
        f"reading rail.{copy}.lower@shoulder rail.{copy}.upper {t} fine",
        f"reading rail.{copy}.lower@end rail.{copy}.upper {t + 15} fine",
        f"reading rail.{copy}.end rail.{copy}.shoulder 90 fine",
        f"reading leg.{copy}.outer leg.{copy}.inner 90 fine",
    )
    stiff, soft = 1 / give**2, 4 / SLIP_BAND**2
    d = (60 * stiff + (t + SLIP_AIM) * soft) / (stiff + soft)
    notch = size(result, f"leg.{copy}.bottom@inner", f"leg.{copy}.top")
    assert notch.size_mm == near(d)
    assert size(result, f"leg.{copy}.bottom@outer", f"leg.{copy}.top").size_mm == near(d + 15)
    joint = next(one for one in result.joints if f"rail.{copy}" in one.name)
    widths = [one for one in joint.contacts if one.kind == "housing"]
    assert [one.clearance_mm for one in widths] == [near(d - t), near(d - t)]
    assert widths[0].expanded_mm == near(2 * hypot(U_FINE, 0.07))


BOTH_READ = """
reading rail.{c}.lower@shoulder rail.{c}.upper {shoulder} fine
reading rail.{c}.lower@end rail.{c}.upper {end} fine
reading rail.{c}.end rail.{c}.shoulder {length} fine
reading leg.{c}.outer leg.{c}.inner 90 fine
reading leg.{c}.bottom@inner leg.{c}.top 60 fine
reading leg.{c}.bottom@outer leg.{c}.top 75 fine
"""


def read_tail(copy, width=0.0, length=90.0):
    """Tail and lap made and read; the tail `width` too wide all along, its end `length` from its shoulder."""
    rows = BOTH_READ.format(c=copy, shoulder=60 + width, end=75 + (length - 90) / 6 + width, length=length)
    result = found(LAP.format(give=2.0), *rows.strip().split("\n"))
    joint = next(one for one in result.joints if f"rail.{copy}" in one.name)
    return result, joint, [one for one in joint.contacts if one.kind == "housing"]


class TestStandOff:
    """A tail wider than its notch by w stops 6 w short of its shoulder at 1:6."""

    @pytest.mark.parametrize("copy", ["l", "r"])
    def test_a_tail_a_fifth_of_a_millimetre_wide_stands_six_times_that_off(self, copy):
        result, joint, widths = read_tail(copy, 0.2)
        slant = widths[0].slant
        assert slant.stand_off_mm == near(1.2)
        assert slant.expanded_mm == near(6 * 2 * hypot(U_FINE, U_FINE))
        assert (slant.angle, slant.axis, slant.left_mm) == ("1:6", "x", None)
        assert widths[1].slant.stand_off_mm == near(1.2)
        assert f"At 1:6 it stands 1.20 mm off leg.{copy}.inner, ± 0.85" in joint_lines(result, joint)

    def test_a_tail_that_is_narrower_does_not(self):
        result, joint, widths = read_tail("l", -0.3)
        assert widths[0].slant.stand_off_mm == 0
        assert widths[0].slant.travel_mm == near(1.8)
        assert joint_lines(result, joint) == []

    def test_it_is_in_the_json(self):
        result, _, _ = read_tail("l", 0.2)
        contacts = json.loads(sizes_json(result))["joints"][0]["contacts"]
        assert contacts[0]["slant"] is None
        assert contacts[1]["slant"]["stand_off_mm"] == near(1.2)

    @pytest.mark.parametrize("copy", ["l", "r"])
    @pytest.mark.parametrize("length", [87.0, 94.5])
    def test_a_tail_longer_than_its_lap_is_deep_is_no_wider_for_that(self, copy, length):
        """It ends past the lap, where it is wider, and where there is no lap: at the lap's own end its
        width is that of the lap less the clearance. The clearance at the end then rests on both depths."""
        _, _, widths = read_tail(copy, -0.3, length)
        assert [one.clearance_mm for one in widths] == [near(0.3), near(0.3)]
        assert widths[1].expanded_mm == near(2 * U_FINE * sqrt(2 + 2 / 36))


WEDGE = """
[part.leg]
x = "outer 90 inner"
z = "foot 300 slot.a 40 slot.b"
[part.wedge]
x = "tip 30 near 90 far 40 head"
z = "under 36 over"
slopes = "over@near..over@far 1:30 up"
[joint.key]
meet = ["wedge.under/over@far in leg.slot.a/slot.b@inner, slip, rests under",
        "wedge.head short of leg.inner by 10 to 60, wedge above"]
"""


@pytest.mark.parametrize("wide", [0.8, 0.0, -0.4])
def test_a_wedge_is_tight_sooner_or_later_and_what_is_left_of_its_travel(wide):
    """The wedge grows by 1 in 30 toward its head and is driven to the left. It is 40 - 1 high where
    the slot begins when `far` is there; the slot is `wide` wider than planned, so it goes in 30 mm for
    each millimetre, and its head, 40 mm behind, has so much less to go."""
    result = found(
        WEDGE,
        "reading wedge.under wedge.over@far 39 fine",
        f"reading leg.slot.a leg.slot.b {40 + wide} fine",
        "reading wedge.far wedge.head 40.5 fine",
    )
    (joint,) = result.joints
    slant = joint.contacts[0].slant
    assert slant.travel_mm == near(30 * (1 + wide))
    assert slant.left_mm == near(40.5 - 30 * (1 + wide))
    assert slant.stand_off_mm == 0
    assert slant.shoulder is None


@pytest.mark.parametrize(("wide", "rescue"), [(0.0, "Drive it further"), (0.8, "Glue a veneer on wedge")])
def test_a_loose_wedge_is_driven_further_while_it_has_a_way_to_go(wide, rescue):
    """Clearance 1 + wide, more than the 0.5 of the fit: 30 or 54 mm to go, of 40.5."""
    from fitsolve.report.fitwords import joint_lines

    result = found(
        WEDGE,
        "reading wedge.under wedge.over@far 39 fine",
        f"reading leg.slot.a leg.slot.b@inner {40 + wide} fine",
        "reading wedge.far wedge.head 40.5 fine",
    )
    (joint,) = result.joints
    assert joint.verdict == "loose"
    assert rescue in " ".join(str(line) for line in joint_lines(result, joint))


def test_a_slope_between_two_lines_is_laid_out_to_a_step():
    """No whole half millimetres make 93 / 6 = 15.5 less what its two ends share; each end has its own line."""
    result = found(
        TAIL.format(z=ON_RUNS.format(give=1.0), slope="1:6"), "reading rail.l.end rail.l.shoulder 93.3 fine"
    )
    laid = {one["from"]: one["layout_mm"] for one in json.loads(sizes_json(result))["distances"]}
    shoulder, end = laid["rail.l.lower@shoulder"], laid["rail.l.lower@end"]
    assert shoulder % 0.5 == 0
    assert end % 0.5 == 0
    assert abs(end - shoulder - 93.3 / 6) <= 0.5


@pytest.mark.parametrize("copy", ["l", "r"])
def test_a_leg_that_is_splayed_spreads_by_its_height(copy):
    """The leg leans out 1 in 12 toward its foot: cut 24 longer it stands 2 further out at the foot."""
    plan = """
[part.leg]
copies = { l = "as drawn", r = "left for right" }
x = "outer 60 (hold) inner"
z = "foot 600 (give 50) head"
slopes = "outer@head..outer@foot 1:12 left"
"""
    result = found(plan, f"reading leg.{copy}.foot leg.{copy}.head 624 fine")
    spread = result.between(f"leg.{copy}.outer@foot", f"leg.{copy}.outer@head")
    assert spread.distance_mm == near(52)
    assert size(result, f"leg.{copy}.outer@head", f"leg.{copy}.outer@foot").plan_mm == near(50)


@pytest.mark.parametrize("high", [100.0, 97.0])
def test_a_slanted_end_follows_the_width_of_its_board(high):
    plan = '[part.apron]\nx = "l.end 900 r.end"\nz = "low 100 top"\nslopes = "l.end@low..l.end@top 45° right"\n'
    result = found(plan, f"reading apron.low apron.top {high} fine")
    assert result.between("apron.l.end@top", "apron.r.end").distance_mm == near(900 - high)
    assert result.between("apron.l.end@low", "apron.r.end").distance_mm == near(900)


KEY = """
[part.block]
copies = {{ l = "as drawn", r = "left for right" }}
x = "face 60 back"
z = ["foot 100 low@face 40 high@face 100 head"]
slopes = ["low@face..low@back {down} down", "high@face..high@back {up} up"]
[part.key]
copies = {{ l = "as drawn", r = "left for right" }}
x = "head 40 near 60 far"
z = ["under@near 40 over@near"]
slopes = ["under@near..under@far {down} down", "over@near..over@far {up} up"]
[joint.dovetail]
each = '''
e
l
r
'''
meet = ["key.{{e}}.near against block.{{e}}.face, shoulder",
        "key.{{e}}.under@near/over@near in block.{{e}}.low@face/high@face, slip"]
"""


@pytest.mark.parametrize("e", ["l", "r"])
@pytest.mark.parametrize(("down", "up", "said"), [("1:6", "1:6", "1:6 on both sides"), ("1:6", "1:8", "1:6 and 1:8")])
def test_a_key_with_two_slanted_sides_stands_off_by_what_both_take(e, down, up, said):
    """0.2 too wide: it grows by 1/6 + 1/6 along its run, so it stands off by 0.2 / (1/3); or 0.2 / (1/6 + 1/8)."""
    result = found(
        KEY.format(down=down, up=up),
        f"reading key.{e}.under@near key.{e}.over@near 40.2 fine",
        f"reading block.{e}.low@face block.{e}.high@face 40 fine",
        f"made key.{e} - - -",
        f"made block.{e} - - -",
    )
    joint = next(one for one in result.joints if f"key.{e}" in one.name)
    slant = joint.contacts[1].slant
    run = 3.0 if up == "1:6" else 24 / 7
    assert slant.stand_off_mm == near(0.2 * run)
    assert slant.angle == said
    assert any(f"At {said} it stands" in text for text in joint_lines(result, joint))
