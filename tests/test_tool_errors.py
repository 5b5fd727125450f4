"""What all readings of a tool share: a zero, a scale, found with the sizes.

Held against one plain least squares problem that has the shared errors as unknowns beside the
positions (numpy), against exact design facts, and against sums worked by hand.
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.findings.doubts import _System
from fitsolve.rows import Bounds, Cuts, Network, RowList, Shared
from fitsolve.solve import pieces
from fitsolve.solve.pieces import residuals, solve_pieces

REFERENCES = Path(__file__).parent.parent / "specs/references"
DESIGN = tomllib.loads((REFERENCES / "tools.toml").read_text())["additive_constant"]


def network_of(measured, shared, size):
    """A network of readings alone: nothing is cut, nothing is wished."""
    none, nothing = RowList().rows(), np.zeros(0)
    bounds = Bounds(none, nothing, nothing, np.zeros(0, bool), np.zeros(0, bool))
    cuts = Cuts(np.full(size, -1), np.zeros(size), np.arange(size), 0.0, 0.0)
    lists = dict.fromkeys(("planned", "wishes", "late", "holds", "judged"), none)
    return Network(
        np.zeros(size), np.zeros(size, bool), measured.rows(), bounds=bounds, cuts=cuts, shared=shared, **lists
    )


class Whole:
    """The same readings as one least squares problem: positions, then shared errors, by the pseudo-inverse."""

    def __init__(self, network):
        rows, shared, n = network.measured, network.shared, len(network)
        k = len(shared.u)
        a = np.zeros((len(rows) + k, n + k))
        a[: len(rows), :n] = rows.dense(n) / rows.scale[:, None]
        for row, column, coef in zip(shared.row, shared.column, shared.coef, strict=True):
            a[row, n + column] += coef / rows.scale[row]
        a[len(rows) :, n:] = np.diag(1 / shared.u)
        b = np.concatenate([rows.value / rows.scale, np.zeros(k)])
        inverse = np.linalg.pinv(a)
        self.x, self.covariance = inverse @ b, inverse @ inverse.T
        self.hat = a @ inverse
        self.z = a @ self.x - b


@st.composite
def networks(draw):
    """A few pieces of marks in a row, distances read with two tools, each with what it shares."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    rows, entries, size = RowList(), [], 0
    tools = draw(st.integers(1, 2))
    for _ in range(draw(st.integers(1, 3))):
        n = draw(st.integers(2, 5))
        at = np.sort(rng.uniform(0, 3000, n))
        pairs = [(k, k + 1) for k in range(n - 1)] + [tuple(sorted(rng.choice(n, 2, replace=False))) for _ in range(n)]
        for i, j in pairs:
            tool = int(rng.integers(0, tools + 1))  # the last tool shares nothing
            length, sign = at[j] - at[i], int(rng.choice([-1, 1]))
            row = len(rows.value)
            if tool < tools:
                entries += [(row, 2 * tool, sign * 1.0), (row, 2 * tool + 1, sign * length / 1000)]
            terms = [(size + int(j), float(sign)), (size + int(i), -float(sign))]
            rows.add(terms, rng.normal(0, 1.0), rng.uniform(0.05, 1.0))
        size += n
    columns = [np.array([entry[k] for entry in entries]) for k in range(3)]
    none = np.zeros(0, dtype=np.intp)
    u = np.tile([0.5, 0.2], tools)
    shared = Shared(
        u, columns[0].astype(np.intp), columns[1].astype(np.intp), columns[2].astype(float), none, none, np.zeros(0)
    )
    return network_of(rows, shared, size)


def rows_between(pairs):
    collected = RowList()
    for i, j in pairs:
        collected.add([(j, 1.0), (i, -1.0)], 0.0, 1.0)
    return collected.rows()


@pytest.mark.parametrize("marks", [400, 0], ids=["dense", "sparse"])
@given(networks())
@settings(max_examples=15)
def test_the_sizes_are_those_of_one_least_squares_problem(marks, network):
    before, pieces.DENSE_MARKS = pieces.DENSE_MARKS, marks
    try:
        check_against_whole(network)
    finally:
        pieces.DENSE_MARKS = before


def check_against_whole(network):
    whole, n = Whole(network), len(network)
    solved = list(solve_pieces(network))
    told = solved[0].shared.told
    assert told.value == pytest.approx(whole.x[n:], abs=1e-9)
    assert told.root @ told.root.T == pytest.approx(whole.covariance[n:, n:], abs=1e-10)
    for piece in solved:
        marks = piece.marks.tolist()
        pairs = [(i, j) for i in range(len(marks)) for j in range(i)]
        if not pairs:
            continue
        rows = rows_between(pairs)
        d = np.zeros((len(pairs), n + len(told.u)))
        for k, (i, j) in enumerate(pairs):
            d[k, marks[j]], d[k, marks[i]] = 1.0, -1.0
        assert rows.of(piece.x) == pytest.approx(d @ whole.x, abs=1e-8)
        covariance = d @ whole.covariance @ d.T
        assert piece.advice.variance(rows) == pytest.approx(np.diagonal(covariance), abs=1e-9)
        (ours,) = piece.advice.covariances(rows, [np.arange(len(rows))])
        assert ours == pytest.approx(covariance, abs=1e-9)
        influence = piece.advice.influence(d[0, marks])
        assert float(influence @ influence) == pytest.approx(covariance[0, 0], abs=1e-9)
        checked, chosen = residuals(piece), piece.chosen["measured"]
        assert checked.residual_mm / piece.network.measured.scale == pytest.approx(whole.z[chosen], abs=1e-8)
        assert checked.redundancy == pytest.approx(1 - np.diagonal(whole.hat)[chosen], abs=1e-8)


class _Nothing:
    """A build of which only the shared errors are asked for."""

    def __init__(self, network):
        from fitsolve.graph import SharedError, Source

        class graph:
            measured = tuple(Source("reading", k) for k in range(len(network.measured)))
            shared = tuple(SharedError("tape", "zero", u) for u in network.shared.u.tolist())

        self.graph = graph


@given(networks())
@settings(max_examples=40)
def test_residuals_go_together_as_in_one_least_squares_problem(network):
    whole = Whole(network)
    read = [piece for piece in solve_pieces(network) if np.any(piece.shared.weights)]
    assume(read)  # without a reading there is no system
    system = _System(_Nothing(network), read)
    order = np.concatenate(
        [*(piece.chosen["measured"] for piece in read), len(network.measured) + np.arange(len(network.shared.u))]
    )
    assert system.z == pytest.approx(whole.z[order], abs=1e-8)
    assert system.redundancy == pytest.approx(1 - np.diagonal(whole.hat)[order], abs=1e-8)
    for k in range(len(order)):
        assert system.column(k) == pytest.approx(whole.hat[order, order[k]], abs=1e-8)


# -- builds ------------------------------------------------------------------------------------

BOARD = """
format = 1
unit = "mm"
finest = 0.1
workmanship = 1
[tool.stick]
good_to = 0.2
{tool}
[tool.gauge]
good_to = 0.02
[part.board]
x = "{run}"
z = "low 300 high"
"""


def board(points, tool, readings):
    """A board with points 500 apart, and readings (from, to, length, tool)."""
    run = " 500 ".join(points)
    rows = [
        fitsolve.Row(
            time="2025-11-25T14:10:00+00:00",
            event="compare" if ".." in a else "reading",
            start="..".join(f"board.{one}" for one in a.split("..")),
            end="..".join(f"board.{one}" for one in b.split("..")),
            reading=f"{length:.6f}",
            tool=by,
        )
        for a, b, length, by in readings
    ]
    plan = read_plan(BOARD.format(tool=tool, run=run))
    return fitsolve.reconcile(fitsolve.Build(plan=plan, log=rows))


def spacings(points, off=0.0):
    return [
        (points[i], points[j], 500.0 * (j - i) + off, "stick")
        for i in range(len(points))
        for j in range(i + 1, len(points))
    ]


class TestAdditiveConstant:
    """All spacings of points on a line, read with an unknown zero."""

    # [additive_constant] of specs/references/tools.toml: with 6 points and all 15 spacings once, the
    # cofactor of the zero is 0.3; a zero given as 0 +- 10 mm (u = 5) leaves 1 / (1 / (0.3 u^2) + 1 / 25),
    # u = 0.1 of a reading.
    def test_six_points_find_the_zero(self):
        found = board("abcdef", "zero = 10", spacings("abcdef", off=0.8))
        (tool,) = found.tools
        variance = 1 / (1 / (DESIGN["six_points_once"] * 0.1**2) + 1 / 25)
        assert tool.expanded == pytest.approx(2 * math.sqrt(variance), rel=1e-9)
        assert tool.error == pytest.approx(0.8, abs=1e-3 * 0.8)
        assert tool.told
        # The sizes come out right, where without a zero they would be 0.8 mm too long here and there.
        assert found.between("board.a", "board.b").distance_mm == pytest.approx(500, abs=1e-3)
        assert not any(doubt.suspect for doubt in found.doubts)

    def test_read_twice_the_zero_is_twice_as_sure(self):
        once = spacings("abcdef", off=0.8)
        (tool,) = board("abcdef", "zero = 10", once + once).tools
        assert tool.expanded == pytest.approx(
            2 * math.sqrt(1 / (1 / (DESIGN["six_points_twice"] * 0.1**2) + 1 / 25)), rel=1e-9
        )

    def test_three_points_by_hand(self):
        # z = AC - (AB + BC) = 1000.5 - (500.1 + 500.2) is -z: r = d + z gives AB + BC - AC = z = -0.2.
        readings = [("a", "b", 500.1, "stick"), ("b", "c", 500.2, "stick"), ("a", "c", 1000.5, "stick")]
        (tool,) = board("abc", "zero = 1000", readings).tools
        assert tool.error == pytest.approx(-0.2, abs=1e-4)
        assert tool.expanded == pytest.approx(2 * math.sqrt(3) * 0.1, rel=1e-4)

    def test_without_a_loop_nothing_tells_it(self):
        found = board("ab", "zero = 2", [("a", "b", 500.8, "stick")])
        (tool,) = found.tools
        assert (tool.error, tool.told) == (pytest.approx(0.0, abs=1e-12), False)
        # U of the distance: the reading's 0.2 and the zero's 2.
        assert found.between("board.a", "board.b").expanded_mm == pytest.approx(math.hypot(0.2, 2.0), rel=1e-9)


class TestScale:
    """A scale cannot be found without a known length."""

    def test_spacings_alone_do_not_find_it(self):
        (tool,) = board("abcdef", "scale = 0.002", spacings("abcdef")).tools
        assert tool.expanded == pytest.approx(2.0, rel=1e-6)  # 2 mm in a metre, as given
        assert not tool.told

    def test_one_known_length_does(self):
        # 2000 by gauge (0.02), 2001 by stick (0.2): 0.5 mm in a metre, U = hypot(0.2, 0.02) / 2.
        readings = [("a", "e", 2000.0, "gauge"), ("a", "e", 2001.0, "stick")]
        (tool,) = board("abcde", "scale = 0.02", readings).tools
        assert tool.error == pytest.approx(0.5, abs=1e-3)
        assert tool.expanded == pytest.approx(math.hypot(0.2, 0.02) / 2.001, rel=1e-3)
        assert tool.told


class TestWhatIsShared:
    """Its correlation is carried into every difference."""

    def test_it_cancels_in_the_difference_of_two_widths(self):
        # 0.1 mm a width, 0.5 mm shared (k = 2): their difference is good to 0.14 mm, not 0.72.
        found = board("abc", "zero = 0.5", [("a", "b", 500.0, "stick"), ("b", "c", 503.0, "stick")])
        piece = found.solved.pieces[int(found.solved.piece_of[0])]
        index = found.assembly.index
        rows = RowList()
        inside = [int(found.solved.number[index[f"board.{name}"]]) for name in "abc"]
        rows.add([(inside[1], 2.0), (inside[0], -1.0), (inside[2], -1.0)], 0.0, 1.0)
        assert 2 * math.sqrt(piece.advice.variance(rows.rows())[0]) == pytest.approx(math.hypot(0.2, 0.2), rel=1e-9)

    def test_a_zero_cancels_in_a_comparison(self):
        found = board("abc", "zero = 5", [("a..b", "b..c", 0.8, "stick")])
        assert found.tools == ()

    def test_what_one_axis_tells_another_uses(self):
        # The loop along x finds 0.8; the only reading along z is then 0.8 less.
        found = board("abcdef", "zero = 10", [*spacings("abcdef", off=0.8), ("low", "high", 300.8, "stick")])
        answer = found.between("board.low", "board.high")
        assert answer.distance_mm == pytest.approx(300.0, abs=2e-3)
        # Its U: the reading's own 0.2 and what is left of the zero.
        assert answer.expanded_mm == pytest.approx(math.hypot(0.2, found.tools[0].expanded), rel=1e-9)

    def test_rough_wood_read_with_it_is_as_long_as_it_is(self):
        readings = spacings("abcdef", off=0.8)
        plan = BOARD.format(
            tool="zero = 10", run=" 500 ".join("abcdef")
        ) + '[part.rail]\nx = "l 299.5 r"\ngive = 2\n'.replace("give = 2\n", "")
        time = "2025-11-25T14:10:00+00:00"
        rows = [
            fitsolve.Row(time=time, event="reading", start=f"board.{a}", end=f"board.{b}", reading=f"{x}", tool=t)
            for a, b, x, t in readings
        ]
        rows.append(fitsolve.Row(time=time, event="rough", start="rail.l", end="rail.r", reading="299.8", tool="stick"))
        found = fitsolve.reconcile(fitsolve.Build(plan=read_plan(plan), log=rows))
        (size,) = [one for one in found.distances if one.part == "rail"]
        # 299.8 by a stick that reads 0.8 long is 299.0: 299.5 cannot be had any more.
        assert size.size_mm == pytest.approx(299.0, abs=2e-3)


def test_a_slip_is_still_found_and_the_tool_not_blamed():
    readings = spacings("abcdef", off=0.8)
    a, b, length, tool = readings[4]
    readings[4] = (a, b, length + 10.0, tool)
    found = board("abcdef", "zero = 2", readings)
    first = found.suspicions[0]
    assert (first.worst.kind, first.worst.number) == ("reading", 5)
    assert first.worst.error_mm == pytest.approx(10.0, abs=0.1)
    assert first.rest_agrees


def test_a_tool_that_scatters_less_than_stated_is_told_in_a_large_piece_too():
    """Each of 410 distances read twice: a pair by itself has one degree of freedom and the square sum
    (a - b)^2 / (2 u^2), so the factor is the root of their mean."""
    count, u = 410, 0.1
    rng = np.random.default_rng(3)
    twice = 500.0 + rng.normal(0, 0.6 * u, (count, 2)).round(6)
    points = [f"p{k}" for k in range(count + 1)]
    rows = [(points[k], points[k + 1], float(twice[k, j]), "stick") for k in range(count) for j in range(2)]
    (told,) = board(points, "", rows).agreement.tools
    expected = math.sqrt(float(np.square(twice[:, 0] - twice[:, 1]).mean()) / 2) / u
    assert (told.verdict, told.readings) == ("less", 2 * count)
    assert told.factor == pytest.approx(expected, rel=1e-9)
    # 32 seeded sums stand for 820 columns: |R v|^2 is twice a count of pairs, chance a half, so it has sd sqrt(410).
    assert told.freedom == pytest.approx(count, abs=4 * math.sqrt(count / 32) * 1.1)


class TestNothingIsProvenBelowTheStep:
    """Equal repeats are said to scatter less than stated only where the step they are read to allows it."""

    def told(self, readings, good_to):
        run = "a 20 b 20 c"
        rows = [fitsolve.Row(time="2025-11-25T14:10:00+00:00", event="reading", start="board.a", end=f"board.{end}",
                             reading=text, tool="stick") for end, text in readings]  # fmt: skip
        plan = 'unit = "in"\nfinest = "1/32"\nworkmanship = "1/32"\ngive = "1/16"\n'
        plan += f'[tool.stick]\ngood_to = "{good_to}"\n[part.board]\nx = "{run}"\n'
        (one,) = fitsolve.reconcile(fitsolve.Build(plan=read_plan(plan), log=rows)).agreement.tools
        return one

    READ_TO_32 = [("b", "20 1/32")] * 40 + [("c", "40 1/32")] * 2

    def test_equal_repeats_to_the_step_the_tool_is_good_to_say_nothing(self):
        # u = 1/64 = half a step: what was read may lie just so far beside its line, 40 times over.
        one = self.told(self.READ_TO_32, "1/32")
        assert one.chance > 0.9999
        assert one.verdict == "as stated"

    def test_of_a_tool_good_to_four_steps_they_do(self):
        # u = 1/16 = 2 steps: half a step is a quarter of u, so they scatter a quarter as far at the most. With n = 42
        # of two distances, 40 degrees of freedom: 40 / 16 = 2.5 lies far under the 0.0005 point of chi-square, 16.9.
        one = self.told(self.READ_TO_32, "1/8")
        assert one.verdict == "less"
        assert one.factor_most == pytest.approx(0.25, rel=0.01)

    def test_decimals_are_read_to_their_last_place(self):
        readings = [("b", f"20.00{k % 3}") for k in range(30)]
        assert self.told(readings, "1/32").verdict == "less"

    def test_of_one_number_alone_no_step_is_known(self):
        assert self.told([("b", "20")] * 40, "1/32").verdict == "as stated"
        assert self.told([("b", "508 mm")] * 40, "1/32").verdict == "as stated"


@pytest.mark.parametrize(("by_the_worn", "said"), [
    (301, "The worn reads "),          # two at 300 by caliper: 1 mm long, as it is given
    (340, "The worn would read "),     # 40 mm long where it is given 1: no tool reads so, and STOP doubts it
])  # fmt: skip
def test_what_a_tool_reads_long_is_no_fact_where_it_is_doubted_itself(by_the_worn, said):
    from fitsolve.report.doubtwords import tool_texts

    tool = {"worn": {"good_to": 0.3, "zero": 1}}
    plan = fitsolve.Plan(unit="mm", tool=tool, part={"a": {"x": "l 300 mid 300 r"}})
    rows = [
        fitsolve.Row(event="reading", start=start, end=end, reading=length, tool=tool)
        for length, tool in ((300, "caliper"), (by_the_worn, "worn"))
        for start, end in (("a.l", "a.mid"), ("a.mid", "a.r"))
    ]
    found = fitsolve.reconcile(fitsolve.Build(plan, rows))
    (text,) = tool_texts(found)
    assert text.startswith(said)
    assert ("see STOP" in text) == bool(found.suspicions) == (by_the_worn == 340)
