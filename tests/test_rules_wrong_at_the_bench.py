"""A keep or check of the plan that is wrong stops no answer from being wrong, but nobody with a caliper in hand.

Rule: specs/log.md, section 5. Invented bench of `cli_folder`.
"""

from __future__ import annotations

import pytest
from cli_folder import FRAMES, PLAN, folder_of, run

from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan

WRONG_CHECK = PLAN.replace('apart = "leg.l.right..', 'apart = "leg.l.rigt..')
WRONG_KEEP = PLAN.replace("r.end, give 1/32", "r.end, gave 1/32")
COUNTED = "warning: plan.toml: 1 error in [check]; what is entered is kept all the same\n  fitsolve plan lists it."
READ = ("read", "leg.l", "left", "right", "3.530", "--tool", "caliper")


def rows(at) -> list[str]:
    return (at / "log.csv").read_text().splitlines()


@pytest.fixture
def bench(tmp_path):
    def begin(plan: str):
        return folder_of(tmp_path / "bench", plan, FRAMES)

    return begin


@pytest.mark.parametrize(
    ("words", "event"),
    [
        (READ, "reading"),
        (("read", "apron", "l.end", "r.end", "60 1/8", "--rough", "--tool", "tape"), "rough"),
        (("made", "apron", "l.left", "6"), "made"),
        (("made", "apron"), "made"),
        (("trim", "leg.l", "right"), "trim"),
        (("remake", "leg.l", "--sure"), "remake"),
        (("close", "dado", "leg.l", "--dry"), "close"),
        (("apart",), "apart"),
        (("undo",), "strike"),
    ],
)
def test_what_is_entered_is_written_and_the_error_counted(bench, words, event):
    at = bench(WRONG_CHECK)
    before = rows(at)
    done = run(*words, at=at)
    assert (done.exit_code, COUNTED in done.stderr) == (1, True)
    assert rows(at)[: len(before)] == before
    assert rows(at)[-1].split(",")[2] == event


def test_the_history_is_shown(bench):
    done = run("log", at=bench(WRONG_CHECK))
    assert (done.exit_code, COUNTED in done.stderr, "3.531" in done.stdout) == (1, True, True)


@pytest.mark.parametrize("words", [(), ("sizes",), ("wanted",), ("layout", "apron"), ("between", "leg.l.left", "right"), ("plan",)])
def test_no_answer_is_given(bench, words):
    done = run(*words, at=bench(WRONG_CHECK))
    assert (done.exit_code, done.stdout) == (2, "")
    assert "check.apart" in done.stderr


@pytest.mark.parametrize("place", ["leg.l lft", "lug.l left"])
def test_what_has_no_place_is_refused_all_the_same(bench, place):
    at = bench(WRONG_CHECK)
    before = rows(at)
    done = run("read", *place.split(), "right", "3.530", "--tool", "caliper", at=at)
    assert (done.exit_code, rows(at)) == (2, before)
    assert "Did you mean" in done.stderr


def test_an_error_beside_it_stops_everything(bench):
    at = bench(WRONG_CHECK.replace('"left 3 1/2 right"', '"left 3 1/2"'))
    before = rows(at)
    done = run(*READ, at=at)
    assert (done.exit_code, rows(at)) == (2, before)
    assert "part.leg.x" in done.stderr
    assert "check.apart" not in done.stderr.split("part.leg.x")[0]


class TestAWrongKeep:
    """A size may hang on it, so none is taken as advised."""

    def test_nothing_is_taken_as_advised(self, bench):
        at = bench(WRONG_KEEP)
        before = rows(at)
        done = run("made", "apron", "l.left", at=at)
        assert (done.exit_code, rows(at)) == (2, before)
        assert "no size was advised for apron: plan.toml:" in done.stderr
        assert "fitsolve made PART MARK SIZE" in done.stderr

    @pytest.mark.parametrize("words", [("l.left", "6"), ("l.left", "--as-planned")])
    def test_what_is_said_is_written(self, bench, words):
        at = bench(WRONG_KEEP)
        done = run("made", "apron", *words, at=at)
        assert (done.exit_code, "1 error in [keep]" in done.stderr) == (1, True)
        assert rows(at)[-1].split(",")[2] == "made"

    def test_of_no_kind_at_all(self, bench):
        at = bench(PLAN.replace("[keep]", "[keep]\nflush = 3"))
        assert run(*READ, at=at).exit_code == 1


def test_the_plan_is_worked_out_without_the_rule_that_is_wrong():
    """The same parts, joints and other rules as if it did not stand there."""
    more = 'flush = "leg.*.left flush with apron.l.left, within 1/16"\nlevel = "leg.*.left, within 1/16"\n'
    without = assemble(read_plan(PLAN))
    plan = read_plan(PLAN + more, rules_apart=True)
    assert [fault.place.key for fault in plan.faults] == ["check.level"]
    assert len(assemble(plan).checks) == len(without.checks) + 2
    assert assemble(plan).marks == without.marks
    assert assemble(plan).joints == without.joints
    assert not read_plan(PLAN, rules_apart=True).faults
