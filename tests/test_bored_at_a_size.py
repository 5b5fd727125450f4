"""What was bored or cut at a size of its own stays there: a tenon's peg hole, an end that a slope places."""

from __future__ import annotations

import pytest
from cli_folder import run

from fitsolve.build.folder import load_build
from fitsolve.build.logtext import HEADER
from fitsolve.reconciliation import reconcile

PLAN = """
unit = "mm"
workmanship = 0.3
give = 1
[part.post]
copies = { l = "as drawn", r = "left for right" }
x = "outer 60 inner"
z = ["foot 700 head", "foot 300 low 80 up"]
holes = { pin = ["18 from inner", "340 from foot"] }
[part.rail]
x = "l.end 42 l.shoulder 700 r.shoulder 42 r.end"
z = "low 80 up"
[joint.tenon]
each = '''
e
l
r
'''
meet = ["rail.{e}.shoulder against post.{e}.inner, tight-up", "rail.low/up in post.{e}.low/up, slip",
        "peg post.{e}.pin 10, draw 1.5"]
"""


@pytest.fixture
def build(tmp_path):
    (tmp_path / "plan.toml").write_text(PLAN)
    (tmp_path / "log.csv").write_text(f"{HEADER}\n")
    for words in (("made", "post.l"), ("read", "post.l", "inner", "pin.x", "18.9", "--tool", "caliper")):
        assert run(*words, at=tmp_path).exit_code == 0
    return tmp_path


def test_a_part_that_is_made_is_not_bored(build):
    assert run("made", "rail", at=build).exit_code == 0
    assert "pin" not in "".join(line for line in (build / "log.csv").read_text().splitlines() if "rail" in line)
    assert [peg.bored for peg in reconcile(load_build(build)).pegs] == [False, False]


def test_bored_at_a_size_it_stays_there(build):
    """By hand: bored 758.5 from an end with the shoulder at 742 is 16.5 from it; a mortise's hole read at 19.5
    then draws 3.0, whatever the plan would have drawn."""
    for words in (("made", "rail", "r.shoulder", "742"), ("made", "rail", "r.pin", "758.5"),
                  ("read", "post.r", "inner", "pin.x", "19.5", "--tool", "caliper")):  # fmt: skip
        assert run(*words, at=build).exit_code == 0
    found = reconcile(load_build(build))
    _, right = found.pegs
    assert right.bored
    assert right.offset[0] == pytest.approx(3.0, abs=1e-9)
    assert found.between("rail.r.shoulder", "rail.r.pin").distance_mm == pytest.approx(16.5, abs=1e-9)


def test_an_end_of_a_slope_cut_at_a_size_is_there_and_not_where_the_slope_leads(tmp_path):
    """By hand: 60 at 1:6 leads to 10; it was cut at 14 from the square end."""
    (tmp_path / "plan.toml").write_text(
        'unit = "mm"\nworkmanship = 0.3\n[part.brace]\nx = "l.end 300 r.end"\nz = "low 60 top"\n'
        'slopes = "l.end@low..l.end@top 1:6 right"\n'
    )
    (tmp_path / "log.csv").write_text(f"{HEADER}\n")
    assert run("made", "brace", at=tmp_path).exit_code == 0
    assert reconcile(load_build(tmp_path)).between("brace.l.end", "brace.l.end@top").distance_mm == pytest.approx(10)
    assert run("made", "brace", "l.end@top", "14", "--sure", at=tmp_path).exit_code == 0
    found = reconcile(load_build(tmp_path))
    assert found.between("brace.l.end", "brace.l.end@top").distance_mm == pytest.approx(14)
    assert found.between("brace.l.end", "brace.l.end@top").expanded_mm == pytest.approx(0.3)
    assert found.between("brace.l.end", "brace.r.end").distance_mm == pytest.approx(300)


def offset_of_the_right_peg(build):
    return reconcile(load_build(build)).pegs[1].offset[0]


def test_bored_as_planned_it_stays_there_when_the_mortise_is_read_later(build):
    """By hand: planned 16.5 from the shoulder, 18 less the draw of 1.5; a mortise's hole at 19.5 then draws 3.0."""
    assert run("made", "rail", "r.shoulder", "742", at=build).exit_code == 0
    bored = run("made", "rail", "r.pin", at=build)
    assert bored.output.splitlines()[0].endswith(
        "made rail r.pin at 16.5 mm from r.shoulder, as planned; post.r.pin.x was not read"
    )
    assert offset_of_the_right_peg(build) == pytest.approx(1.5, abs=1e-9)
    run("read", "post.r", "inner", "pin.x", "19.5", "--tool", "caliper", at=build)
    assert offset_of_the_right_peg(build) == pytest.approx(3.0, abs=1e-9)


def test_pricked_through_it_lies_where_the_mortise_is(build):
    pricked = run("made", "rail", "r.pin", "--from", "post.r", at=build)
    assert pricked.output.splitlines()[0].endswith(
        "made rail.r.pin, pricked through post.r.pin.x, 1.5 mm nearer to the shoulder"
    )
    run("read", "post.r", "inner", "pin.x", "19.5", "--tool", "caliper", at=build)
    assert offset_of_the_right_peg(build) == pytest.approx(1.5, abs=1e-9)
    again = run("made", "rail", "r.pin", "--from", "post.r", at=build)
    assert again.exit_code == 2
    assert "rail.r.pin is bored already" in again.output
    sized = run("made", "rail", "l.pin", "17", "--from", "post.l", at=build)
    assert sized.exit_code == 2
    assert "a hole that is pricked through has no size" in sized.output


def test_a_pegged_joint_is_bored_at_what_was_advised(build):
    """By hand: the left mortise's hole is read at 18.9, so the tenon's is due 17.4 from its shoulder, 24.6 from the
    end it is laid out from; the line next to that is 24.5, which is 17.5 from the shoulder."""
    closed = run("close", "tenon", "post.l", "--pegged", at=build)
    assert closed.exit_code == 0
    assert "rail l.pin at " in closed.output
    found = reconcile(load_build(build))
    assert [peg.bored for peg in found.pegs] == [True, False]
    assert abs(found.between("rail.l.shoulder", "rail.l.pin").distance_mm) == pytest.approx(17.5, abs=1e-9)
    assert "made,rail.r.pin," not in (build / "log.csv").read_text()
    dry = run("close", "tenon", "post.r", "--dry", at=build)
    assert dry.exit_code == 0
    assert [peg.bored for peg in reconcile(load_build(build)).pegs] == [True, False]


def test_a_pegged_joint_bored_as_planned_has_its_size_too(build):
    """By hand: the right mortise's hole is planned 18 in, so the tenon's 16.5 from its shoulder, 42 + 700 from the end."""
    assert run("made", "post.r", at=build).exit_code == 0
    closed = run("close", "tenon", "post.r", "--pegged", at=build)
    assert "made rail r.pin at 758.5 mm from l.end, as planned" in closed.output
    run("read", "post.r", "inner", "pin.x", "19.5", "--tool", "caliper", at=build)
    assert offset_of_the_right_peg(build) == pytest.approx(3.0, abs=0.05)  # the closed shoulder is centred in its play


def test_a_glued_joint_is_pegged_later_and_once(build):
    glued = run("close", "tenon", "post.l", "--glued", at=build)
    assert "the plan has a peg in it, which is not driven by that" in glued.stderr
    assert [peg.bored for peg in reconcile(load_build(build)).pegs] == [False, False]
    pegged = run("close", "tenon", "post.l", "--pegged", at=build)
    assert (pegged.exit_code, pegged.stderr) == (0, "")
    assert [peg.bored for peg in reconcile(load_build(build)).pegs] == [True, False]
    again = run("close", "tenon", "post.l", "--pegged", at=build)
    assert again.exit_code == 2
    assert "is closed already, pegged" in again.stderr
