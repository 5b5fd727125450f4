"""Where the error of a check sits, and what still uncut would bring it in. All in mm; builds are invented."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitsolve.findings.checks import check_values, worst_of
from fitsolve.findings.grounds import check_grounds
from fitsolve.findings.takeup import part_shares, take_up, whence
from fitsolve.report.groundwords import grounds_json
from fitsolve.report.terminal import sizes_blocks
from fitsolve.report.wherewords import check_texts, parts_text
from tests.cli_folder import run
from tests.test_cli_showing import SCHEMA, faults
from tests.test_frame_checks import CLOSED, COPIES, ON_PLATE, UPSIDE_DOWN
from tests.test_frame_square import POSTS, SQUARE, A, B, hypot, read_diagonals, read_sides
from tests.test_hand_cases import found, near

GATE = """
[part.bar]
copies = ["low", "high"]
x = "l.end 800 (give 1) r.end"
[check]
alike = "bar.low.l.end..r.end = bar.high.l.end..r.end, within 0.5"
"""


def told(result, number=0):
    worst = worst_of(check_values(result.solved, result.assembly.checks[number]))
    return whence(result.solved, worst), take_up(result.solved, result.assembly.checks[number], worst), check_texts(result, number)


def legs(plan, sentence, **longer):
    rows = [f"reading leg.{leg}.foot leg.{leg}.head {700 + longer.get(leg, 0.0):.6f} fine" for leg in COPIES]
    return found(plan + sentence, *rows, *CLOSED)


def test_what_departs_adds_up_to_the_value():
    result = legs(ON_PLATE, "wind = 'leg.*.head, within 1'", fl=0.3, fr=1.9, rl=0.1, rr=0.2)
    where, cure, _ = told(result)
    value = result.checks[0].value_mm
    assert sum(one.adds_mm for one in where.departures) == near(value)
    assert (where.planned_mm, where.chosen_mm) == (near(0.0), near(0.0))
    by_row = {one.number: one.adds_mm for one in where.departures if one.kind == "reading"}
    assert {row: abs(adds) for row, adds in by_row.items()} == {1: near(0.3), 2: near(1.9), 3: near(0.1), 4: near(0.2)}
    assert cure is None


def test_each_part_has_its_share_of_a_rock():
    # Upside down: fr 1.5 and rl 0.2 too long add up, fl 0.1 too long takes off.
    result = legs(UPSIDE_DOWN, "rock = 'leg.*.foot, within 1'", fl=0.1, fr=1.5, rl=0.2)
    where, _, _ = told(result)
    assert part_shares(result.solved, where) == {"leg.fr": near(1.5), "leg.rl": near(0.2), "leg.fl": near(-0.1)}
    assert parts_text(result, 0) == "by part: leg.fr 1.50, leg.rl 0.20, leg.fl -0.10 mm"


lengths = st.tuples(*[st.integers(-20, 20).map(lambda tenths: tenths / 10)] * 4)


@settings(max_examples=8)
@given(lengths)
def test_whatever_the_legs_are_the_shares_sum_to_the_value(longer):
    sentences = "wind = 'leg.*.foot, within 0.1'\nlevel = 'plate.over@l + plate.over@r, within 0.1'\nrock = 'leg.*.foot, within 0.1'"
    result = legs(UPSIDE_DOWN, sentences, **dict(zip(COPIES, longer, strict=True)))
    for number, check in enumerate(result.checks):
        where, _, _ = told(result, number)
        assert sum(one.adds_mm for one in where.departures) + where.chosen_mm + where.planned_mm == near(check.value_mm)
        assert where.chosen_mm == near(0.0)


def test_the_part_still_uncut_takes_it_up_by_as_much():
    # The low bar came out 2 long; the high one is not cut, and the same 2 more would make them alike.
    result = found(GATE, "reading bar.low.l.end bar.low.r.end 802 fine")
    worst = result.checks[0]
    _, cure, texts = told(result)
    assert worst.value_mm == near(2.0)
    ((number, change),) = cure.sizes
    assert result.assembly.distances[number].part == "bar.high"
    assert change == pytest.approx(worst.value_mm, abs=1e-3)
    assert cure.then_mm == pytest.approx(0.0, abs=1e-3)
    assert any("bar.high l.end..r.end" in text and "would take it up" in text for text in texts)


def test_what_is_all_made_says_so():
    result = found(GATE, "reading bar.low.l.end bar.low.r.end 802 fine", "reading bar.high.l.end bar.high.r.end 800 fine")
    _, cure, texts = told(result)
    assert cure is None
    assert texts == [
        "bar.low l.end..r.end is the longer, not bar.high l.end..r.end",
        "from bar.low l.end..r.end (#1) 2",
        "nothing still uncut can take it up",
    ]


def test_a_hold_keeps_an_uncut_part_from_taking_it_up():
    held = GATE.replace('"l.end 800 (give 1) r.end"', '"l.end 800 (hold) r.end"')
    _, cure, _ = told(found(held, "reading bar.low.l.end bar.low.r.end 802 fine"))
    assert cure is None


def test_limits_let_it_take_up_no_more_than_they_leave():
    limited = GATE.replace('"l.end 800 (give 1) r.end"', '"l.end 800 (799 to 801.5) r.end"')
    _, cure, _ = told(found(limited, "reading bar.low.l.end bar.low.r.end 803 fine"))
    assert cure.then_mm == pytest.approx(1.5, abs=1e-3)


def test_what_is_said_of_wind_level_and_rock():
    wind = check_texts(legs(ON_PLATE, "wind = 'leg.*.head, within 1'", fl=1.9), 0)
    assert wind == [
        "leg.fl.head and leg.rr.head stand higher than leg.fr.head and leg.rl.head",
        "from leg.fl foot..head (#1) 1.9",
        "nothing still uncut can take it up. Plane 1.9 off leg.fl.head or leg.rr.head (or half of it off each)",
    ]
    level = check_texts(legs(ON_PLATE, "level = 'leg.*.head, within 1'", fr=1.9), 0)
    assert level[0].startswith("leg.fr.head is the highest, leg.")
    assert "Plane 1.9 off leg.fr.head, or shim what is low" in level[2]
    rock = check_texts(legs(UPSIDE_DOWN, "rock = 'leg.*.foot, within 1'", fr=1.5), 0)
    assert rock[0] in (
        "on a flat floor it stands on leg.fr.foot and leg.rl.foot, and on leg.fl.foot or leg.rr.foot: the other stands off",
        "on a flat floor it stands on leg.fr.foot and leg.rl.foot, and on leg.rr.foot or leg.fl.foot: the other stands off",
    )
    assert rock[1] == "from leg.fr foot..head (#2) 1.5"
    assert rock[2] == "nothing still uncut can take it up. Pare 1.5 off leg.fr.foot or leg.rl.foot, or shim 1.5 under what stands off"


def test_rack_says_which_diagonal_and_taper_which_side():
    result = found(POSTS + SQUARE, *read_sides(A + 3, A, B, B), *read_diagonals(hypot(A, B) + 4, hypot(A, B)))
    rack, taper = check_texts(result, 0), check_texts(result, 1)
    assert rack[0] == "post.fl to post.rr is the longer diagonal"
    assert "Pull the longer diagonal in before its joints are closed" in rack[2]
    assert taper[0] == "post.fl.outer@head..post.fr.outer@head is the longer, not post.rl.outer@head..post.rr.outer@head"


def test_sizes_say_it_of_what_is_beyond_with_the_caution():
    result = legs(UPSIDE_DOWN, "rock = 'leg.*.foot, within 0.5'", fr=1.5)
    (frame,) = [block for block in sizes_blocks(result) if block.tag == "FRAME"]
    texts = [line.text for line in frame.lines if hasattr(line, "text")]
    assert any(text.startswith("rock: on a flat floor it stands on leg.fr.foot and leg.rl.foot") for text in texts)
    assert any("lift it with help, prop it" in text and "local codes" in text for text in texts)


def test_grounds_for_other_programs_hold_where_and_what_would_take_it_up():
    result = found(GATE, "reading bar.low.l.end bar.low.r.end 802 fine", "reading bar.high.l.end bar.high.r.end 800 fine")
    answer = json.loads(grounds_json(result, "alike", check_grounds(result.solved, 0)))
    assert answer["bring_in"] is None
    assert [(one["kind"], one["number"], one["adds_mm"]) for one in answer["where"]] == [("reading", 1, near(2.0))]


def three_of_four(sentence, *more):
    """Legs fr, rl, rr 0.4, 2.0 and 0.2 too long on the plate; fl is not cut."""
    plan = ON_PLATE.replace('z = "foot 700 head"', 'z = "foot 700 (give 1) head"')
    rows = [f"reading leg.{leg}.foot leg.{leg}.head {700 + mm} fine" for leg, mm in (("fr", 0.4), ("rl", 2.0), ("rr", 0.2))]
    return found(plan + sentence, *rows, *more, "made plate - - -", *[f"close stand_leg.{leg}_plate - - -" for leg in COPIES[1:]])


def test_the_fourth_leg_could_take_up_the_wind():
    # a - 0.4 - 2.0 + 0.2 = 0 at a = 2.2: by its size, not by standing off the plate
    _, cure, texts = told(three_of_four("wind = 'leg.*.head, within 1'"))
    assert [change for _, change in cure.sizes] == [pytest.approx(2.2, abs=1e-2)]
    assert cure.joints == ()
    assert texts[2] == "leg.fl foot..head 2.2 more would take it up"


def test_a_rough_leg_can_take_up_no_more_than_its_wood():
    # 2.2 more are wanted and it is 701 long: 1.0 at the most, and it would stay 1.2.
    result = three_of_four("wind = 'leg.*.head, within 0.2'", "rough leg.fl.foot leg.fl.head 701 fine")
    _, cure, texts = told(result)
    assert result.checks[0].value_mm == pytest.approx(-2.2, abs=1e-6)
    assert [change for _, change in cure.sizes] == [pytest.approx(1.0, abs=1e-2)]
    assert texts[2].endswith("more would bring it down to 1.2")


def test_the_fourth_leg_can_not_make_the_three_others_level():
    # Whatever it is cut to, rl stays 1.8 above rr.
    _, cure, texts = told(three_of_four("level = 'leg.*.head, within 1'"))
    assert cure.then_mm == near(1.8)
    assert texts[2].endswith("would bring it down to 1.8")


def test_large_pieces_say_the_same(monkeypatch):
    from fitsolve.solve import pieces

    dense = told(three_of_four("wind = 'leg.*.head, within 1'"))
    monkeypatch.setattr(pieces, "DENSE_MARKS", 0)
    sparse = told(three_of_four("wind = 'leg.*.head, within 1'"))
    assert sparse[2] == dense[2]
    assert [one.adds_mm for one in sparse[0].departures] == [near(one.adds_mm) for one in dense[0].departures]


@pytest.fixture
def stand(tmp_path):
    shutil.copytree(Path(__file__).parents[1] / "examples" / "press-stand", tmp_path / "stand")
    return tmp_path / "stand"


def test_grounds_tell_one_check_or_all_of_a_key(stand):
    one = run("grounds", "rock", at=stand)
    assert one.exit_code == 0
    assert "chance: beyond 1.00" in one.stdout
    assert "By part: leg.fr 0.066" in one.stdout
    every = run("grounds", "plumb", at=stand).stdout
    assert all(f"plumb leg.{leg}" in every for leg in COPIES)
    told = json.loads(run("grounds", "square", "rack", "--json", at=stand).stdout)
    assert list(faults(told, SCHEMA["$defs"]["grounds"])) == []
    assert told["parts"][0]["part"] is None  # the diagonals, from part to part


def test_sizes_for_other_programs_name_what_is_missing(stand):
    shutil.copy(stand / "log-ends.csv", stand / "log.csv")
    told = json.loads(run("sizes", "--json", at=stand).stdout)
    assert list(faults(told, SCHEMA)) == []
    rack = next(check for check in told["checks"] if check["name"] == "square rack")
    assert rack["missing"] == [
        {"event": "diagonal", "from": f"leg.{a}.outer/face@head", "to": f"leg.{b}.outer/face@head"}
        for a, b in (("fl", "rr"), ("fr", "rl"))
    ]
    typed = run("diagonal", "leg.fl", "outer/face@head", "leg.rr", "outer/face@head", "51.94", "--tool", "rod", at=stand)
    assert typed.exit_code == 0


VISE = """
[part.post]
z = ["foot 540 screw.z", "foot 750 head"]
[part.chop]
z = ["low 560 top", "screw.z 40 pin 30 top"]
[check]
vise = "chop.screw.z flush with post.screw.z, within 1"
"""


def whole_of(cure):
    shared = cure.portions
    return sum(one.adds_mm for one in shared.sizes) + sum(mm for _, mm in shared.joints) + shared.set_mm


def test_every_size_that_takes_it_up_is_named_and_they_add_up():
    # By hand: 70 + (560 - 70) - 540 = 20 too high. Four sizes of one give each take a quarter.
    result = found(VISE, "reading post.foot chop.low 70 fine")
    _, cure, texts = told(result)
    assert abs(result.checks[0].value_mm) == near(20.0)
    assert [one.adds_mm for one in cure.portions.sizes] == [pytest.approx(-result.checks[0].value_mm / 4, abs=1e-2)] * 4
    assert texts[2] == (
        "post foot..screw.z 5 more, chop low..top 5 less, chop screw.z..pin 5 more and chop pin..top 5 more would take it up"
    )


@settings(max_examples=5)
@given(st.integers(-300, 300).filter(lambda tenths: abs(tenths) > 11), st.sampled_from([1, 3, 7]))
def test_whatever_the_gives_the_portions_come_to_what_the_value_changes_by(tenths, give):
    plan = VISE.replace("screw.z 40 pin", f"screw.z 40 (give {give}) pin")
    result = found(plan, f"reading post.foot chop.low {50 + tenths / 10} fine")
    worst = worst_of(check_values(result.solved, result.assembly.checks[0]))
    _, cure, _ = told(result)
    assert abs(worst.value_mm + whole_of(cure)) == pytest.approx(cure.then_mm, abs=0.02)
    assert len(cure.portions.sizes) >= 3


PLAYING = """
loose = ["0", "2", "6"]
[part.post]
copies = { l = "as drawn", r = "left for right" }
x = "outer 90 (89 to 91) inner"
[part.rail]
x = "l.a 94 l.b 516 r.b 94 r.a"
[joint.dado]
each = '''
e
l
r
'''
meet = "post.{e}.outer/inner in rail.{e}.a/{e}.b, loose"
[check]
apart = "post.l.inner..post.r.inner = 520, within 0.5"
"""


def test_the_play_of_open_joints_has_its_portion():
    # Fits aim at 2, so posts grow to their most, 91, and stand 3 / 2 off each wall: 521 + 3, 4 too far apart.
    # The joints give 1.5 each, and 1 is left over.
    rows = ("reading rail.l.a rail.l.b 94 fine", "reading rail.l.b rail.r.b 521 fine", "reading rail.r.b rail.r.a 94 fine")
    result = found(PLAYING, *rows)
    worst = worst_of(check_values(result.solved, result.assembly.checks[0]))
    _, cure, texts = told(result)
    assert worst.value_mm == near(4.0)
    assert cure.then_mm == pytest.approx(1.0, abs=0.02)
    assert whole_of(cure) == pytest.approx(-3.0, abs=0.02)
    assert [mm for _, mm in cure.portions.joints] == [pytest.approx(-1.5, abs=0.02)] * 2
    assert "the play of dado" in texts[2]


@settings(max_examples=5)
@given(st.integers(-3000, 3000).filter(lambda tenths: abs(tenths) > 1))
def test_where_parts_that_nothing_ties_are_drawn_is_no_reason_of_anything(tenths):
    # By the plan's sizes chop.low would have to be 540 - 490 = 50 above the foot.
    result = found(VISE, f"reading post.foot chop.low {abs(50 + tenths / 10):.1f} fine")
    off = abs(50 + tenths / 10) - 50
    where, _, texts = told(result)
    assert [one.adds_mm for one in where.departures] == ([near(-off)] if abs(off) > 1e-9 else [])
    assert (where.planned_mm, where.chosen_mm) == (near(0.0), near(0.0))
    assert "takes" not in "".join(texts)
    assert "the plan itself" not in "".join(texts)


LOOSE = """
[part.beam]
copies = ["low", "high"]
x = "l 800 r"
[part.block]
x = "one 100 other"
[check]
even = "beam.low.l..beam.high.l = beam.low.r..beam.high.r, within 0.5"
lined = "beam.low.l flush with beam.high.l, within 0.5"
"""


def test_of_several_readings_that_nothing_ties_each_has_its_part():
    # 30 + 100 - 29.6 = 100.4 apart, where the plan has nothing: both readings may be why.
    result = found(LOOSE, "reading beam.low.l block.one 30 fine", "reading beam.high.l block.other 29.6 fine")
    (value,) = check_values(result.solved, result.assembly.checks[1])
    where = whence(result.solved, value)
    assert abs(value.value_mm) == near(100.4)
    assert (where.planned_mm, where.chosen_mm) == (near(0.0), near(0.0))
    assert [one.adds_mm for one in where.departures] == [near(value.value_mm / 2)] * 2


def test_a_difference_of_two_readings_that_nothing_ties_is_shared_by_them():
    result = found(LOOSE, "reading beam.low.l beam.high.l 40 fine", "reading beam.low.r beam.high.r 43 fine")
    worst = worst_of(check_values(result.solved, result.assembly.checks[0]))
    where = whence(result.solved, worst)
    assert sum(one.adds_mm for one in where.departures) == near(worst.value_mm)
    readings = [one.adds_mm for one in where.departures if one.kind == "reading"]
    assert [abs(adds) for adds in readings] == [near(abs(worst.value_mm) / 2)] * 2


ENDS = """
[part.leg]
copies = { fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }
x = "outer 80 inner"
y = ["face 80 back", "face 20 cheek-a 40 cheek-b 20 back"]
[part.rail]
copies = ["front", "rear"]
x = "l.shoulder 1000 r.shoulder"
y = "show 39.8 back"
[joint.long]
each = '''
rail   e  leg
front  l  fl
front  r  fr
rear   l  rl
rear   r  rr
'''
meet = ["rail.{rail}.{e}.shoulder against leg.{leg}.inner, shoulder",
        "rail.{rail}.show/back in leg.{leg}.cheek-a/cheek-b, wide"]
[check]
parallel = "leg.fl.inner..leg.fr.inner = leg.rl.inner..leg.rr.inner, within 0.5"
"""
UPPER = ENDS.replace('["front", "rear"]', '["front", "rear", "upper"]').replace("rear   l", "upper  l  fl\nupper  r  fr\nrear   l")
LEGS_MADE = [f"reading leg.{leg}.outer leg.{leg}.inner 80 fine" for leg in COPIES]


def rails(**longs):
    return [f"reading rail.{rail}.l.shoulder rail.{rail}.r.shoulder {long} fine" for rail, long in longs.items()]


def test_frames_that_only_stand_are_to_be_moved_and_read_again():
    across = "reading leg.fl.inner leg.fr.inner 1003 fine", "reading leg.rl.inner leg.rr.inner 999 fine"
    result = found(ENDS, *LEGS_MADE, *rails(front=1000, rear=1000), *across)
    assert told(result)[2][-1] == (
        "nothing still uncut can take it up. "
        "But no closed joint ties leg.fl and leg.fr: move them, say fitsolve apart, and read across again"
    )


def test_of_joints_that_are_closed_nothing_is_to_be_moved_or_pared():
    joints = [f"close long_rail.{rail}_leg.{leg} - - -" for rail, leg in
              (("front", "fl"), ("front", "fr"), ("rear", "rl"), ("rear", "rr"))]  # fmt: skip
    result = found(ENDS, *LEGS_MADE, *rails(front=1003, rear=999.5), *joints)
    assert told(result)[2][-1] == "nothing still uncut can take it up"


@pytest.mark.parametrize(("front", "rear", "long"), [(1003, 999.5, "front"), (999.5, 1003, "rear")])
def test_a_made_shoulder_can_be_pared_by_what_is_too_much(front, rear, long):
    result = found(ENDS, *LEGS_MADE, *rails(front=front, rear=rear))
    assert result.checks[0].verdict == "beyond"
    assert told(result)[2][-1] == (
        f"nothing still uncut can take it up. Pare 3.5 off rail.{long}.l.shoulder or rail.{long}.r.shoulder"
    )
    then = found(ENDS, *LEGS_MADE, *rails(front=min(front, rear), rear=min(front, rear)))
    assert then.checks[0].value_mm == near(0.0)


def test_what_stands_beside_it_has_to_be_pared_with_it():
    # Two rails hold the same legs off, both 3 too long.
    result = found(UPPER, *LEGS_MADE, *rails(front=1003, upper=1003, rear=1000))
    assert told(result)[2][-1] == (
        "nothing still uncut can take it up. Pare 3 off rail.front.l.shoulder and rail.upper.l.shoulder "
        "or rail.front.r.shoulder and rail.upper.r.shoulder"
    )


def test_nor_is_it_pared_where_what_stands_beside_it_is_closed():
    shut = ["close long_rail.upper_leg.fl - - -", "close long_rail.upper_leg.fr - - -"]
    result = found(UPPER, *LEGS_MADE, *rails(front=1003, upper=1003, rear=1000), *shut)
    assert told(result)[2][-1] == "nothing still uncut can take it up"
