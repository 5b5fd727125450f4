"""What cannot be had only because of a reading not to be believed is told in one line under it; two readings written
down one for the other are recognised."""

from __future__ import annotations

import json

import pytest
from cli_folder import folder_of, run

from fitsolve.build.folder import load_build
from fitsolve.reconciliation import reconcile
from fitsolve.solve.allocate import allocate
from fitsolve.solve.pieces import wanted_of

PLAN = """
unit = "mm"
workmanship = 0.4
workmanship_width = 0.1
give = 2
[fits]
slip = [0.1, 0.3, 0.6]
[part.tongue]
copies = ["a", "b", "c"]
x = "left 500 right"
[part.slot]
copies = ["a", "b", "c"]
x = "near 500.3 (hold) far"
[joint.slide]
each = '''
n
a
b
c
'''
meet = "tongue.{n}.left/right in slot.{n}.near/far, slip"
"""


def said(at):
    """What `sizes` says, without its line breaks."""
    return " ".join(run("sizes", at=at).stdout.split())


def test_it_is_one_line_under_the_stop(tmp_path):
    """By hand: a tongue read 525 cannot go into a slot held at 500.3; at its plan of 500 it has just its aim."""
    at = folder_of(tmp_path / "b", PLAN, "reading,tongue.a.left,tongue.a.right,525,rule,")
    told = said(at)
    assert "1 thing to settle before you cut" in told
    assert "2 CONFLICTs follow from #1, and are gone or small without." in told
    assert "These can't all be had" not in told
    assert "needs #1" in told
    assert len(json.loads(run("sizes", "--json", at=at).stdout)["contradictions"]) == 2
    assert run("layout", "slot.a", at=at).stdout.startswith("WAIT ")


@pytest.mark.parametrize("slot", ["500.3 (hold)", "500.3 (495 to 500.4)"])
def test_what_is_to_be_settled_is_named_as_it_stands_on_the_page(tmp_path, slot):
    at = folder_of(tmp_path / "b", PLAN.replace("500.3 (hold)", slot), "reading,tongue.a.left,tongue.a.right,525,rule,")
    told = said(at)
    assert "CONFLICTs follow from #1" in told
    assert "ettle the CONFLICT" not in told
    assert "in the compromise. Settle what stands under STOP" in told
    assert "in slide tongue.a slot.a. Settle what stands under STOP." in told


def test_what_has_to_do_with_something_else_is_told(tmp_path):
    """By hand: 503 is no slip, 3 mm off plan; it is too wide by 2.8 whatever the other tongue is."""
    rows = "reading,tongue.a.left,tongue.a.right,525,rule,\nreading,tongue.b.left,tongue.b.right,503,rule,"
    told = said(folder_of(tmp_path / "b", PLAN, rows))
    assert "2 things to settle before you cut" in told
    assert "2 CONFLICTs follow from #1" in told
    assert told.count("These can't all be had") == 1
    assert "CONFLICT These can't all be had, by 2.8" in told


class TestTwoSwapped:
    """Neighbours of 320 and 300, each read and written down for the other."""

    NEIGHBOURS = 'unit = "mm"\nworkmanship = 0.4\n[part.side]\nz = "foot 320 low 300 high 90 head"\n'

    def test_each_names_the_other(self, tmp_path):
        rows = "reading,side.foot,side.low,300.2,rule,\nreading,side.low,side.high,319.8,rule,"
        told = said(folder_of(tmp_path / "b", self.NEIGHBOURS, rows))
        for other in ("#2 side low..high", "#1 side foot..low"):
            assert f"{other} is just what this should be, and this what that should: were the two swapped?" in told

    @pytest.mark.parametrize("second", ["301", "340"])
    def test_nothing_is_guessed_where_only_one_would_be_right(self, tmp_path, second):
        rows = f"reading,side.foot,side.low,300.2,rule,\nreading,side.low,side.high,{second},rule,"
        told = said(folder_of(tmp_path / "b", self.NEIGHBOURS, rows))
        assert "STOP" in told
        assert "swapped" not in told


class TestSwappedThoughChecked:
    """An overall reading agrees with two neighbours that are swapped: only the plan tells."""

    PLAN = 'unit = "mm"\nworkmanship = 0.4\n[part.side]\nz = ["foot 800 head", "foot 320 low 300 high 180 head"]\n'
    ROWS = (
        "reading,side.foot,side.low,{},rule,\nreading,side.low,side.high,{},rule,\n"
        "reading,side.high,side.head,180,rule,\nreading,side.foot,side.head,800,rule,\n{}"
    )

    def of(self, at, first, second, more=""):
        return said(folder_of(at / "b", self.PLAN, self.ROWS.format(first, second, more)))

    def test_both_are_doubted(self, tmp_path):
        """By hand: 300.2 + 319.8 + 180 = 800, as 319.8 + 300.2 + 180 would be."""
        told = self.of(tmp_path, "300.2", "319.8")
        assert "STOP #1 side foot..low, 300.2 by rule: 19.8 mm less than plan, and what checks it would not show that. " in told
        assert "#2 side low..high is just what this should be" in told
        assert "2 things to settle" in told

    def test_where_the_others_speak_against_a_swap_they_are_believed(self, tmp_path):
        """By hand: foot to low read once more as 300.1: exchanged it would be off by 19.7, far beyond a rule."""
        told = self.of(tmp_path, "300.2", "319.8", "reading,side.foot,side.low,300.1,rule,\n")
        assert "swapped" not in told

    @pytest.mark.parametrize(("first", "second"), [("320.2", "299.8"), ("310", "310"), ("300.2", "319.8 mm")])
    def test_only_what_is_near_the_plan_of_the_other(self, tmp_path, first, second):
        assert ("swapped" in self.of(tmp_path, first, second)) is (first == "300.2")


def test_without_names_of_contradictions_the_numbers_are_the_same(tmp_path):
    """What a doubt moves is solved for again and again, without naming what cannot be had: the compromise is the same."""
    rows = "reading,tongue.a.left,tongue.a.right,525,rule,\nreading,tongue.b.left,tongue.b.right,503,rule,"
    found = reconcile(load_build(folder_of(tmp_path / "b", PLAN, rows)))
    asked = [piece for piece in found.solved.pieces if piece.allocation.contradictions]
    assert asked
    for piece in asked:
        alone = allocate(piece.estimate, wanted_of(piece.network), named=False)
        assert alone.contradictions == ()
        assert alone.staged.x == pytest.approx(piece.x, abs=1e-9)
