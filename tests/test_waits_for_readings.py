"""What should be read before it is cut: a part over made pieces that no reading settles waits for just that reading."""

from __future__ import annotations

import pytest
from cli_folder import run

from fitsolve.build.folder import load_build
from fitsolve.build.logtext import HEADER
from fitsolve.findings.wanted import wanted_readings
from fitsolve.reconciliation import reconcile
from fitsolve.report.waits import reading_waits

PLAN = """
unit = "mm"
workmanship = 1
workmanship_width = 0.1
give = 2
fits = {{ slip = [0.1, {aim}, {most}] }}
[tool.micrometer]
good_to = 0.005
[part.leg]
copies = ["l", "r"]
x = "left 90 right"
[part.rail]
x = "l.end 20 (hold) l.shoulder 700 r.shoulder 20 (hold) r.end"
[part.apron]
x = "l.end 100 l.a {dado} l.b {apart} r.a {dado} r.b 100 r.end"
[joint.butt]
meet = ["rail.l.shoulder against leg.l.right, tight-up", "rail.r.shoulder against leg.r.left, tight-up"]
[joint.dado]
each = '''
leg
l
r
'''
meet = "leg.{{leg}}.left/right in apron.{{leg}}.a/b, slip"
"""
LEFT = "reading,leg.l.left,leg.l.right,90.2,micrometer,"
RIGHT = "reading,leg.r.left,leg.r.right,89.9,micrometer,"
APART = "reading,leg.l.right,leg.r.left,700.3,micrometer,"
CLOSED = ["close,butt rail leg.l,,,,glued", "close,butt rail leg.r,,,,glued"]


def folder(at, rows, most=0.6):
    at.mkdir(exist_ok=True)
    (at / "plan.toml").write_text(PLAN.format(most=most, aim=most / 2, dado=90 + most / 2, apart=700 - most / 2))
    log = [HEADER, *(f"{no},2026-03-02T08:00:00+01:00,{row}" for no, row in enumerate(rows, 1)), ""]
    (at / "log.csv").write_text("\n".join(log))
    return at


@pytest.fixture
def waits(tmp_path):
    def asked(*rows, most=0.6):
        found = reconcile(load_build(folder(tmp_path / "build", rows, most)))
        return reading_waits(found, found.assembly.parts)

    return asked


def test_nothing_waits_before_anything_is_made(waits):
    assert waits() == {}


@pytest.mark.parametrize(
    ("rows", "first"),
    [
        ([LEFT, "made,leg.r,,,,", *CLOSED, APART], "read leg.r left..right first"),
        (["made,leg.l,,,,", RIGHT, *CLOSED, APART], "read leg.l left..right first"),
        ([LEFT, RIGHT, *CLOSED], "read leg.l.right..leg.r.left first"),
        (["made,leg.l,,,,", "made,leg.r,,,,", *CLOSED, APART], "read leg.l left..right and leg.r left..right first"),
    ],
)
def test_the_reading_that_misses_is_named_and_no_other(waits, rows, first):
    assert waits(*rows) == {"apron": first}


def test_all_read_waits_no_more(waits):
    assert waits(LEFT, RIGHT, *CLOSED, APART) == {}


def test_where_the_fit_is_wide_enough_nothing_need_be_read(waits):
    rows = ["made,leg.l,,,,", "made,leg.r,,,,", *CLOSED]
    assert waits(*rows)
    assert waits(*rows, most=16) == {}


def test_the_screen_leads_with_it_and_the_sizes_follow(tmp_path):
    at = folder(tmp_path / "build", [LEFT, "made,leg.r,,,,", *CLOSED, APART])
    said = run("sizes", at=at).stdout
    assert "CUT NOW   apron" not in said
    assert "WAIT      apron: read leg.r left..right first. With it as drawn:" in said
    assert "l.a" in said.split("WAIT", 1)[1]
    assert run("layout", "apron", at=at).stdout.startswith("WAIT      read leg.r left..right first")
    assert '"read leg.r left..right first"' in run("layout", "apron", "--json", at=at).stdout


FOUR = """
unit = "mm"
workmanship = 0.4
workmanship_width = 0.1
give = 2
fits = { slip = [0.1, 0.3, 0.6] }
[part.leg]
copies = { fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }
x = "outer 60 inner"
y = "face 60 back"
[part.rail]
copies = { l = "as drawn", r = "left for right" }
y = "f 400 r"
[part.long]
copies = { f = "as drawn", r = "front for rear" }
x = "l 900 r"
[part.shelf]
x = "l.end 30 l.a 60 l.b 900 r.a 60 r.b 30 r.end"
[joint.short]
each = '''
rail e leg
l f fl
l r rl
r f fr
r r rr
'''
meet = "rail.{rail}.{e} against leg.{leg}.back, tight-up"
[joint.long]
each = '''
long e leg
f l fl
f r fr
r l rl
r r rr
'''
meet = "long.{long}.{e} against leg.{leg}.inner, tight-up"
[joint.drop]
each = '''
leg e
fl l
fr r
rl l
rr r
'''
meet = "leg.{leg}.outer/inner in shelf.{e}.a/b, slip"
"""


def test_a_rod_goes_straight_across_and_never_to_the_leg_diagonally_opposite(tmp_path):
    rows = [f"made,leg.{leg},,,," for leg in ("fl", "fr", "rl", "rr")]
    rows += ["made,rail.l,,,,", "made,rail.r,,,,", "made,long.f,,,,", "made,long.r,,,,"]
    rows += [f"close,short rail.{rail} leg.{leg},,,,dry" for rail, leg in (("l", "fl"), ("l", "rl"), ("r", "fr"), ("r", "rr"))]
    (tmp_path / "plan.toml").write_text(FOUR)
    log = [f"{no},2026-03-02T08:00:00+01:00,{row}" for no, row in enumerate(rows, 1)]
    (tmp_path / "log.csv").write_text("\n".join([HEADER, *log, ""]))
    found = reconcile(load_build(tmp_path))
    marks = found.assembly.marks
    across = {(marks[one.start].part, marks[one.end].part) for one in wanted_readings(found.assembly, found.state) if not one.part}
    assert across == {("leg.fl", "leg.fr"), ("leg.rl", "leg.rr")}


LOOSE = """
unit = "mm"
workmanship = 0.4
workmanship_width = 0.1
give = 2
fits = { slip = [0.1, 0.3, 0.6] }
[part.leg]
copies = ["l", "r"]
z = "foot 50 low.b 80.3 low.t 300 up.b 80.3 up.t 100 head"
[part.rail]
copies = ["low", "up"]
z = "b 80 t"
[joint.tenon]
each = '''
rail leg
low l
low r
up l
up r
'''
meet = "rail.{rail}.b/t in leg.{leg}.{rail}.b/t, slip"
"""


def test_loose_rails_have_no_place_and_their_distance_is_no_reading(tmp_path):
    """What stands between them are the mortises that are still to be cut. Once one leg holds both it can be read."""

    def waits(*rows):
        at = folder_of_loose(tmp_path, rows)
        found = reconcile(load_build(at))
        return reading_waits(found, ["leg.r"]), [found.assembly.marks[one.start].part for one in
                                                 wanted_readings(found.assembly, found.state)]

    rows = ["reading,rail.low.b,rail.low.t,80.1,micrometer,", "reading,rail.up.b,rail.up.t,79.9,micrometer,"]
    assert waits(*rows) == ({}, [])
    held = ["made,leg.l,,,,", "close,tenon rail.low leg.l,,,,glued", "close,tenon rail.up leg.l,,,,glued"]
    said, wanted = waits(*rows, *held)
    assert said == {"leg.r": "read rail.low.t..rail.up.b first"}
    assert "rail.low" in wanted


def folder_of_loose(tmp_path, rows):
    (tmp_path / "plan.toml").write_text(LOOSE + "[tool.micrometer]\ngood_to = 0.005\n")
    log = [HEADER, *(f"{no},2026-03-02T08:00:00+01:00,{row}" for no, row in enumerate(rows, 1)), ""]
    (tmp_path / "log.csv").write_text("\n".join(log))
    return tmp_path
