"""Findings in words, each by its full text, on an invented bench.

Numbers in the texts are worked by hand beside them; the legs are 3 1/2 in wide in plan, a
caliper is good to ± 0.002 in, the fit of a dado is 0.002 / 0.008 / 0.016 in.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from cli_folder import FRAMES, HEAD, PLAN, folder_of, run

import fitsolve
from fitsolve.build.folder import load_build
from fitsolve.reconciliation import reconcile
from fitsolve.report.cutting import part_sizes
from fitsolve.report.demands import contradiction_text
from fitsolve.report.doubtwords import unchecked, unchecked_text
from fitsolve.report.fitwords import joint_lines
from fitsolve.report.measures import Measures
from fitsolve.report.seatwords import seat_text
from fitsolve.report.slipwords import slip_guess
from fitsolve.report.words import (
    assumed_text,
    between_text,
    check_text,
    coarse_texts,
    culprits_text,
    doubt_text,
    moves_text,
    suspect_groups,
    title_text,
    waiting,
)

ONE_DADO = HEAD + """\
[part.leg]
x = "left 3 1/2 right"
[part.apron]
x = "end 6 left 3 1/2 right 30 far"
[joint.dado]
meet = "leg.left/right in apron.left/right, slip"
"""


def solved(tmp_path, rows="", plan=PLAN):
    return fitsolve.reconcile(fitsolve.load(folder_of(tmp_path / "b", plan=plan, rows=rows)))


def dado(leg, apron):
    return f"reading,leg.left,leg.right,{leg},caliper,\nreading,apron.left,apron.right,{apron},caliper,\n"


class TestDoubts:
    """A reading not to be believed: by how much, what it would be, what it moves, what else it may be."""

    # The legs' spacing by three tapes: 41 3/32 + 3.531 + 3.488 = 48.11 against 48 1/8. A fourth from
    # left to left should be about 44 5/8; 45 5/8 is an inch more.
    ROWS = FRAMES + "reading,leg.l.left,leg.r.left,45 5/8,tape,\n"

    def test_the_whole_text(self, tmp_path):
        found = solved(tmp_path, self.ROWS)
        (group,) = suspect_groups(found)
        assert doubt_text(found, group[0]) == (
            "#5 leg.l.left..leg.r.left, 45 5/8 by tape: 1 in more than the others say. Would be 44 5/8. "
            "Just 1 in: was the tape held at its 1? Read it again."
        )
        assert moves_text(found, group) == "It moves apron."
        assert waiting(found)["apron"][0] == 5
        assert "1 thing to settle before you cut" in title_text(found)

    def test_the_others_it_may_be_are_named(self, tmp_path):
        found = solved(tmp_path, self.ROWS)
        (group,) = suspect_groups(found)
        text = culprits_text(found, group)
        assert text.startswith("If #5 is right after all: #")
        for row in (1, 2, 3, 4):
            assert f"#{row} " in text

    def test_nothing_that_is_still_to_be_cut(self, tmp_path):
        found = solved(tmp_path, self.ROWS + "made,apron,,,,\n")
        (group,) = suspect_groups(found)
        assert moves_text(found, group) == "Nothing is left to be cut."

    def test_what_nothing_checks_is_held_against_the_plan(self, tmp_path):
        # 4 1/2 is 1 in more than 3 1/2.
        found = solved(tmp_path, "reading,leg.left,leg.right,4 1/2,caliper,\n", ONE_DADO)
        (group,) = suspect_groups(found)
        assert doubt_text(found, group[0]) == (
            "#1 leg left..right, 4 1/2 by caliper: 1 in more than plan, and nothing else checks it. "
            "Just 1 in: was a whole inch misread? Read it again."
        )
        assert culprits_text(found, group) == ""

    def test_slips_are_offered(self):
        inches, mm = Measures("in", Fraction(127, 160)), Measures("mm", Fraction(1, 2))
        assert slip_guess(24 * 25.4, 42 * 25.4, inches, text="24") == "24 for 42: were two digits swapped?"
        assert slip_guess(3.5, 3.5 * 25.4, inches) == "25.4 times off: was one unit taken for the other?"
        assert slip_guess(510.0, 500.0, mm) == "Just 10 mm: was the tape held at its 10?"
        assert slip_guess(600.0, 500.0, mm) == "Just 100 mm: was the tape held at its 100?"
        assert slip_guess(16.04, 160.0, mm, text="16.04") == (
            "Ten times off: was it 160.4, read in cm, or its point misplaced?"
        )
        assert slip_guess(1600.0, 160.0, mm, text="1600") == "Ten times off: was it 160, its point misplaced?"
        assert slip_guess(507.0, 500.0, mm) == ""


class TestJoints:
    """A verdict with its diagnosis and the cheapest rescue."""

    def lines(self, tmp_path, rows, plan=ONE_DADO):
        found = solved(tmp_path, rows, plan)
        (joint,) = found.joints
        return joint.verdict, joint_lines(found, joint)

    def test_tight(self, tmp_path):
        # 3.500 - 3.510 = -0.010: 0.012 under the least of 0.002, 0.018 under the aim of 0.008.
        # U = sqrt(0.002^2 + 0.002^2) = 0.0028, rounded up. The leg is 3 1/2 long here, the apron 39 1/2.
        assert self.lines(tmp_path, dado("3.510", "3.500")) == (
            "tight",
            ["leg left/right in apron left/right: 0.012 in under, ± 0.003. "
             "Plane 0.012 to 0.018 in off leg.left, not apron"],
        )  # fmt: skip

    def test_loose(self, tmp_path):
        # 3.530 - 3.500 = 0.030: 0.014 over the most of 0.016.
        assert self.lines(tmp_path, dado("3.500", "3.530")) == (
            "loose",
            ["leg left/right in apron left/right: 0.014 in over, ± 0.003. "
             "Glue a veneer on leg and plane it to fit, or remake leg"],
        )  # fmt: skip

    def test_fits_says_nothing(self, tmp_path):
        # 3.509 - 3.500 = 0.009, each limit at least 0.007 away: five standard uncertainties of 0.0014.
        assert self.lines(tmp_path, dado("3.500", "3.509")) == ("fits", [])

    def test_cannot_tell_says_what_would_prove_it(self, tmp_path):
        # 3.5026 - 3.500 = 0.0026, 0.0006 above the least. One side counts: p = 0.95 needs
        # 0.0006 = 1.645 u (normal table), U = 2 u = 0.0007: less than the thousandth that is shown.
        verdict, lines = self.lines(tmp_path, dado("3.500", "3.5026"))
        assert verdict == "can't tell"
        assert lines[0].startswith("leg left/right in apron left/right: 0.003 in, ± 0.003, just at its least")
        # 3.504 - 3.500 = 0.004, 0.002 above it: U = 2 * 0.002 / 1.645 = 0.0024, rounded down to 0.002.
        verdict, lines = self.lines(tmp_path, dado("3.500", "3.504"))
        assert verdict == "can't tell"
        assert lines == [
            "leg left/right in apron left/right: 0.004 in, ± 0.003; needs U of ± 0.002 or better: "
            "read leg left..right (#1) again, and read apron left..right (#2) again"
        ]

    def test_a_size_that_was_laid_out_and_never_read_is_to_be_read(self, tmp_path):
        # The dado's far wall was cut at a size from the end, its near wall to plan: each misses by 1/32, and the
        # leg, read, by nothing to speak of.
        rows = "made,apron.left,,,,\nmade,apron.right,apron.end,9.508,,\nreading,leg.left,leg.right,3.5,caliper,\n"
        _, lines = self.lines(tmp_path, rows)
        assert "read apron end..right, laid out and never read" in lines[0]

    def test_under_its_least_and_not_proven(self, tmp_path):
        # 3.501 - 3.500 = 0.001, 0.001 under the least.
        verdict, lines = self.lines(tmp_path, dado("3.500", "3.501"))
        assert verdict == "can't tell"
        assert lines[0].startswith(
            "leg left/right in apron left/right: 0.001 in, ± 0.003, 0.001 in under its least. "
            "Try it dry before you take anything off: read "
        )

    def test_a_closed_joint_is_not_called_tight(self, tmp_path):
        rows = dado("3.510", "3.500") + "close,dado leg apron,,,,glued\n"
        assert self.lines(tmp_path, rows) == ("fits", [])

    def test_a_closed_joint_may_be_loose(self, tmp_path):
        rows = dado("3.500", "3.530") + "close,dado leg apron,,,,glued\n"
        assert self.lines(tmp_path, rows) == (
            "loose",
            [
                "leg left/right in apron left/right: closed, yet 0.014 in over the most its fit allows, ± 0.003. Glued: "
                "wedge or fill what shows with thin slips, or leave it. Nothing else is lost: the sizes reckon with it as "
                "it stands; whether it holds is not judged here"
            ],
        )
        dry = self.lines(tmp_path / "dry", rows.replace("glued", "dry"))[1][0]
        assert dry.endswith("Dry: open it, glue a veneer on leg and plane it to fit, or remake leg")

    def test_room_in_a_closed_joint_costs_nothing(self, tmp_path):
        # By hand: 7 of room where 3 is the most; and 0.5 where 1 is the least: 0.5 to 1.5 more gives the least, and 2,
        # the middle.
        plan = 'unit = "mm"\n[part.post]\nx = "back 20 floor 50 face"\n[part.rail]\nx = "end 48 shoulder 300 r"\n[joint.tenon]\n'
        plan += 'meet = ["rail.shoulder against post.face, up", "rail.end short of post.floor by 1 to 3"]\n'
        plan += '[fits]\nup = ["0", "0.1", "0.4"]\n'
        for tenon, glue, last in (
            (43, "glued", "Room to spare: nothing is lost"),
            (49.5, "dry", "Dry: open it, and saw 0.50 to 1.50 mm off rail.end"),
            (49.5, "glued", "Look whether the shoulder is home, and read it"),
        ):
            rows = "reading,post.floor,post.face,50,caliper,\n" + f"reading,rail.end,rail.shoulder,{tenon},caliper,\n"
            found = solved(tmp_path / f"{tenon}{glue}", rows + f"close,tenon rail post,,,,{glue}\n", plan)
            assert joint_lines(found, found.joints[0])[0].endswith(last)

    BUTT = """\
unit = "in"
give = "1/16"
fits = { up = ["0", "0.004", "0.016"] }
[tool.caliper]
good_to = "0.002"
[part.leg]
x = "outer 3 1/2 inner"
[part.stub]
x = "l 10 r"
[part.post]
x = "outer 3 1/2 inner"
[joint.a]
meet = "leg.inner against stub.l, up"
[joint.b]
meet = "stub.r against post.outer, up"
"""

    def test_a_shoulder_is_proud_or_open(self, tmp_path):
        # With joint a closed (the shoulder within ± 0.004 in, 0.1 mm) the gap at b is the reading
        # between leg and post less the stub: 9.950 - 10 = -0.050, 0.050 under; 10.1 - 10: 0.084 over 0.016.
        stub = "reading,stub.l,stub.r,10,caliper,\nclose,a leg stub,,,,glued\n"
        found = solved(tmp_path, stub + "reading,leg.inner,post.outer,9.950,caliper,\n", self.BUTT)
        assert [joint.verdict for joint in found.joints] == ["fits", "proud"]
        (line,) = joint_lines(found, found.joints[1])
        assert line.startswith("stub r against post outer: 0.050 in under, ± 0.00")
        assert line.endswith("Pare 0.050 to 0.054 in off post.outer, not stub")
        found = solved(tmp_path, stub + "reading,leg.inner,post.outer,10.1,caliper,\n", self.BUTT)
        assert [joint.verdict for joint in found.joints] == ["fits", "open"]
        (line,) = joint_lines(found, found.joints[1])
        assert line.startswith("stub r against post outer: 0.084 in over, ± 0.00")
        assert line.endswith("Pare what holds the shoulder off, or remake post")


class TestSeats:
    """Whether a part goes on all its joints at once, and what would help."""

    def test_each_fits_and_yet_it_may_not_go_on(self, tmp_path):
        found = solved(tmp_path, FRAMES)
        seat = next(seat for seat in found.seats if seat.part == "apron")
        assert seat.verdict == "can't tell"
        text = seat_text(found, seat)
        assert text.startswith(
            f"chance {seat.chance:.2f} that it goes on both joints at once though each fits by itself: "
        )
        assert "Knife apron " in text
        assert text.endswith("or a wider fit.")
        # The spacing is about 48.12 outside to outside against 48 in plan: the plan's dados are
        # 0.12 in too near to each other, less the play of the two fits.
        assert "; cut to plan it would jam by 0.1" in text
        assert [joint.verdict for joint in found.joints] == ["can't tell", "can't tell"]
        assert joint_lines(found, found.joints[0]) == ["by itself it fits, but see apron under SEATS"]

    def test_jams(self, tmp_path):
        # A dado of 3.500 for a leg of 3.510: 0.010 too little (the squeeze allowed is none).
        found = solved(tmp_path, dado("3.510", "3.500"), ONE_DADO)
        seat = next(seat for seat in found.seats if seat.part == "apron")
        assert seat_text(found, seat) == (
            "chance 0.00 that it goes on: 0.010 in too little, ± 0.003, at leg left/right in apron left/right. "
            "What to do: see JOINTS, dado leg apron."
        )

    def test_goes_on(self, tmp_path):
        found = solved(tmp_path, dado("3.500", "3.509"), ONE_DADO)
        assert {seat_text(found, seat) for seat in found.seats} == {"goes on."}


class TestFrame:
    """Checks: amount of tolerance, verdict, U, and what would tell more."""

    def test_beyond(self, tmp_path):
        # Two readings of the spacing, 41 3/32 and 48 1/8 - 3.531 - 3.488 = 41.106: 3/32 more than 41.
        found = solved(tmp_path, FRAMES)
        amount, said = check_text(found, found.checks[0])
        assert amount == "3/32 of 1/16"
        assert said.startswith("beyond, ± ")

    def test_cannot_tell_names_the_reading_and_a_better_tool(self, tmp_path):
        # 41 1/16 is on the tolerance; the tape is the only witness.
        found = solved(tmp_path, "reading,leg.l.right,leg.r.left,41 1/16,tape,\n")
        assert check_text(found, found.checks[0]) == (
            "1/16 of 1/16",
            # by hand, U = 1/32 + 0.0005 * 41 1/16 = 0.0518 in
            "can't tell, ± 0.052. To know: read leg.l.right..leg.r.left (#1) by rod",
        )


class TestSizes:
    """What to cut: from the reference end, with the difference from plan, the check and the reason."""

    def test_a_dado_is_cut_to_the_leg_that_is_there(self, tmp_path):
        found = solved(tmp_path, "reading,leg.left,leg.right,3 17/32,caliper,\n", ONE_DADO)
        (apron,) = part_sizes(found)
        assert (apron.part, apron.off_plan) == ("apron", True)
        # Cut to plan, the dado is 1/32 = 0.03125 in too narrow for the leg.
        assert apron.note == "cut to plan it would jam by 0.031 in"
        (axis,) = apron.axes
        assert (axis.axis, axis.start) == ("x", "end")
        assert "left/right to fit leg as it is (3 17/32)" in axis.why
        assert "because of #1 leg left..right, 3 17/32 (1/32 more than plan)" in axis.why
        # 3.53125 + 0.002 .. 0.016 has no 32nd in it: 3 17/32 is the leg itself, 3 18/32 = 3.5625.
        by_name = {row[0]: row[1:] for row in axis.rows}
        assert by_name["right"][0].startswith("no 1/32 keeps dado leg: knife it off leg and a 0.008 shim; ")
        assert "left" not in by_name or by_name["left"][2].startswith("[")

    def test_the_check_is_the_difference_of_the_figures_as_laid_out(self, tmp_path):
        def inches(text):
            return sum(Fraction(word) for word in text.split(" + ")[0].split(" - ")[0].split())

        found = solved(tmp_path, FRAMES)
        (apron,) = part_sizes(found)
        rows = [row for row in apron.axes[0].rows if len(row) > 2]
        names = [row[0] for row in rows]
        assert names == ["l.left", "r.left", "r.right"]
        # leg.r, 3.488, takes a dado of 3.490 .. 3.504: 3 1/2. The dado of leg.l has no 32nd: nothing is told from l.right.
        assert [row[3] for row in rows] == [f"[{rows[0][1]}]", "", "[3 1/2]"]
        assert inches(rows[2][1]) - inches(rows[1][1]) == Fraction(7, 2)

    def test_as_planned_takes_one_line(self, tmp_path):
        plan = 'unit = "mm"\n[part.board]\nx = "left 100 hole 200 right"\n'
        (board,) = part_sizes(solved(tmp_path, plan=plan))
        (axis,) = board.axes
        assert (axis.rows, axis.as_planned, axis.why) == ((), "hole 100, right 300", ())

    def test_rough_wood_says_how_much_comes_off(self, tmp_path):
        # 60 1/8 - 60 = 0.125
        found = solved(tmp_path, FRAMES + "rough,apron.l.end,apron.r.end,60 1/8,tape,\n")
        (apron,) = part_sizes(found)
        assert apron.axes[0].rough == ("l.end..r.end is rough, 60 1/8 (#5): take 0.125 in off",)

    def test_a_part_that_has_other_marks_made_runs_from_them(self, tmp_path):
        rows = "reading,apron.left,apron.right,3.5,caliper,\n"
        found = solved(tmp_path, rows, ONE_DADO)
        apron = next(part for part in part_sizes(found) if part.part == "apron")
        assert apron.axes[0].start == "left"
        assert "end 6 the other way" in apron.axes[0].as_planned


class TestContradictions:
    """What cannot all be had: the demands with their lines, the amount, the readings, what gives way."""

    def test_a_hold_against_wood_that_is_gone(self, tmp_path):
        # 60 - 59 1/2 = 0.5
        found = solved(tmp_path, "rough,apron.l.end,apron.r.end,59 1/2,tape,\n")
        (one,) = found.contradictions
        assert contradiction_text(found, one) == (
            "These can't all be had, by 0.500 in: apron l.end..r.end held at 60 (plan.toml:20); "
            "apron l.end..r.end at most 59 1/2, for the wood is gone (#1). The sizes shown give way: "
            "apron l.end..r.end is off by 0.500 in. Or change one of them."
        )

    def test_facts(self, tmp_path):
        # Dados 41 + 2 * 3 1/2 outside to outside can't take legs of 3 1/2 that stand 42 apart: the gap
        # that is left over each leg's outside is 42 - 41 = 1 in too little.
        rows = (
            "reading,leg.l.left,leg.l.right,3 1/2,caliper,\nreading,leg.r.left,leg.r.right,3 1/2,caliper,\n"
            "reading,leg.l.right,leg.r.left,42,tape,\nmade,apron,,,,\n"
        )
        found = solved(tmp_path, rows)
        (one,) = found.contradictions
        text = contradiction_text(found, one)
        assert text.startswith("As far as is known, apron, leg.l and leg.r can't go together as they are made, by 1.000 in: the gap ")
        assert "It rests on #1, #2 and #3." in text

    def test_limits(self, tmp_path):
        # Ends of at least 7 on both sides and 48 between need 62; 60 is held: 2 in too much.
        plan = PLAN.replace("6 (give 1/8) l.left", "7 (7 to 8) l.left")
        plan = plan.replace("r.right 6 (give 1/8) r.end", "r.right 7 (7 to 8) r.end").replace("60 (hold)", "62 (hold)")
        plan = plan.replace("41 r.left", "41 (hold) r.left")
        rows = FRAMES + "rough,apron.l.end,apron.r.end,60,tape,\n"
        found = solved(tmp_path, rows, plan)
        assert found.contradictions
        for one in found.contradictions:
            text = contradiction_text(found, one)
            assert text.startswith("These can't all be had")
            assert "plan.toml:" in text


class TestAssumed:
    """What was taken for granted."""

    def test_made_and_never_read(self, tmp_path):
        found = solved(tmp_path, "made,leg,,,,\n", ONE_DADO)
        (one,) = found.assumed
        # workmanship 1/32 = 0.03125 in, rounded up
        assert assumed_text(found, one) == "leg left..right 3 1/2, ± 0.032: made, never read"

    def test_a_tape_no_better_than_the_saw(self, tmp_path):
        found = solved(tmp_path, "reading,apron.l.end,apron.r.end,60,tape,\n")
        # 1/32 + 0.0005 * 60 = 0.06125 in, against 0.03125
        assert coarse_texts(found) == [
            "#1 apron l.end..r.end: this tape is no better than your cutting (± 0.062 against ± 0.032)"
        ]

    def test_several_by_one_tool_are_told_together(self, tmp_path):
        rows = "reading,apron.l.end,apron.r.end,60,tape,\nreading,apron.l.left,apron.l.right,3.5,tape,\n"
        # 1/32 + 0.0005 * 3.5 = 0.033 in
        assert coarse_texts(solved(tmp_path, rows)) == [
            "#1 and #2: this tape is no better than your cutting (± 0.033 to 0.062 against ± 0.032)"
        ]

    def test_between(self, tmp_path):
        found = solved(tmp_path, "made,leg,,,,\n", ONE_DADO)
        answer = found.between("leg.left", "leg.right")
        assert between_text(found, "leg.left", "leg.right", answer) == (
            "leg left..right   3 1/2 in, ± 0.032, made, never read: how cuts land is in it"
        )


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_titles(tmp_path, unit):
    found = solved(tmp_path, plan=f'unit = "{unit}"\n')
    assert title_text(found) == "This build   0 readings"


def test_what_comes_off_rough_wood_is_what_the_lines_leave(tmp_path):
    """By hand: 698.2 is there and asked for; the nearest line that is no more is 698 at 0.5: 0.2 comes off."""
    plan = (
        'unit = "mm"\nfinest = 0.5\nworkmanship = 0.4\ngive = 1\n[part.panel]\nx = "l 700 r"\n'
        '[part.side]\nx = "l 700 r"\n[keep]\nsame = "panel.l..r = side.l..r, give 0.05"\n'
    )
    rows = "rough,panel.l,panel.r,698.2,rule,\nreading,side.l,side.r,699,caliper,\n"
    said = run("sizes", at=folder_of(tmp_path / "b", plan=plan, rows=rows)).stdout
    assert "l..r is rough, 698.2 (#1): take 0.20 mm off" in said
    assert "698 " in said
    assert "leave it" not in said


def test_what_a_reading_is_off_plan_is_not_rounded_to_a_line(tmp_path):
    """39.3 by caliper of a plan of 40 is 0.7 less, whatever lines are laid out to."""
    (tmp_path / "plan.toml").write_text('unit = "mm"\nfinest = 0.5\n[part.a]\nx = "l 40 r"\n')
    (tmp_path / "log.csv").write_text(
        "no,time,event,from,to,reading,tool,note\n1,2026-03-02T08:00:00+01:00,reading,a.l,a.r,39.3,caliper,\n"
    )
    found = reconcile(load_build(tmp_path))
    assert unchecked_text(found, unchecked(found)[0]) == "#1 a l..r, 39.3 by caliper: 0.7 mm less than plan"


def test_of_rough_wood_read_again_as_it_came_down_only_what_it_is_now_is_told(tmp_path):
    """By hand: 98 is the least that was read; 105 - 98 = 7 came off long ago."""
    plan = 'unit = "mm"\ngive = 1\n[part.panel]\nx = "l 100 r"\n'
    rows = "rough,panel.l,panel.r,105,rule,\nrough,panel.l,panel.r,98,rule,\n"
    said = run("sizes", at=folder_of(tmp_path / "b", plan=plan, rows=rows)).stdout
    assert said.count("is rough") == 1
    assert "l..r is rough, 98 (#2): leave it" in said
