"""Runs added up: misprints shown with both sums, rounding spread, equal distances worked out."""

import itertools
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plans import at, gap, problems, said, warnings, worked

APRON = """unit = "in"
[part.apron]
x = [
  "left-end 60 right-end",
  "left-end 6 a 3 1/2 b 41 1/2 c 3 1/2 d 6 right-end",
]"""


def mm(part, head="finest = 1\ngive = 1\n"):
    return f'unit = "mm"\n{head}[part.a]\n{part}'


class TestMisprints:
    """A distance given twice that does not add up, by half of finest or more, is a misprint."""

    def test_both_sums_are_shown_with_their_lines(self):
        # The text is that of the project's style guide; 6 + 3 1/2 + 41 1/2 + 3 1/2 + 6 = 60 1/2.
        assert said(APRON) == [
            "plan.toml:5: the two runs from left-end to right-end of part.apron don't agree\n"
            "    line 4:  60                             = 60 in\n"
            "    line 5:  6 + 3 1/2 + 41 1/2 + 3 1/2 + 6 = 60 1/2 in   (1/2 in more)\n"
            "  One of them is a misprint: correct it, then run again."
        ]

    def test_without_a_file_runs_are_counted(self):
        from fitsolve.build.place import assemble
        from fitsolve.build.plan import Plan
        from fitsolve.errors import BuildError

        plan = Plan(unit="mm", part={"a": {"x": ["l 60 r", "l 30 n 29 r"]}})
        with pytest.raises(BuildError) as caught:
            assemble(plan)
        assert str(caught.value) == (
            "part.a.x[2]: the two runs from l to r of part.a don't agree\n"
            "    run 1:  60      = 60 mm\n"
            "    run 2:  30 + 29 = 59 mm   (1 mm less)\n"
            "  One of them is a misprint: correct it, then run again."
        )

    def test_only_the_stretch_that_is_given_twice_is_summed(self):
        (text,) = said(mm('x = ["l 5 p 20 q 5 r", "k 7 p 10 n 12 q 8 s"]'))
        assert "from p to q of part.a" in text
        assert "line 5:  20      = 20 mm" in text
        assert "line 5:  10 + 12 = 22 mm   (2 mm more)" in text

    def test_a_way_round_through_two_runs_names_both_lines(self):
        (text,) = said(mm('x = ["l 10 n",\n"n 10 r",\n"l 25 r"]'))
        assert "lines 5, 6:  10 + 10 = 20 mm" in text
        assert "line 7:      25      = 25 mm   (5 mm more)" in text

    def test_both_ways_go_forward_where_the_loop_has_two_such(self):
        # By hand: 3 x 20 = 60 against 63; 58 + 3 = 61 against 60.
        (text,) = said(mm('x = ["l (equal) p (equal) q (equal) r", "p 20 q", "l 63 r"]'))
        assert "from l to r" in text
        assert "20 + 20 + 20 = 60 mm" in text
        assert " 63           = 63 mm" in text
        (text,) = said(mm('x = ["l 60 r",\n"a 3 r",\n"l 58 a"]'))
        assert "line 5:      60     = 60 mm" in text
        assert "58 + 3 = 61 mm   (1 mm more)" in text

    def test_a_run_that_goes_the_wrong_way_round_is_one_too(self):
        (text,) = said(mm('x = ["l 10 n 10 r", "r 10 n"]'))
        assert "from r to n" in text
        assert "-10" in text

    def test_every_misprint_is_said_at_once(self):
        texts = said(mm('x = ["l 60 r", "l 50 r"]\ny = ["f 60 b", "f 50 b"]\nz = ["u 3 o", "u 3 n 3 o"]'))
        assert len(texts) == 3

    def test_a_long_sum_is_shown_by_its_ends_and_many_misprints_are_counted(self):
        chain = " ".join(f"m{k} 10" for k in range(30)) + " m30"
        overall = ", ".join(f'"m0 {10 * k + 5} m{k}"' for k in range(2, 31))
        texts = said(mm(f'x = ["{chain}", {overall}]'))
        assert len(texts) == 11
        assert (
            "line 5:  10 + 10 + 10 + 10 + 10 + 10 + ... + 10 + 10 + 10 + 10 + 10 + 10"
            in said(mm(f'x = ["{chain}", "m0 305 m30"]'))[0]
        )
        assert any("19 more sums along x of part.a don't agree" in text for text in texts)

    @pytest.mark.parametrize(("off", "misprint"), [("0.49", False), ("0.5", True)])
    def test_half_of_finest_is_where_rounding_ends(self, off, misprint):
        found = problems(mm(f'x = ["l 60 r", "l 60{off[1:]} r"]'))
        assert [p.level for p in found if p.level != "notice"] == (["error"] if misprint else [])


class TestRounding:
    """Below half of finest a difference is rounding: said once for an axis, spread by least squares."""

    def test_it_is_spread_by_give_and_held_distances_stay(self):
        # Hand-worked: 20 + 20 + 20.2 = 60.2 against 60; the middle 20 holds. Misclosure 0.2 over
        # three distances of give 1, 2 and 1 (the overall one): shares 1 : 4 : 1 of give squared.
        plan = worked(mm('x = ["l 60 r", "l 20 p 20 (hold) q 20.2 (give 2) r"]'))
        assert gap(plan, "a.p", "a.q") == pytest.approx(20, abs=1e-12)
        assert gap(plan, "a.l", "a.p") == pytest.approx(20 - 0.2 / 6, abs=1e-9)
        assert gap(plan, "a.q", "a.r") == pytest.approx(20.2 - 4 * 0.2 / 6, abs=1e-9)
        assert gap(plan, "a.l", "a.r") == pytest.approx(60 + 0.2 / 6, abs=1e-9)

    def test_it_is_said_once_for_an_axis(self):
        text = mm('x = ["l 60 r", "l 30 p 30.1 r", "l 30.2 q 30 r"]\ny = ["f 10 b", "f 10.3 b"]')
        notices = [p for p in problems(text) if "rounding" in p.what]
        assert [(p.level, p.place.line) for p in notices] == [("notice", 5), ("notice", 6)]
        assert "0.2 mm" in notices[0].what

    def test_distances_agree_with_where_marks_lie(self):
        plan = worked(mm('x = ["l 60 r", "l 30 p 30.1 r", "l 30.2 q 30 r", "p 0.3 q"]'))
        for d in plan.distances:
            lies = plan.marks[d.end].plan_mm - plan.marks[d.start].plan_mm
            assert d.plan_mm == pytest.approx(d.sign * lies, abs=1e-12)

    @given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5), st.integers(-9, 9)), min_size=1, max_size=9))
    def test_it_is_what_a_general_least_squares_solver_finds(self, extra):
        # numpy.linalg.lstsq on the same rows, positions relative to the first mark.
        places = [0, 100, 200, 300, 400, 500]
        runs = ["m0 100 m1 100 m2 100 m3 100 m4 100 m5"]
        rows = [(k, k + 1, 100.0) for k in range(5)]
        seen = {(k, k + 1) for k in range(5)}
        for a, b, off in extra:
            if a < b and (a, b) not in seen:
                seen.add((a, b))
                length = places[b] - places[a] + off / 1000
                runs.append(f"m{a} {length:.3f} m{b}")
                rows.append((a, b, length))
        plan = worked(mm(f"x = {runs!r}"))
        matrix = np.zeros((len(rows), 6))
        for k, (a, b, _) in enumerate(rows):
            matrix[k, b], matrix[k, a] = 1, -1
        expected = np.linalg.lstsq(matrix[:, 1:], np.array([row[2] for row in rows]), rcond=None)[0]
        found = [gap(plan, "a.m0", f"a.m{k}") for k in range(1, 6)]
        assert found == pytest.approx(list(expected), abs=1e-9)

    def test_large_parts_are_spread_the_same_way_as_small_ones(self):
        # A chain of 400 distances of 10 that is 0.4 too long overall: each takes 0.4 / 401.
        chain = " ".join(f"m{k} 10" for k in range(400)) + " m400"
        plan = worked(mm(f'x = ["m0 4000.4 m400", "{chain}"]'))
        assert gap(plan, "a.m0", "a.m1") == pytest.approx(10 + 0.4 / 401, abs=1e-9)
        assert gap(plan, "a.m0", "a.m400") == pytest.approx(4000 + 0.4 * 400 / 401, abs=1e-9)


class TestEqualDistances:
    """(equal) distances of a run share one value, worked out exactly from an overall run."""

    def test_the_value_is_exact(self):
        plan = worked('unit = "in"\n[part.a]\nx = ["l 10 r", "l (equal) p 1/2 q (equal) s (equal) r"]')
        # (10 - 1/2) / 3 in
        assert gap(plan, "a.l", "a.p") == float(Fraction(19, 6) * Fraction(254, 10))

    def test_one_value_may_lead_to_another(self):
        plan = worked(mm('x = ["p (equal) k (equal) q", "l (equal) p (equal) q (equal) r", "l 90 r"]'))
        assert [gap(plan, "a.l", f"a.{m}") for m in ("p", "k", "q")] == pytest.approx([30, 45, 60])

    def test_a_stretch_between_any_two_known_marks_will_do(self):
        plan = worked(mm('x = ["l 60 r", "p 10 l", "p 10 l (equal) n (equal) r 7 s"]'))
        assert gap(plan, "a.l", "a.n") == pytest.approx(30)

    def test_the_other_marks_follow(self):
        plan = worked(mm('x = ["l 60 r", "k (equal) l (equal) n (equal) r"]'))
        assert gap(plan, "a.k", "a.l") == pytest.approx(30)

    def test_conditions_stand_with_them(self):
        plan = worked(mm('x = ["l 60 r", "l (equal, give 3) n (equal, hold) r"]'))
        assert [(d.give_mm, d.hold) for d in plan.distances] == [(1, False), (3, False), (1, True)]

    def test_what_nothing_fixes_is_said(self):
        (text,) = said(mm('x = "l (equal) n (equal) r"'))
        assert text == (
            "plan.toml:5: part.a.x: nothing says how long the equal distances are together\n"
            "    l (equal) n (equal) r\n"
            "      ^^^^^^^\n"
            "  Give it overall in a run of its own, as in: l 12 r"
        )

    def test_where_nothing_is_left_both_numbers_are_said(self):
        (text,) = said(mm('x = ["l 60 r", "l (equal) p 70 q (equal) r"]'))
        assert "from l to r it is 60 mm, and the other distances take 70 mm" in text

    def test_two_overall_runs_that_differ_are_a_misprint(self):
        (text,) = said(mm('x = ["l 60 r", "l (equal) n (equal) r", "l 20 n"]'))
        assert "don't agree" in text


class TestDistancesInTwoRuns:
    """A distance that stands in two runs counts once; two different conditions are an error."""

    def test_a_condition_on_one_of_them_counts(self):
        plan = worked(mm('x = ["l 60 (hold) r", "l 60 (finest 2) r 5 s", "l 60 r 5 s"]'))
        assert len(plan.distances) == 2
        assert (plan.distances[0].hold, plan.distances[0].finest_mm) == (True, 2)

    @pytest.mark.parametrize(
        ("one", "other", "clash"),
        [("give 1", "give 2", "give"), ("hold", "give 2", "hold"), ("1 to 9", "2 to 9", "limits")],
    )
    def test_two_different_ones_are_refused(self, one, other, clash):
        (problem,) = problems(mm(f'x = ["l 5 ({one}) r", "l 5 ({other}) r"]'))
        assert problem.what == (f"the distance from l to r stands in two runs with different conditions ({clash})")

    def test_the_same_one_twice_is_fine(self):
        assert warnings(mm('x = ["l 5 (give 2) r", "l 5 (give 2) r"]')) == []

    def test_a_length_outside_its_own_limits_is_a_warning(self):
        (what,) = warnings(mm('x = "l 5 (6 to 9) r"'))
        assert what == "the plan distance from l to r is 5 mm, outside its own limits: 6 mm to 9 mm"


class TestRunsHangTogether:
    """All runs of one axis of a part share marks, and a mark lies along one axis."""

    def test_a_run_that_shares_no_mark_says_what_to_tie(self):
        (text,) = said(mm('x = ["l 60 r", "p 5 q"]'))
        assert text.startswith("plan.toml:5: part.a.x: nothing says where p lies along x of part.a")
        assert "Tie one of its marks to l, as in: l 4 p" in text

    def test_a_mark_on_two_axes_is_refused(self):
        (problem,) = problems(mm('x = "l 60 r"\ny = "l 60 b"'))
        assert problem.what == "l stands along x and along y of part.a"
        assert problem.place.line == 6

    def test_a_single_mark_is_enough(self):
        plan = worked(mm('x = "middle"\ny = "f 3 b"'))
        assert plan.marks[plan.index["a.middle"]].outward == 0
        assert plan.runs[0] == (plan.index["a.middle"],)

    def test_runs_far_apart_may_be_tied_by_a_third(self):
        plan = worked(mm('x = ["l 60 r", "p 5 q", "q 10 l"]'))
        assert at(plan, "a.p") == pytest.approx(at(plan, "a.l") - 15)


@st.composite
def a_part_and_its_places(draw):
    """Marks at whole places along a line, and runs through some of them that tie all together."""
    places = sorted(draw(st.lists(st.integers(0, 400), min_size=2, max_size=8, unique=True)))
    marks = [(f"m{k}", place) for k, place in enumerate(places)]
    chosen = [marks] + draw(st.lists(st.lists(st.sampled_from(marks), min_size=2, unique=True).map(sorted), max_size=3))
    runs = []
    for some in chosen:
        some = sorted(some, key=lambda mark: mark[1])
        text = some[0][0]
        for (_, before), (name, place) in itertools.pairwise(some):
            text += f" {Fraction(place - before, 8)} {name}"
        runs.append(text)
    return dict(marks), draw(st.permutations(runs))


@given(a_part_and_its_places())
def test_runs_in_any_order_put_marks_where_they_were(part):
    places, runs = part
    plan = worked(f'unit = "in"\n[part.a]\nx = {list(runs)!r}')
    for name, place in places.items():
        assert gap(plan, "a.m0", f"a.{name}") == pytest.approx((place - places["m0"]) / 8 * 25.4, abs=1e-9)
    assert warnings(f'unit = "in"\n[part.a]\nx = {list(runs)!r}') == []
