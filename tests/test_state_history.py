"""What a history leaves true: cuts, trims, remakes, joints, the end of the setting-up, renames, strikes.

The assembly is the one of `state_bench`; expected states are worked out by hand from its plan.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from state_bench import (
    TOOLS,
    bench,
    errors,
    log_of,
    names_in,
    said,
    settled,
    settled_rows,
    with_station,
)

from fitsolve.build.logtext import EVENTS, HEADER, Log, Row, parse_log, row_number
from fitsolve.build.state import MarkState, State, settle, struck_rows

BENCH = bench()
FRONT_X = {
    f"apron.front.{name}" for name in ("l.end", "l.dado-o", "l.dado-i", "r.dado-i", "r.dado-o", "r.end")
}


def made(state: State) -> set[str]:
    return names_in(BENCH, state, MarkState.MADE)


def rough(state: State) -> set[str]:
    return names_in(BENCH, state, MarkState.ROUGH)


def cut_to(state: State) -> dict[str, float]:
    """Marks that were cut elsewhere than the plan says."""
    return {mark.name: mm for mark, mm in zip(BENCH.marks, state.cut_to_mm, strict=True) if mm}


def counting(state: State) -> list[int]:
    return [reading.no for reading in state.readings]


def told(state: State) -> list[tuple[str, str]]:
    """The problems: level and first line, without the name of the file."""
    return [(p.level, str(p).splitlines()[0].removeprefix("log.csv:")) for p in state.problems]


class TestMadeToASize:
    """A mark remembers what it was cut to, from the reference end it was laid out from."""

    def test_the_size_less_the_plan(self):
        # plan: l.end -200, r.end 1200, so 1400 long; 1399 laid out: r.end lies 1 mm short
        state = settled("made,apron.front.r.end,apron.front.l.end,1399")
        assert cut_to(state) == {"apron.front.r.end": -1.0}
        assert made(state) == {"apron.front.r.end", "apron.front.l.end"}

    def test_laid_out_from_the_right_the_sign_turns(self):
        state = settled("made,apron.front.l.end,apron.front.r.end,1399")
        assert cut_to(state) == {"apron.front.l.end": 1.0}

    def test_from_a_reference_that_was_itself_cut_off_plan(self):
        # r.end at 1200 - 1; from there r.dado-o at 203 instead of 200: (1199 - 203) - 1000 = -4
        state = settled("""
            made,apron.front.r.end,apron.front.l.end,1399
            made,apron.front.r.dado-o,apron.front.r.end,203
            made,apron.front.r.dado-i,apron.front.r.end,
        """)
        assert cut_to(state) == {
            "apron.front.r.end": -1.0,
            "apron.front.r.dado-o": -4.0,
            "apron.front.r.dado-i": -1.0,
        }

    def test_a_reference_that_is_rough_stays_rough(self):
        state = settled("""
            rough,apron.front.l.end,apron.front.r.end,1450,stick
            made,apron.front.r.end,apron.front.l.end,1400
        """)
        assert rough(state) == {"apron.front.l.end"}
        assert made(state) == {"apron.front.r.end"}

    def test_made_again_without_a_size_it_keeps_the_size_it_has(self):
        state = settled("made,apron.front.r.end,apron.front.l.end,1399\nmade,apron.front")
        assert cut_to(state) == {"apron.front.r.end": -1.0}

    def test_a_reading_does_not_make_it_forget_what_it_was_cut_to(self):
        state = settled("""
            made,apron.front.r.end,apron.front.l.end,1399
            reading,apron.front.l.end,apron.front.r.end,1398.5,stick
        """)
        assert cut_to(state) == {"apron.front.r.end": -1.0}
        assert counting(state) == [2]

    @pytest.mark.parametrize(
        ("line", "what"),
        [
            ("made,apron.front.l.dado,apron.front.l.end,200", "a size for 2 marks at once"),
            ("made,apron.front.r.end,,1399", "a size, but from where?"),
            (
                "made,apron.front.r.end,apron.rear.l.end,1399",
                "apron.front.r.end can't be laid out from apron.rear.l.end",
            ),
            (
                "made,apron.front.r.end,apron.front.r.end,0",
                "apron.front.r.end can't be laid out from apron.front.r.end",
            ),
            (
                "made,apron.front.r.end,apron.front.low,9",
                "apron.front.r.end lies along x, apron.front.low along z",
            ),
            ("made,apron.front.r.end,apron.front.l.end,1,399", 'no tool is called "399"'),
            ("made,apron.front.r.end,apron.front.l.end,x", 'can\'t read "x" as a length'),
            ("made,apron.front.r.end,apron.front.l.ent,1", 'the plan has no mark "apron.front.l.ent"'),
        ],
    )
    def test_what_cannot_be_a_size_is_refused_and_nothing_is_made(self, line, what):
        state = settled(line)
        assert told(state) == [("error", f"2: {what}")]
        assert made(state) == set()


class TestMadeByName:
    """A part, a mark, or the beginning of several marks of one part."""

    @pytest.mark.parametrize(
        ("name", "marks"),
        [
            ("apron.front", FRONT_X | {"apron.front.low", "apron.front.top"}),
            ("apron.front.l.dado", {"apron.front.l.dado-o", "apron.front.l.dado-i"}),
            ("apron.front.l", {"apron.front.l.end", "apron.front.l.dado-o", "apron.front.l.dado-i"}),
            ("apron.front.l.end", {"apron.front.l.end"}),
            ("shelf", {"shelf.edge"}),
        ],
    )
    def test_all_that_it_covers(self, name, marks):
        assert made(settled(f"made,{name}")) == marks

    @pytest.mark.parametrize(
        ("name", "what"),
        [
            ("apron", '"apron" means 2 parts: apron.front, apron.rear'),
            ("apron.fron", 'the plan has no mark "apron.fron"'),
            ("apron.front.l.da", 'the plan has no mark "apron.front.l.da"'),
            ("", "a mark is missing"),
        ],
    )
    def test_not_a_beginning_inside_a_word_nor_of_several_parts(self, name, what):
        state = settled(f"made,{name}")
        assert told(state) == [("error", f"2: {what}")]
        assert made(state) == set()

    def test_a_station_is_made_with_its_edge_and_cut_to_the_same_place(self):
        assembly = with_station(BENCH, "apron.front.r.end", "top")
        _, state = settle(assembly, log_of("made,apron.front.r.end,apron.front.l.end,1399"), TOOLS)
        assert state.marks[-1] == MarkState.MADE
        assert state.cut_to_mm[-1] == -1.0


class TestRough:
    """A rough mark exists and can still come down; once made it no longer can."""

    def test_both_marks_are_rough_with_a_bound(self):
        state = settled("rough,apron.front.r.end,apron.front.l.end,1450,gauge")
        assert rough(state) == {"apron.front.l.end", "apron.front.r.end"}
        (bound,) = state.rough
        assert (BENCH.marks[bound.start].name, BENCH.marks[bound.end].name) == (
            "apron.front.r.end",
            "apron.front.l.end",
        )
        # l.end lies before r.end: -(x_l - x_r) may be made at most 1450
        assert (bound.sign, bound.most_mm, bound.no) == (-1, 1450.0, 1)
        assert bound.u_mm == pytest.approx((0.2 + 1.45) / 2)

    def test_what_is_made_stays_made_in_either_order(self):
        lines = ["rough,apron.front.l.end,apron.front.r.end,1450,stick", "made,apron.front.l.end"]
        for order in (lines, lines[::-1]):
            state = settled("\n".join(order))
            assert made(state) == {"apron.front.l.end"}
            assert rough(state) == {"apron.front.r.end"}
            assert len(state.rough) == 1

    def test_a_bound_between_made_marks_no_longer_matters(self):
        state = settled("""
            rough,apron.front.l.end,apron.front.r.end,1450,stick
            reading,apron.front.l.end,apron.front.r.end,1400,stick
        """)
        assert state.rough == ()
        assert made(state) == {"apron.front.l.end", "apron.front.r.end"}

    def test_rough_on_made_marks_is_a_warning(self):
        state = settled("made,apron.front\nrough,apron.front.l.end,apron.front.r.end,1450,stick")
        assert state.rough == ()
        assert told(state) == [
            (
                "warning",
                "3: rough, but apron.front.l.end and apron.front.r.end are both made: neither can come down",
            )
        ]


class TestTrim:
    """Earlier rows that touch what was trimmed are set aside; later ones count."""

    HISTORY = """
        reading,leg.a.outer,leg.a.inner,100.4,stick
        reading,leg.a.face,leg.a.back,100.2,stick
        reading,leg.a.inner,leg.b.inner,800,stick
        compare,leg.a.outer..inner,leg.b.inner..outer,0.4,stick
    """

    def test_only_those_that_touch_it(self):
        state = settled(f"{self.HISTORY}\ntrim,leg.a.inner\nreading,leg.a.outer,leg.a.inner,99.9,stick")
        assert counting(state) == [2, 6]
        why = "leg.a.inner was trimmed in #5"
        assert state.set_aside == {1: why, 3: why, 4: why}
        assert {"leg.a.inner", "leg.b.inner"} <= made(state)

    def test_two_marks_at_once(self):
        state = settled(f"{self.HISTORY}\ntrim,leg.a.face,leg.b.inner")
        assert counting(state) == [1]

    def test_what_it_was_cut_to_is_forgotten_or_said_anew(self):
        first = "made,apron.front.r.end,apron.front.l.end,1401"
        assert cut_to(settled(f"{first}\ntrim,apron.front.r.end")) == {}
        state = settled(f"{first}\ntrim,apron.front.r.end,apron.front.l.end,1397.5")
        assert cut_to(state) == {"apron.front.r.end": -2.5}
        state = settled("reading,apron.front.l.end,apron.front.l.dado-o,200,stick\n"
                        "trim,apron.front.r.end,apron.front.l.end,1397.5")  # fmt: skip
        assert counting(state) == [1], "the reference end is not trimmed"

    def test_a_bound_on_what_was_rough_is_set_aside(self):
        state = settled("rough,apron.front.l.end,apron.front.r.end,1450,stick\ntrim,apron.front.r.end")
        assert state.rough == ()
        assert made(state) == {"apron.front.r.end"}

    def test_an_edge_takes_its_stations_with_it_but_not_the_other_way_round(self):
        assembly = with_station(BENCH, "leg.a.inner", "foot")
        rows = "reading,leg.a.outer,leg.a.inner@foot,100,stick\nreading,leg.a.outer,leg.a.inner,100,stick\n"
        assert counting(settled(f"{rows}trim,leg.a.inner", assembly)) == []
        assert counting(settled(f"{rows}trim,leg.a.inner@foot", assembly)) == [2]


class TestRemake:
    """A part made anew: nothing that was read of it counts, and none of its marks exists."""

    def test_its_readings_and_cuts_are_set_aside_and_its_marks_uncut(self):
        state = settled("""
            made,apron.front.r.end,apron.front.l.end,1399
            reading,apron.front.l.end,apron.front.l.dado-o,199,stick
            reading,apron.front.l.dado-i,leg.a.outer,99,stick
            reading,leg.a.outer,leg.a.inner,100,stick
            remake,apron.front
        """)
        why = "apron.front was remade in #5"
        assert state.set_aside == {1: why, 2: why, 3: why}
        assert counting(state) == [4]
        assert made(state) == {"leg.a.outer", "leg.a.inner"}
        assert cut_to(state) == {}

    def test_its_closed_joints_count_as_open_again(self):
        state = settled("close,butt,,,,dry\nclose,dado apron.front leg.a,,,,glued\nremake,apron.front")
        assert [BENCH.joints[joint].name for joint in state.closed] == ["butt shelf leg.a"]
        assert told(state) == [
            ("notice", "4: dado apron.front leg.a counts as open again: apron.front was remade")
        ]

    def test_what_was_closed_again_since_is_no_news(self):
        rows = "close,butt,,,,dry\nclose,dado apron.front leg.a,,,,glued\nremake,apron.front\nclose,dado apron.front leg.a,,,,dry"
        assert told(settled(rows)) == []

    def test_it_can_be_made_again(self):
        state = settled("made,shelf\nremake,shelf\nmade,shelf")
        assert made(state) == {"shelf.edge"}

    @pytest.mark.parametrize("name", ["shelf.edge", "shelv", ""])
    def test_only_a_whole_part_can_be_remade(self, name):
        state = settled(f"made,shelf\nremake,{name}")
        assert told(state) == [("error", "3: remake: no such part")]
        assert made(state) == {"shelf.edge"}


class TestJoints:
    """Closing says that the marks of all its contacts are made."""

    @pytest.mark.parametrize(
        "words",
        ["dado apron.rear leg.b", "apron.rear leg.b", "leg.b apron.rear", "leg.b dado apron.rear"],
    )
    def test_a_joint_by_any_words_that_name_it_alone(self, words):
        state = settled(f"close,{words},,,,glued")
        assert {BENCH.joints[joint].name: how for joint, how in state.closed.items()} == {
            "dado apron.rear leg.b": "glued"
        }
        assert made(state) == {"leg.b.inner", "leg.b.outer", "apron.rear.r.dado-i", "apron.rear.r.dado-o"}

    @pytest.mark.parametrize(
        ("words", "what"),
        [
            ("dado leg.a", "2 joints are called that: dado apron.front leg.a; dado apron.rear leg.a"),
            ("dado shelf", "the plan has no such joint"),
            ("", "the plan has no such joint"),
        ],
    )
    def test_words_that_name_none_or_several_are_refused(self, words, what):
        state = settled(f"close,{words},,,,dry")
        assert told(state) == [("error", f"2: {what}")]
        assert state.closed == {}

    def test_glued_or_dry_is_the_first_word_of_the_note(self):
        assert list(settled("close,butt,,,,glued: at last").closed.values()) == ["glued"]
        assert list(settled("close,butt,,,,Dry").closed.values()) == ["dry"]
        state = settled("close,butt,,,,tight")
        assert list(state.closed.values()) == ["dry"]
        assert told(state) == [("notice", "2: glued or dry? Taken as dry")]

    def test_dry_joints_open_and_glued_ones_do_not(self):
        assert settled("close,butt,,,,dry\nopen,butt").closed == {}
        state = settled("close,butt,,,,dry\nclose,butt,,,,glued\nopen,shelf leg.a")
        assert list(state.closed.values()) == ["glued"]
        assert told(state) == [("error", "4: butt shelf leg.a is glued since #2: it can't be opened")]
        assert told(settled("open,butt")) == [("notice", "2: butt shelf leg.a is open already")]

    def test_what_is_made_stays_made_when_a_joint_opens(self):
        assert made(settled("close,butt,,,,dry\nopen,butt")) == {"leg.a.back", "shelf.edge"}


class TestApart:
    """When the setting-up ends, readings across parts count only where closed joints tie the parts."""

    ACROSS = "reading,leg.a.inner,leg.b.inner,801,stick"

    def test_loose_parts_and_parts_tied_through_a_chain(self):
        loose = settled(f"{self.ACROSS}\nclose,dado apron.front leg.a,,,,dry\napart")
        assert counting(loose) == []
        assert loose.set_aside == {1: "taken apart in #3: no closed joint ties leg.a and leg.b"}
        tied = settled(
            f"{self.ACROSS}\nclose,apron.front leg.a,,,,dry\nclose,apron.front leg.b,,,,dry\napart"
        )
        assert counting(tied) == [1]

    def test_what_is_read_in_one_part_and_what_compares_whole_parts_stays(self):
        state = settled("""
            reading,leg.a.outer,leg.a.inner,100.3,stick
            compare,leg.a.outer..inner,leg.b.inner..outer,0.4,stick
            gang,rail.*.bottom..top,,160.5,stick
            compare,leg.a.inner..leg.b.inner,apron.front.l.dado-i..r.dado-i,1,stick
            apart
        """)
        assert counting(state) == [1, 2, 3]

    def test_only_readings_so_far(self):
        assert counting(settled(f"apart\n{self.ACROSS}")) == [2]

    def test_joints_are_taken_as_they_are_at_that_moment(self):
        close = "close,apron.front leg.a,,,,dry\nclose,apron.front leg.b,,,,dry"
        assert counting(settled(f"{self.ACROSS}\napart\n{close}")) == []
        assert counting(settled(f"{close}\n{self.ACROSS}\nopen,apron.front leg.b\napart")) == []
        assert counting(settled(f"{close}\n{self.ACROSS}\napart\nopen,apron.front leg.b")) == [3]
        assert counting(settled(f"{close}\n{self.ACROSS}\napart\nopen,apron.front leg.b\napart")) == []

    def test_a_rough_bound_across_parts_goes_too(self):
        state = settled("rough,leg.a.inner,apron.front.r.end,1101,stick\napart")
        assert state.rough == ()
        assert rough(state) == {"leg.a.inner", "apron.front.r.end"}


class TestRename:
    """Names in the rows before a rename are read through it; rows after it use the new ones."""

    def test_a_mark(self):
        state = settled("reading,leg.a.out,leg.a.inner,100,stick\nrename,leg.a.out,leg.a.outer")
        assert told(state) == []
        assert said(BENCH, state) == [(1, {"leg.a.inner": 1, "leg.a.outer": -1}, 100)]

    def test_the_beginning_of_a_part_wherever_its_name_stands(self):
        state = settled("""
            reading,post.a.outer,post.a.inner,100,stick
            reading,post.a.head,apron.front.top,0.7,stick,proud post.a
            compare,post.a.outer..inner,leg.b.inner..outer,0.4,stick
            close,dado apron.front post.a,,,,glued
            made,post.a
            rename,post.a,leg.a
        """)
        assert told(state) == []
        assert counting(state) == [1, 2, 3]
        assert list(state.closed.values()) == ["glued"]

    def test_rows_after_it_use_the_new_name_only(self):
        state = settled("rename,leg.a.out,leg.a.outer\nreading,leg.a.out,leg.a.inner,100,stick")
        assert told(state) == [("error", '3: the plan has no mark "leg.a.out"')]

    def test_one_after_another_and_two_that_swap(self):
        state = settled("""
            reading,leg.a.one,leg.a.inner,100,stick
            rename,leg.a.one,leg.a.two
            reading,leg.a.two,leg.a.inner,100,stick
            rename,leg.a.two,leg.a.outer
        """)
        assert told(state) == []
        assert counting(state) == [1, 3]
        swapped = settled("""
            reading,leg.a.inner,leg.a.outer,100,stick
            rename,leg.a.inner,leg.a.x
            rename,leg.a.outer,leg.a.inner
            rename,leg.a.x,leg.a.outer
        """)
        assert said(BENCH, swapped) == [(1, {"leg.a.inner": 1, "leg.a.outer": -1}, 100)]

    def test_the_second_name_of_a_span(self):
        rows = "compare,leg.a.outer..inn,leg.b.outer..inner,1,stick\nrename,leg.a.inn,leg.a.inner"
        assert counting(settled(rows)) == [1]
        rows = "gang,post.a.outer..inn,,100,stick\nrename,post.a.inn,post.a.inner\nrename,post.a,leg.a"
        assert said(BENCH, settled(rows)) == [(1, {"leg.a.inner": 1, "leg.a.outer": -1}, 100)]

    def test_not_inside_a_word(self):
        state = settled("reading,leg.a.outer,leg.a.inner,100,stick\nrename,leg.a.out,leg.a.face")
        assert counting(state) == [1]

    def test_it_needs_two_names_and_the_new_one_in_the_plan(self):
        assert told(settled("rename,leg.a.out")) == [("error", "2: rename: two names are needed")]
        assert told(settled("rename,leg.a.out,leg.a.otter")) == [
            ("warning", "2: rename: the plan has no such name")
        ]

    def test_a_plan_that_was_changed_back_is_told_once_at_the_rename(self):
        rows = """
            reading,leg.a.outer,leg.a.inner,100,stick
            gang,leg.a.outer..inner + leg.b.outer..inner,,200,stick
            made,leg.a.face
            rename,leg.a,leg.left
            reading,leg.a.outer,leg.a.inner,100,stick
        """
        state = settled(rows)
        assert told(state) == [("error", "5: rename: the plan has no such name")]
        assert state.problems[0].hint == "leg.a stands in the plan: take the renaming back, fitsolve strike 4"
        assert counting(state) == [5]
        assert set(state.set_aside.values()) == {"#4 renames it to what the plan has not"}
        assert told(settled(f"{rows}\nstrike,4")) == []

    def test_a_rename_that_leads_nowhere_offers_the_next(self):
        state = settled("reading,leg.q.outer,leg.q.inner,100,stick\nrename,leg.q,leg.aa")
        assert told(state) == [("error", "3: rename: the plan has no such name")]
        assert "Then: fitsolve rename leg.aa leg.a" in state.problems[0].hint


class TestStrike:
    """A struck row counts for nothing, as if it had never been written."""

    @pytest.mark.parametrize("number", ["1", "#1"])
    def test_a_reading(self, number):
        state = settled(f"reading,leg.a.outer,leg.a.inner,100,stick\nstrike,{number}")
        assert state.readings == ()
        assert made(state) == set()
        assert state.set_aside == {1: "struck by #2"}

    def test_a_strike_that_is_struck_strikes_nothing(self):
        state = settled("reading,leg.a.outer,leg.a.inner,100,stick\nstrike,1\nstrike,2")
        assert counting(state) == [1]
        state = settled("reading,leg.a.outer,leg.a.inner,100,stick\nstrike,1\nstrike,2\nstrike,3")
        assert counting(state) == []

    def test_a_row_that_reached_back(self):
        rows = "reading,leg.a.outer,leg.a.inner,100,stick\n"
        assert counting(settled(f"{rows}trim,leg.a.inner\nstrike,2")) == [1]
        assert counting(settled(f"{rows}rename,leg.a.inner,leg.a.x\nstrike,2")) == [1]

    def test_a_row_that_could_not_be_used_is_settled_by_it(self):
        state = settled("reading,leg.a.outer,leg.a.inner,30 1/,stick\nmeasure,x\nstrike,1\nstrike,2")
        assert told(state) == []
        log = parse_log(f"{HEADER}\n1,2024-05-17,reading,a,b,3,531,rule,x\n2,2024-05-17,strike,1,,,,\n".encode())
        assert [p.level for p in log.problems] == ["error"]
        assert settle(BENCH, log, TOOLS)[1].problems == ()

    @pytest.mark.parametrize("target", ["9", "2", "one", "", "-1"])
    def test_only_an_earlier_row_can_be_struck(self, target):
        state = settled(f"made,shelf\nstrike,{target}")
        assert told(state) == [("error", "3: strike: no such row")]
        assert made(state) == {"shelf.edge"}

    def test_a_strike_of_a_later_row_strikes_it_for_no_command(self):
        log = parse_log(f"{HEADER}\n1,2024-05-17,strike,2,,,,\n2,2024-05-17,made,shelf,,,,\n".encode())
        assert struck_rows(log) == {}

    @given(st.integers(0, 2**32))
    @settings(max_examples=60)
    def test_it_is_as_if_the_row_had_never_been_written(self, seed):
        luck = random.Random(seed)
        rows = some_rows(luck, 12)
        target = luck.choice(rows)
        if "@" in target.start + target.end:
            return
        without = settled_rows([row for row in rows if row is not target])
        struck = settled_rows([*rows, Row(len(rows) + 1, "t", "strike", str(target.no))])
        gone = {row.no for row in rows if row.event == "strike" and row_number(row.start) == target.no}
        if gone:
            return
        assert (struck.marks, struck.cut_to_mm) == (without.marks, without.cut_to_mm)
        assert struck.closed == without.closed
        assert (struck.readings, struck.rough) == (without.readings, without.rough)
        assert struck.gap_read == without.gap_read
        assert struck.problems == without.problems


class TestTheWholeLog:
    def test_an_empty_log(self):
        state = settled("")
        assert set(state.marks) == {MarkState.UNCUT}
        assert (state.readings, state.problems, state.last_row, state.last_time) == ((), (), 0, "")

    def test_the_last_row_and_its_time(self):
        state = settled("made,shelf\nmade,leg.a")
        assert (state.last_row, state.last_time) == (2, "2024-05-17T14:02:00")

    def test_rows_are_taken_in_the_order_of_their_numbers(self):
        # a spreadsheet may have sorted the file by another column
        rows = log_of("reading,leg.a.outer,leg.a.inner,100,stick\ntrim,leg.a.inner\nmade,leg.a.inner").rows
        assert settled_rows(rows[::-1]) == replace(settled_rows(rows))

    def test_rows_made_in_python_are_named_by_their_number(self):
        state = settled_rows([Row(3, "t", "made", "leg.q")])
        assert str(state.problems[0]).splitlines()[0] == 'log.csv: #3: the plan has no mark "leg.q"'

    def test_numbers_that_stand_twice_or_are_none(self):
        state = settled_rows(
            [Row(1, "t", "made", "shelf"), Row(1, "t", "made", "leg.a"), Row(0, "t", "apart")]
        )
        assert [p.what for p in errors(state)] == ["row 1 stands in the log twice", "this row has no number"]
        assert made(state) == {"shelf.edge"}

    def test_problems_of_the_file_come_first(self):
        log = parse_log(f"{HEADER}\n1,2024-05-17,made,leg.q,,,,\n2,2024-05-17,reading,a,b,3,531,rule,x\n".encode())
        assert [p.place.line for p in settle(BENCH, log, TOOLS)[1].problems] == [3, 2]

    @pytest.mark.parametrize("count", [3000])
    def test_a_long_history_keeps_its_time_in_hand(self, count):
        # Every row reaches back over all those before it; nothing here may take time with the square of
        # their number. No clock: set-aside rows are only counted.
        lines = []
        for k in range(count):
            lines += [f"reading,leg.a.inner,leg.b.inner,{800 + k % 9},stick", "apart", "remake,leg.a"]
        state = settled("\n".join(lines))
        assert counting(state) == []
        assert len(state.set_aside) == count


READINGS = """
reading,leg.a.outer,leg.a.inner,100.4,stick
reading,leg.a.inner,leg.b.inner,801,gauge
reading,leg.a.head,apron.front.top,0.7,stick,proud leg.a
reading,leg.a.back,shelf.edge,0.2,stick
lean,leg.b.foot,leg.a.foot,0.4,stick,proud leg.a
compare,leg.a.outer..inner,leg.b.inner..outer,0.4,stick
gang,rail.*.bottom..top,,160.5,stick
rough,apron.rear.l.end,apron.rear.r.end,1450,stick
reading,apron.rear.l.end,apron.rear.l.dado-o,201,stick
reading,loose.l,leg.a.inner,12,stick
"""


@given(st.permutations(log_of(READINGS).rows))
@settings(max_examples=50)
def test_for_pure_readings_the_order_does_not_matter(rows):
    plain = settled(READINGS)
    shuffled = settled_rows([replace(row, no=k) for k, row in enumerate(rows, 1)])
    assert shuffled.marks == plain.marks
    assert {replace(r, no=0) for r in shuffled.readings} == {replace(r, no=0) for r in plain.readings}
    assert {replace(r, no=0) for r in shuffled.rough} == {replace(r, no=0) for r in plain.rough}
    assert shuffled.gap_read == plain.gap_read


NAMES = [
    *BENCH.index, *BENCH.parts, "apron.front.l.dado", "apron", "leg.a.outr", "leg.a.inner@foot", "", "@",
    "*", "..", "leg.a.outer..inner", "leg.*.outer..inner", "rail.*.bottom..top",
    "leg.a.outer..inner + leg.b.outer..inner",
    "dado apron.front leg.a", "butt", "leg.a apron.rear", "1", "#2", "5", "9", "post.a",
]  # fmt: skip
CELLS = ["", "3", "100", "0", "800.5", "3 1/", "1e9", "9" * 30, "x"]
NOTES = ["", "glued", "dry", "proud leg.a", "proud leg.a.head", "proud"]


def some_rows(luck: random.Random, count: int) -> list[Row]:
    """A history of rows that mostly make sense."""
    return [
        Row(
            no, "t", luck.choice(EVENTS), luck.choice(NAMES), luck.choice(NAMES), luck.choice(CELLS),
            luck.choice(["stick", "gauge", "stick", "", "stic"]), luck.choice(NOTES),
        )
        for no in range(1, count + 1)
    ]  # fmt: skip


class TestWhateverTheRowsHold:
    """No history makes it fail; each row counts, is set aside, or has its problem."""

    def consistent(self, rows: list[Row], state: State) -> None:
        assert len(state.marks) == len(state.cut_to_mm) >= len(BENCH.marks)
        assert not {r.no for r in state.readings} & set(state.set_aside)
        for reading in state.readings:
            assert all(state.marks[mark] == MarkState.MADE for mark, _ in reading.terms) or any(
                row.event == "remake" for row in rows
            )
            assert abs(reading.value_mm) == reading.shown_mm
        spoken = {int(p.place.key.removeprefix("#")) for p in state.problems if p.place.key}
        standing = {r.no for r in state.readings}
        for row in rows:
            if row.event in ("reading", "lean", "compare", "gang"):
                assert row.no in standing or row.no in state.set_aside or row.no in spoken

    @given(st.integers(0, 2**32))
    @settings(max_examples=150)
    def test_rows_that_mostly_make_sense(self, seed):
        rows = some_rows(random.Random(seed), 25)
        self.consistent(rows, settled_rows(rows))

    @given(
        st.lists(
            st.builds(
                Row, no=st.integers(-1, 5), time=st.text(max_size=3), event=st.sampled_from([*EVENTS, ""]),
                start=st.one_of(st.sampled_from(NAMES), st.text(max_size=8)),
                end=st.text(max_size=8), reading=st.text(max_size=5), tool=st.text(max_size=3),
                note=st.text(max_size=9),
            ),
            max_size=6,
        )
    )  # fmt: skip
    def test_rows_of_any_text(self, rows):
        _, state = settle(BENCH, Log(rows=tuple(rows)), {})
        for problem in state.problems:
            assert str(problem)
