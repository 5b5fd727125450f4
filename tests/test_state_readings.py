"""What one row of the log says: the equation, its sign, its tool; and when it is refused.

The assembly is the one of `state_bench`; every expected equation is written down from its plan
by hand: x_to - x_from = + reading where `to` lies further along the axis, else - reading.
"""

from __future__ import annotations

import pytest
from state_bench import TOOLS, bench, errors, log_of, names_in, said, settled, with_station

from fitsolve.build.logtext import Row
from fitsolve.build.state import MarkState, objections, settle

BENCH = bench()


def equation(line: str, assembly=BENCH) -> tuple[dict[str, float], float]:
    """What a log of one row says."""
    state = settled(line, assembly)
    assert [str(p) for p in errors(state)] == []
    ((_, terms, value),) = said(assembly, state)
    return terms, value


def refusal(line: str, assembly=BENCH) -> list[str]:
    """Why a log of one row says nothing: the first line of each problem."""
    state = settled(line, assembly)
    assert state.readings == ()
    assert state.rough == ()
    assert set(state.marks) == {MarkState.UNCUT}
    return [str(problem).splitlines()[0] for problem in errors(state)]


class TestSigns:
    """Readings have no sign; it comes from the plan."""

    def test_along_the_axis_and_against_it(self):
        terms = {"leg.a.inner": 1, "leg.a.outer": -1}
        assert equation("reading,leg.a.outer,leg.a.inner,99.5,stick") == (terms, 99.5)
        terms = {"leg.a.inner": -1, "leg.a.outer": 1}
        assert equation("reading,leg.a.inner,leg.a.outer,99.5,stick") == (terms, -99.5)

    def test_across_parts_that_the_plan_ties(self):
        terms = {"leg.b.inner": 1, "leg.a.inner": -1}
        assert equation("reading,leg.a.inner,leg.b.inner,801,stick") == (terms, 801)

    def test_where_the_plan_does_not_tie_the_parts_from_counts_as_before_to(self):
        terms = {"loose.l": 1, "leg.a.inner": -1}
        assert equation("reading,leg.a.inner,loose.l,12,stick") == (terms, 12)
        terms = {"loose.l": -1, "leg.a.inner": 1}
        assert equation("reading,loose.l,leg.a.inner,12,stick") == (terms, 12)

    def test_the_unit_is_the_builds_unless_the_cell_has_its_own(self):
        assert equation('reading,leg.a.outer,leg.a.inner,"3 15/16 in",stick')[1] == pytest.approx(
            3.9375 * 25.4
        )


class TestFlush:
    """Where marks lie flush in the plan the row must say which stands proud."""

    @pytest.mark.parametrize(
        ("line", "value"),
        [
            # the head is the top end of the leg: proud means up, x_head - x_top = +0.7
            ("reading,leg.a.head,apron.front.top,0.7,stick,proud leg.a.head", -0.7),
            ("reading,leg.a.head,apron.front.top,0.7,stick,proud leg.a", -0.7),
            ("reading,leg.a.head,apron.front.top,0.7,stick,proud apron.front: by a hair", 0.7),
            ("lean,apron.front.top,leg.a.head,0.7,stick,Proud leg.a.", 0.7),
            ("reading,leg.a.head,apron.front.top,0,stick", 0.0),
        ],
    )
    def test_the_proud_one_lies_further_out(self, line, value):
        assert equation(line)[1] == value

    def test_at_the_low_end_further_out_is_down(self):
        # both feet at 0, facing down: x_a.foot - x_b.foot = -0.4 when leg.a's stands proud
        terms, value = equation("reading,leg.b.foot,leg.a.foot,0.4,stick,proud leg.a")
        assert (terms, value) == ({"leg.a.foot": 1, "leg.b.foot": -1}, -0.4)

    @pytest.mark.parametrize(
        ("note", "what"),
        [
            ("", "leg.a.head and apron.front.top lie flush in the plan: which stands proud?"),
            ("proud", "leg.a.head and apron.front.top lie flush in the plan: which stands proud?"),
            ("proud leg.b", '"leg.b" does not say which of the two stands proud'),
        ],
    )
    def test_else_it_is_refused(self, note, what):
        assert refusal(f"reading,leg.a.head,apron.front.top,0.7,stick,{note}") == [f"log.csv:2: {what}"]

    def test_a_mark_that_faces_neither_way_cannot_stand_proud(self):
        line = "reading,leg.b.back,shelf.edge,0.7,stick,proud shelf"
        assert refusal(line) == ["log.csv:2: shelf.edge faces neither way along y: which way is out?"]

    def test_a_lean_between_stations_of_one_edge(self):
        assembly = with_station(with_station(BENCH, "leg.a.inner", "foot"), "leg.a.inner", "head")
        line = "lean,leg.a.inner@foot,leg.a.inner@head,1.5,stick,proud leg.a.inner@head"
        # the inner face of leg.a looks to the right: x_head - x_foot = +1.5
        assert equation(line, assembly) == ({"leg.a.inner@head": 1, "leg.a.inner@foot": -1}, 1.5)
        line = line.replace("proud leg.a.inner@head", "proud leg.a")
        assert refusal(line, assembly) == ['log.csv:2: "leg.a" does not say which of the two stands proud']


class TestGaps:
    """A reading between two marks that a joint brings together is its gap, never negative."""

    @pytest.mark.parametrize(
        ("line", "terms"),
        [
            # butt: gap = edge (upper) - back (lower)
            # housing: gaps = tongue low - socket low, socket high - tongue high
            ("reading,leg.a.back,shelf.edge,0.2,stick", {"shelf.edge": 1, "leg.a.back": -1}),
            (
                "reading,leg.a.outer,apron.front.l.dado-o,0.2,stick",
                {"leg.a.outer": 1, "apron.front.l.dado-o": -1},
            ),
            (
                "reading,apron.front.r.dado-o,leg.b.outer,0.2,stick",
                {"apron.front.r.dado-o": 1, "leg.b.outer": -1},
            ),
        ],
    )
    def test_either_way_round(self, line, terms):
        event, start, end, *rest = line.split(",")
        for first, second in ((start, end), (end, start)):
            found, value = equation(",".join([event, first, second, *rest]))
            assert {mark: coef * value for mark, coef in found.items()} == {
                mark: coef * 0.2 for mark, coef in terms.items()
            }

    def test_the_contact_is_marked_as_read(self):
        state = settled("reading,leg.a.back,shelf.edge,0.2,stick\nreading,leg.b.face,leg.b.back,99,stick")
        assert {BENCH.contacts[number].marks for number in state.gap_read} == {
            (BENCH.index["leg.a.back"], BENCH.index["shelf.edge"])
        }


class TestComparisons:
    """Events compare and gang: spans count positive as they lie in the plan."""

    def test_the_first_span_is_the_longer(self):
        terms, value = equation("compare,leg.a.inner..outer,leg.b.outer..leg.b.inner,0.8,stick")
        # leg.a: outer 0, inner 100; leg.b: inner 900, outer 1000
        assert terms == {"leg.a.inner": 1, "leg.a.outer": -1, "leg.b.outer": -1, "leg.b.inner": 1}
        assert value == 0.8

    def test_the_second_mark_stands_beside_the_first_or_anywhere_in_the_part(self):
        terms, _ = equation("compare,apron.front.l.dado-o..dado-i,apron.front.l.dado-o..r.dado-o,0,stick")
        assert terms == {"apron.front.l.dado-i": 1, "apron.front.r.dado-o": -1, "apron.front.l.dado-o": 0}

    def test_a_gang_is_the_sum_of_its_pieces(self):
        expected = {"rail.a.top": 1, "rail.a.bottom": -1, "rail.b.top": 1, "rail.b.bottom": -1}
        assert equation("gang,rail.a.bottom..top + rail.b.top..bottom,,160.5,stick") == (expected, 160.5)
        assert equation("gang,rail.*.bottom..top,,160.5,stick") == (expected, 160.5)
        assert equation("gang,rail.*.bottom..rail.*.top,,160.5,stick") == (expected, 160.5)

    @pytest.mark.parametrize(
        ("line", "what"),
        [
            ("compare,leg.a.outer,leg.b.inner..outer,1,stick", '"leg.a.outer" is no span'),
            (
                "compare,leg.a.outer..back,leg.b.inner..outer,1,stick",
                "leg.a.outer lies along x, leg.a.back along y",
            ),
            ("compare,leg.a.outer..inner,leg.a.inner..outer,1,stick", "the two spans are one and the same"),
            (
                "gang,rail.a.top..rail.a.top,,1,stick",
                "rail.a.top and rail.a.top lie flush in the plan: that is no span",
            ),
            ("gang,rail.*.bottom..top + rail.a.top..bottom,,1,stick", "one span stands in the stack twice"),
            ("gang,rale.*.bottom..top,,1,stick", 'the plan has no mark "rale.*.bottom"'),
            ("gang,rail.*.bottom..tip,,1,stick", 'the plan has no mark "tip"'),
            ("gang,,,1,stick", '"" is no span'),
        ],
    )
    def test_what_is_no_span_is_refused(self, line, what):
        assert refusal(line) == [f"log.csv:2: {what}"]


class TestAcross:
    """Only what changes when parts shift against each other says how they lie."""

    @pytest.mark.parametrize(
        ("line", "across"),
        [
            ("reading,leg.a.outer,leg.a.inner,100,stick", False),
            ("reading,leg.a.inner,leg.b.inner,800,stick", True),
            ("compare,leg.a.outer..inner,leg.b.inner..outer,1,stick", False),
            ("compare,leg.a.inner..leg.b.inner,apron.front.l.dado-i..r.dado-i,1,stick", True),
            ("gang,rail.*.bottom..top,,160,stick", False),
        ],
    )
    def test_a_comparison_of_whole_parts_does_not(self, line, across):
        (reading,) = settled(line).readings
        assert reading.across is across


class TestTools:
    """u = (good_to + per_length * reading) / 2: the tool's U is for k = 2."""

    def test_the_uncertainty_is_the_tools(self):
        (reading,) = settled("reading,leg.a.inner,leg.b.inner,800,gauge").readings
        assert reading.u_mm == pytest.approx((0.2 + 0.001 * 800) / 2)  # by hand: 0.5
        assert (reading.tool, reading.shown_mm) == ("gauge", 800)

    def test_a_reading_without_its_tool_is_refused(self):
        assert refusal("reading,leg.a.outer,leg.a.inner,100,") == ["log.csv:2: which tool was it read with?"]

    def test_an_unknown_tool_is_refused(self):
        assert refusal("reading,leg.a.outer,leg.a.inner,100,stic") == ['log.csv:2: no tool is called "stic"']


class TestRefusals:
    """All that is wrong with a row is said at once, with a mend; the row says nothing, but stays."""

    def test_everything_at_once(self):
        assert refusal("reading,leg.a.outr,leg.c.inner,30 1/,stic") == [
            'log.csv:2: the plan has no mark "leg.a.outr"',
            'log.csv:2: the plan has no mark "leg.c.inner"',
            'log.csv:2: can\'t read "30 1/" as a length',
            'log.csv:2: no tool is called "stic"',
        ]

    def test_an_unknown_mark_in_full(self):
        (problem,) = errors(settled("reading,leg.a.outr,leg.a.inner,100,stick"))
        assert str(problem) == (
            'log.csv:2: the plan has no mark "leg.a.outr"\n'
            "    leg.a.outr\n"
            "    ^^^^^^^^^^\n"
            "  Did you mean leg.a.outer or leg.a.foot? Renamed in the plan? Then: "
            "fitsolve rename leg.a.outr leg.a.outer"
        )

    def test_a_length_that_cannot_be_read_in_full(self):
        (problem,) = errors(settled("reading,leg.a.outer,leg.a.inner,30 1/,stick"))
        assert str(problem) == (
            'log.csv:2: can\'t read "30 1/" as a length\n'
            "    30 1/\n"
            "         ^\n"
            "  a whole number was expected here, as in 30 1/4. "
            "Strike the row (fitsolve strike 1), then enter it again."
        )

    def test_a_decimal_comma_is_one_where_semicolons_part_the_cells_and_that_is_said(self):
        # a program parts cells by semicolons because its comma is that of decimals; where commas part them it is refused
        header, row = "no;time;event;from;to;reading;tool;note\n", "1;t;reading;leg.a.outer;leg.a.inner;{};stick;\n"
        from fitsolve.build.logtext import parse_log

        log = parse_log((header + row.format("3,531")).encode())
        _, state = settle(BENCH, log, TOOLS)
        assert [one.text for one in state.readings] == ["3.531"]
        assert any("decimal commas, as a spreadsheet writes them" in str(problem) for problem in log.problems)
        for unlike in ("1,234.5", "1.234,5", "3,5,1"):
            _, state = settle(BENCH, parse_log((header + row.format(unlike)).encode()), TOOLS)
            assert state.readings == ()
            assert f'can\'t read "{unlike}" as a length' in str(errors(state)[0])

    def test_a_renamed_part_is_told_once_and_its_copies_are_told_apart(self):
        first, second = errors(settled("reading,post.a.outer,post.a.inner,100,stick\nmade,post.a.inner,,,,"))
        assert first.hint == "Did you mean leg.a.outer? Renamed in the plan? Then: fitsolve rename post.a leg.a"
        assert second.hint == "As for #1."

    def test_of_two_names_as_like_none_is_put_into_the_hint(self):
        (problem,) = errors(settled("reading,leg.a.inter,leg.a.foot,100,stick"))
        assert problem.hint.startswith("Did you mean leg.a.")

    def test_a_decimal_comma_without_quotes_is_told_from_the_tool_it_leaves(self):
        (problem,) = errors(settled("reading,leg.a.outer,leg.a.inner,3,531,stick"))
        assert 'Was the reading "3,531"? A comma parts two cells: write 3.531' in problem.hint

    # What common spreadsheets make of 1/2, 3/4 and 1/32, of English, German and ISO habits (from memory).
    @pytest.mark.parametrize("date", ["01-Feb", "2-Jan", "01. Feb", "04. Mrz", "2026-03-04", "3/4/2026", "Jan-32", "Jan 32"])
    def test_a_date_that_a_spreadsheet_made_of_a_length_is_recognised(self, date):
        (problem,) = errors(settled(f"reading,leg.a.outer,leg.a.inner,{date},stick"))
        assert problem.hint == (
            "A spreadsheet seems to have made a date of it: put the length back as text. "
            "Strike the row (fitsolve strike 1), then enter it again."
        )

    @pytest.mark.parametrize(
        ("line", "what"),
        [
            ("reading,leg.a.outer,leg.a.back,100,stick", "leg.a.outer lies along x, leg.a.back along y"),
            ("reading,leg.a.outer,leg.a.outer,100,stick", "from and to are one and the same mark"),
            ("reading,leg.a.outer,,100,stick", "a mark is missing"),
            ("reading,leg.a.outer,leg.a.inner,,stick", "the reading is missing"),
            ("reading,leg.a.outer,leg.a.inner,-3,stick", 'can\'t read "-3" as a length'),
            ("measure,leg.a.outer,leg.a.inner,3,stick", "no event of the log"),
        ],
    )
    def test_each_has_its_words(self, line, what):
        assert refusal(line) == [f"log.csv:2: {what}"]

    def test_a_diagonal_counts_and_is_checked(self):
        state = settled("diagonal,leg.a.outer leg.a.foot,leg.b.outer leg.b.head,1280,stick")
        assert [(one.event, one.value_mm, len(one.terms)) for one in state.readings] == [("diagonal", 1280.0, 4)]
        assert state.problems == ()
        assert refusal("diagonal,leg.a.outer,leg.b.otter,1 1/,stick") == [
            "log.csv:2: leg.a.outer is one mark, along x: where is it along the other?",
            'log.csv:2: the plan has no mark "leg.b.otter"',
            'log.csv:2: can\'t read "1 1/" as a length',
        ]


class TestBeforeItIsWritten:
    """New rows can be tried behind the log, so that a row that would be an error is not written."""

    LOG = log_of("reading,leg.a.outr,leg.a.inner,100,stick")

    def tried(self, *rows: Row) -> list[str]:
        return [str(problem) for problem in objections(BENCH, self.LOG, rows, TOOLS)]

    def test_only_what_is_wrong_with_the_new_rows_is_said(self):
        assert self.tried(Row(2, "t", "reading", "leg.a.outer", "leg.a.inner", "100", "stick")) == []
        assert self.tried(Row(2, "t", "reading", "leg.a.outer", "leg.a.inner", "30 1/", "stick")) == [
            'log.csv: #2: can\'t read "30 1/" as a length\n'
            "    30 1/\n"
            "         ^\n"
            "  a whole number was expected here, as in 30 1/4. Enter it again."
        ]

    def test_what_stands_before_counts(self):
        assert self.tried(Row(2, "t", "strike", "1")) == []
        (problem,) = self.tried(Row(2, "t", "open", "butt"))
        assert "butt shelf leg.a is open already" in problem


class TestMade:
    """A reading says that its marks are made, whatever its event."""

    @pytest.mark.parametrize(
        ("line", "marks"),
        [
            ("reading,leg.a.outer,leg.b.inner,900,stick", "leg.a.outer leg.b.inner"),
            ("lean,leg.a.foot,leg.b.foot,0,stick", "leg.a.foot leg.b.foot"),
            ("gang,rail.*.bottom..top,,160,stick", "rail.a.bottom rail.a.top rail.b.bottom rail.b.top"),
            (
                "compare,leg.a.outer..inner,leg.b.inner..outer,1,stick",
                "leg.a.outer leg.a.inner leg.b.outer leg.b.inner",
            ),
        ],
    )
    def test_its_marks_and_no_others(self, line, marks):
        assert names_in(BENCH, settled(line), MarkState.MADE) == set(marks.split())

    def test_a_mark_and_its_stations_are_one_edge(self):
        assembly = with_station(with_station(BENCH, "leg.a.inner", "foot"), "leg.a.inner", "head")
        for first in ("leg.a.inner", "leg.a.inner@foot"):
            state = settled(f"reading,leg.a.outer,{first},100,stick", assembly)
            made = {"leg.a.outer", "leg.a.inner", "leg.a.inner@foot", "leg.a.inner@head"}
            assert names_in(assembly, state, MarkState.MADE) == made
