"""Where things stand: what is next, what waits for which reading, and which widths are old."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta, timezone

import pytest
from cli_folder import folder_of, run
from paper_builds import EXAMPLES

from fitsolve.build.folder import load_build
from fitsolve.build.logtext import HEADER
from fitsolve.build.place import assemble
from fitsolve.build.state import settle
from fitsolve.reconciliation import findings_of
from fitsolve.report.stands import OLD_DAYS, Standing, next_step, old_widths, standing_blocks
from fitsolve.report.when import age, ago

PLAN = """
title = "Sharpening stand"          # an invented example
unit = "mm"
workmanship = 0.2
workmanship_width = 0.1
give = 2
fits = { slip = [0.1, 0.3, 0.6] }
[part.leg]
copies = ["l", "r"]
x = "left 90 right"
z = "foot 700 head"
[part.rail]
x = "l.shoulder 700 r.shoulder"
z = "low 80 top"
[part.apron]
x = "l.end 100 l.a 90 l.b 700 r.a 90 r.b 100 r.end"
z = "low 120 top"
[joint.butt]
meet = ["rail.l.shoulder against leg.l.right, tight-up", "rail.r.shoulder against leg.r.left, tight-up"]
[joint.dado]
each = '''
leg
l
r
'''
meet = "leg.{leg}.left/right in apron.{leg}.a/b, slip"
"""
START = datetime(2026, 3, 2, 8, 0, tzinfo=timezone(timedelta(hours=1)))
LEFT = "reading,leg.l.left,leg.l.right,90.2,caliper,"
RIGHT = "reading,leg.r.left,leg.r.right,89.9,caliper,"
LENGTH = "reading,leg.l.foot,leg.l.head,700.4,rule,"
RAIL = "made,rail,,,,"
CLOSED = ["close,butt rail leg.l,,,,glued", "close,butt rail leg.r,,,,dry"]
APART = "reading,leg.l.right,leg.r.left,700.3,rod,"
APRON = [
    "reading,apron.l.a,apron.l.b,90.5,caliper,",
    "reading,apron.r.a,apron.r.b,90.2,caliper,",
    "reading,apron.l.b,apron.r.a,700.1,rod,",
]


@pytest.fixture
def stand(tmp_path):
    def at(*rows, days=0.0):
        (tmp_path / "plan.toml").write_text(PLAN)
        log = [f"{no},{(START + timedelta(minutes=no)).isoformat()},{row}" for no, row in enumerate(rows, 1)]
        (tmp_path / "log.csv").write_text("\n".join([HEADER, *log, ""]))
        build = load_build(tmp_path)
        assembly, state = settle(assemble(build.plan), build.log, build.plan.tools())
        wrong = any(problem.level == "error" for problem in state.problems)
        found = None if wrong else findings_of(assembly, state)
        return Standing(assembly, build.log, state, found, START + timedelta(days=days))

    return at


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([], "cut the first parts by the drawing, then read them: fitsolve layout leg.l: fitsolve read leg.l"),
        ([LEFT], "cut leg.l: fitsolve layout leg.l"),
        (["made,leg.l,,,,", "made,leg.r,,,,", RAIL, RIGHT, *CLOSED, APART],
         "read leg.l left..right, before apron is cut: fitsolve read leg.l left..right"),
        (["made,leg.l,,,,", "made,leg.r,,,,", RAIL, LEFT, RIGHT],
         "read rail l.shoulder..r.shoulder, before butt rail leg.l is put together: "
         "fitsolve read rail l.shoulder..r.shoulder"),
        (["made,leg.l,,,,", "made,leg.r,,,,", RAIL, LEFT, RIGHT, "reading,rail.l.shoulder,rail.r.shoulder,700,rod,"],
         "put butt rail leg.l together: fitsolve close butt rail leg.l --dry"),
        (["made,leg.l,,,,", "made,leg.r,,,,", RAIL, LEFT, RIGHT, *CLOSED, APART], "cut apron: fitsolve layout apron"),
        (["made,leg.l,,,,", "made,leg.r,,,,", RAIL, LEFT, RIGHT, *CLOSED, APART, "made,apron,,,,", "reading,apron.l.a,apron.l.b,90.05,caliper,"],
         "read apron l.b..r.a, before dado leg.l apron is put together: fitsolve read apron l.b..r.a"),
        (["made,leg.l,,,,", "made,leg.r,,,,", RAIL, LEFT, RIGHT, *CLOSED, APART, "made,apron,,,,", "reading,apron.l.a,apron.l.b,90.05,caliper,", *APRON[1:]],
         "settle what cannot all be had: fitsolve sizes"),
        (["made,leg.l,,,,", "made,leg.r,,,,", RAIL, LEFT, RIGHT, *CLOSED, APART, "made,apron,,,,", *APRON],
         "put dado leg.l apron together: fitsolve close dado leg.l apron --dry"),
        ([LEFT, "reading,leg.l.left,leg.l.right,115.6,caliper,"],
         "read #2 and #1 again; what is not to be believed, and why: fitsolve sizes"),
        (["reading,leg.l.left,leg.l.nowhere,90,caliper,"],
         "mend or strike the row named below; until then nothing can be worked out"),
    ],
)  # fmt: skip
def test_what_is_next(stand, rows, said):
    assert ": ".join(next_step(stand(*rows))) == said


@pytest.mark.parametrize("rows", [
    [APRON[0]],                     # the seat of the apron rests on what was never read of it
    [APRON[0].replace("90.05", "90.4")],
    ["reading,apron.l.end,apron.l.a,100,rule,", "reading,apron.r.a,apron.r.b,90.3,caliper,"],
    [],
])  # fmt: skip
def test_before_a_joint_the_same_is_to_be_read_as_sizes_says(stand, tmp_path, rows):
    stand("made,leg.l,,,,", "made,leg.r,,,,", RAIL, LEFT, RIGHT, *CLOSED, APART, "made,apron,,,,", *rows)
    words = " ".join(run(at=tmp_path).stdout.split())
    asked, _, joint = words.split("NEXT read ")[1].split(" is put together")[0].partition(", before ")
    told = " ".join(run("sizes", at=tmp_path).stdout.split())
    told = told.split("JOINTS")[1].split("UNCHECKED")[0]
    assert any("ead " in one and asked.removeprefix("apron") in one for one in re.split(r"; |: |\. ", told)), (joint, told)


def test_an_empty_plan_wants_parts(tmp_path):
    assert run("new", str(tmp_path / "b"), "--empty").exit_code == 0
    result = run(at=tmp_path / "b")
    assert "write the parts into plan.toml, then see how they are understood:" in result.stdout
    assert "made" not in result.stdout


def test_no_part_that_waits_is_left_out_unsaid(stand, tmp_path):
    nine = " ".join(f'"{k}",' for k in range(1, 10))
    table = "apron leg\n" + "".join(f"{k} l\n{k} r\n" for k in range(1, 10))
    plan = PLAN.replace("[part.apron]\n", f"[part.apron]\ncopies = [{nine}]\n").replace("leg\nl\nr\n", table)
    stand("made,leg.l,,,,", "made,leg.r,,,,", RAIL, LEFT, *CLOSED, APART)
    (tmp_path / "plan.toml").write_text(plan.replace("in apron.{leg}.a/b", "in apron.{apron}.{leg}.a/b"))
    said = run(at=tmp_path).stdout
    assert said.count("read leg.r left..right first") == 6
    assert "and 3 more: fitsolve sizes" in said


def test_the_readings_wanted_are_counted_with_the_first_of_them(stand):
    said = str(standing_blocks(stand("made,leg.l,,,,", "made,leg.r,,,,", RAIL, *CLOSED, APART)))
    assert "2 readings, leg.l left..right first: fitsolve wanted lists them" in said


def test_what_is_made_and_wrong_is_a_warning(stand, tmp_path):
    rows = ["made,leg.l,,,,", "made,leg.r,,,,", RAIL, LEFT, RIGHT, *CLOSED, APART, "made,apron,,,,"]
    stand(*rows, *APRON)
    assert run(at=tmp_path).exit_code == 0
    stand(*rows, "reading,apron.l.a,apron.l.b,90.05,caliper,")
    assert run(at=tmp_path).exit_code == 1


def test_what_waits_is_said_with_the_reading_it_waits_for(stand):
    standing = stand("made,leg.l,,,,", "made,leg.r,,,,", RAIL, LEFT, *CLOSED, APART)
    assert standing.waits == {"apron": "read leg.r left..right first"}
    assert standing.to_cut == ("apron",)


class TestOldWidths:
    """Old, across the grain, of a mark that an open joint asks for: all three."""

    @pytest.mark.parametrize(("days", "old"), [(OLD_DAYS - 1, []), (OLD_DAYS + 1, [1, 2])])
    def test_the_threshold(self, stand, days, old):
        standing = stand(LEFT, RIGHT, LENGTH, days=days)
        assert [reading.no for reading, _ in old_widths(standing)] == old

    def test_one_that_no_open_joint_asks_for_is_left_out(self, stand):
        rows = ["made,leg.l,,,,", "made,leg.r,,,,", LEFT, RIGHT, "made,rail,,,,", *CLOSED, APART, "made,apron,,,,",
                "close,dado leg.l apron,,,,dry"]  # fmt: skip
        assert [reading.no for reading, _ in old_widths(stand(*rows, days=40))] == [4]

    def test_a_row_from_a_clock_ahead_is_not_old(self, stand):
        assert list(old_widths(stand(LEFT, days=-400))) == []

    def test_the_threshold_is_said(self, stand):
        text = str(standing_blocks(stand(LEFT, RIGHT, days=90)))
        assert "2 widths were read 89 days ago, and across the grain wood moves" in text
        assert "fitsolve read leg.l left..right   was 90.2 (#1)'" in text
        assert "fitsolve read leg.r left..right   was 89.9 (#2)'" in text

    def test_of_different_ages_each_is_said(self, stand, tmp_path):
        standing = stand(LEFT, RIGHT, days=90)
        path = tmp_path / "log.csv"
        later = (START + timedelta(days=60)).isoformat()
        path.write_text(path.read_text().replace(f"2,{(START + timedelta(minutes=2)).isoformat()}", f"2,{later}"))
        build = load_build(tmp_path)
        assembly, state = settle(assemble(build.plan), build.log, build.plan.tools())
        text = str(standing_blocks(Standing(assembly, build.log, state, None, standing.now)))
        assert f"2 widths were read more than {OLD_DAYS} days ago" in text
        assert "was 90.2 (#1), 89 days ago" in text
        assert "was 89.9 (#2), 30 days ago" in text


def test_it_leads_with_what_is_next(stand):
    _, first, second, *_ = standing_blocks(stand(LEFT))
    assert (first.tag, second.tag) == ("NEXT", "LAST")

    def test_one_that_was_read_again_since_is_left_out(self, stand, tmp_path):
        standing = stand(LEFT, RIGHT, LEFT.replace("left,leg.l.right", "right,leg.l.left"), days=OLD_DAYS + 1)
        path = tmp_path / "log.csv"
        later = (START + timedelta(days=OLD_DAYS)).isoformat()
        path.write_text(path.read_text().replace(f"3,{(START + timedelta(minutes=3)).isoformat()}", f"3,{later}"))
        build = load_build(tmp_path)
        assembly, state = settle(assemble(build.plan), build.log, build.plan.tools())
        again = Standing(assembly, build.log, state, None, standing.now)
        assert [reading.no for reading, _ in old_widths(standing)] == [3, 2]
        assert [reading.no for reading, _ in old_widths(again)] == [2]


@pytest.mark.parametrize(
    ("gone", "said"),
    [({"seconds": 30}, "just now"), ({"minutes": 2}, "2 minutes ago"), ({"minutes": 61}, "1 hour ago"),
     ({"hours": 47}, "1 day ago"), ({"days": 400}, "400 days ago")],
)  # fmt: skip
def test_how_long_ago(gone, said):
    assert ago(timedelta(**gone)) == said


def test_no_age_without_a_time():
    assert age("yesterday", START) is None
    assert age("0001-01-01T00:00:00", START) is None  # no local time can be told of it
    assert age("2026-03-01T08:00:00+01:00", START) == timedelta(days=1)


@pytest.mark.parametrize("width", [30, 44, 80, 200])
def test_no_line_is_wider_than_the_terminal(stand, tmp_path, width):
    stand("made,leg.l,,,,", "made,leg.r,,,,", RAIL, LEFT, *CLOSED, APART)
    result = run(at=tmp_path, width=width)
    assert max(map(len, result.stdout.splitlines())) <= width
    assert "\x1b" not in result.stdout


def test_exit_status_is_one_where_something_is_to_be_settled(stand, tmp_path):
    stand(LEFT)
    assert run(at=tmp_path).exit_code == 0
    stand(LEFT, "reading,leg.l.left,leg.l.right,115.6,caliper,")
    assert run(at=tmp_path).exit_code == 1
    stand("reading,leg.l.left,leg.l.nowhere,90,caliper,")
    assert run(at=tmp_path).exit_code == 2


def next_commands(at):
    """What is said to come next: the words, and the commands under them."""
    lines = run(at=at, width=200).stdout.splitlines()
    start = next(k for k, line in enumerate(lines) if line.startswith("NEXT"))
    commands = []
    for line in lines[start + 1 :]:
        if not line.strip().startswith("fitsolve "):
            break
        commands.append(line.split()[1:])
    return lines[start][10:], commands


def test_whoever_follows_what_is_next_comes_to_the_end(tmp_path):
    """From an uncut plan: each step's command does something, and at last all is cut, read and together."""
    at = folder_of(tmp_path / "b")
    seen = []
    while len(seen) < 40:
        words, commands = next_commands(at)
        if words.startswith("all is cut and read"):
            break
        assert words not in seen, f"said twice: {words}"
        seen.append(words)
        verb, *rest = commands[0]
        if verb == "layout":
            result = run("made", *rest, at=at)
        elif verb == "read":
            there = json.loads(run("between", *rest, "--json", at=at).stdout)["distance_mm"]
            result = run("read", *rest, f"{there / 25.4:.4f}", "--tool", "caliper", at=at)
        else:
            result = run(verb, *rest, at=at)
        assert result.exit_code in (0, 1), (words, result.stderr)
    assert words.startswith("all is cut and read")
    verbs = " ".join(words.split()[0] for words in seen)
    assert verbs.startswith("cut")
    assert verbs.endswith("put put") or "put" in verbs
    assert next_commands(at)[1] == [["sizes"]]


def test_a_joint_that_is_read_and_does_not_fit_is_named():
    result = run(at=EXAMPLES / "trestle", width=100)
    assert "lap stretcher post.r is tight as it is made; what would save it:" in result.stdout
    assert result.exit_code == 1
