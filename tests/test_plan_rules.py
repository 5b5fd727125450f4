"""Keeps and checks: what a star stands for, how rules are named, which way spans count."""

import pytest
from plans import names, problems, said, worked

HEAD = """unit = "mm"
finest = 1
give = 1
[part.leg]
copies = ["a", "b", "c"]
x = "l 60 r"
z = "foot 700 head"
[part.rail]
copies = ["low", "high"]
x = "l 60 (finest 2) r"
z = "under 80 over"
[part.top]
z = "under 30 over"
"""


def keeps(sentence):
    return worked(f'{HEAD}[keep]\nk = "{sentence}"').keeps


def spans(sentence):
    plan = worked(f'{HEAD}[keep]\nk = "{sentence}"')
    return [[names(plan, (span.start, span.end)) for span in keep.spans] for keep in plan.keeps]


class TestStars:
    """A star stands for one copy of a part; all stars of one part for the same."""

    def test_one_for_each_copy(self):
        assert [keep.name for keep in keeps("leg.*.l..r = 60")] == ["k leg.a", "k leg.b", "k leg.c"]

    def test_the_same_copy_everywhere(self):
        assert spans("leg.*.l..r = leg.*.foot..head") == [
            [(f"leg.{c}.l", f"leg.{c}.r"), (f"leg.{c}.foot", f"leg.{c}.head")] for c in "abc"
        ]

    def test_stars_of_two_parts_are_every_pair(self):
        assert [keep.name for keep in keeps("rail.*.over flush with leg.*.head")] == [
            f"k rail.{rail} leg.{leg}" for rail in ("low", "high") for leg in "abc"
        ]

    def test_a_thing_beside_itself_is_every_pair_of_different_copies_once(self):
        pairs = [("a", "b"), ("a", "c"), ("b", "c")]
        assert spans("leg.*.head flush with leg.*.head") == [
            [(f"leg.{one}.head", f"leg.{other}.head")] for one, other in pairs
        ]
        assert spans("leg.*.l..r = leg.*.l..r") == [
            [(f"leg.{one}.l", f"leg.{one}.r"), (f"leg.{other}.l", f"leg.{other}.r")] for one, other in pairs
        ]
        assert spans("leg.*.l..leg.*.l = 200") == [[(f"leg.{one}.l", f"leg.{other}.l")] for one, other in pairs]

    def test_beside_a_copy_named_in_full_that_copy_is_left_out(self):
        assert spans("leg.*.head flush with leg.b.head") == [
            [("leg.a.head", "leg.b.head")],
            [("leg.c.head", "leg.b.head")],
        ]

    def test_a_star_that_stands_for_no_copy_is_refused(self):
        (problem,) = problems(f'{HEAD}[keep]\nk = "lag.*.l..r = 60"')
        assert problem.what == 'there is no part "lag"'
        assert problem.hint == "Did you mean leg?"
        (problem,) = problems(f'{HEAD}[keep]\nk = "top.*.under..over = 60"')
        assert problem.what == "top has no copies a star could stand for"
        (problem,) = problems(f'{HEAD}[keep]\nk = "leg.a.*..r = 60"')
        assert problem.what == "a star stands for the copy of a part, and for nothing else"

    def test_stars_beyond_all_measure_are_refused(self):
        copies = ", ".join(f'"c{k}"' for k in range(1000))
        text = HEAD.replace('"a", "b", "c"', copies).replace('"low", "high"', copies)
        (problem,) = problems(f'{text}[keep]\nk = "rail.*.over flush with leg.*.head"')
        assert problem.what == "these stars stand for more than 200000 rules"


class TestNames:
    """A rule that stands for one thing is called by its key, else by its key and the parts in it."""

    def test_one_thing_by_its_key(self):
        assert [keep.name for keep in keeps("top.under flush with leg.a.head")] == ["k"]

    def test_names_are_never_the_same(self):
        plan = worked(HEAD + '[keep]\nk = ["leg.a.l..r = 60", "leg.a.foot..head = 700", "top.under..over = 30"]')
        assert [keep.name for keep in plan.keeps] == ["k leg.a", "k leg.a (2)", "k top"]


class TestSpans:
    """The second mark stands beside the first; a later span may leave out the part."""

    NESTED = """unit = "mm"
give = 1
[part.board]
x = "l.end 5 l.slot 50 r.slot 5 r.end"
[part.other]
x = "end 5 slot"
"""

    @pytest.mark.parametrize("end", ["slot", "l.slot", "board.l.slot"])
    def test_beside_or_in_its_part_or_whole(self, end):
        plan = worked(f'{self.NESTED}[keep]\nk = "board.l.end..{end} = 5"')
        (span,) = plan.keeps[0].spans
        assert names(plan, (span.start, span.end)) == ("board.l.end", "board.l.slot")

    def test_a_later_span_is_of_the_part_of_the_first(self):
        plan = worked(f'{self.NESTED}[keep]\nk = "board.l.end..slot = r.slot..end = other.end..slot"')
        assert [names(plan, (s.start, s.end)) for s in plan.keeps[0].spans] == [
            ("board.l.end", "board.l.slot"),
            ("board.r.slot", "board.r.end"),
            ("other.end", "other.slot"),
        ]
        assert plan.keeps[0].kind == "equal"

    def test_a_span_written_backwards_counts_positive_all_the_same(self):
        plan = worked(f'{self.NESTED}[keep]\nk = "board.r.end..l.end = 60"')
        assert plan.keeps[0].spans[0].sign == -1

    def test_kinds(self):
        def kind(sentence):
            return keeps(sentence)[0].kind

        assert kind("leg.a.l..r = leg.b.l..r") == "equal"
        assert kind("leg.a.l..leg.b.l = leg.b.l..leg.c.l") == "parallel"
        assert kind("leg.a.l..r = 60") == "length"
        assert kind("leg.a.head flush with leg.b.head") == "flush"

    def test_a_mark_that_is_not_there_asks_what_was_meant(self):
        (text,) = said(f'{HEAD}[keep]\nk = "leg.a.l..hed = 60"')
        assert text == (
            'plan.toml:15: keep.k: leg.a has no mark "hed"\n'
            "    leg.a.l..hed = 60\n"
            "             ^^^\n"
            "  Did you mean head?"
        )


class TestWishes:
    """A keep is soft, hard or both, and with neither gives what the plan gives; a check has within."""

    def test_soft_hard_and_both(self):
        def wish(sentence):
            keep = keeps(sentence)[0]
            return keep.length_mm, keep.give_mm, keep.low_mm, keep.high_mm

        assert wish("leg.a.l..r = 60") == (60, 1, None, None)
        assert wish("leg.a.l..r = 60, give 2") == (60, 2, None, None)
        assert wish("leg.a.l..r = 60, by 59 to 61") == (60, None, 59, 61)
        assert wish("leg.a.l..r = 60, by 59 to 61, give 2") == (60, 2, 59, 61)
        assert wish("leg.a.l..r, by 59 to 61") == (None, None, 59, 61)
        assert wish("leg.a.head flush with leg.b.head") == (0, 1, None, None)

    def test_without_any_give_it_is_asked_for(self):
        (problem,) = problems(HEAD.replace("give = 1\n", "") + '[keep]\nk = "leg.a.l..r = 60"')
        assert problem.what == "nothing says how much this may give"

    def test_a_check_needs_a_tolerance(self):
        (problem,) = problems(HEAD + '[check]\nk = "leg.a.l..r = 60"')
        assert problem.what == "a check needs a tolerance"
        assert problem.hint == "Say how far off it may be: , within 1/16."
        plan = worked(HEAD + '[check]\nk = "leg.a.l..r = 60, within 0.5"')
        assert (plan.checks[0].within_mm, plan.checks[0].give_mm) == (0.5, None)


class TestStations:
    """A station without a run of its own lies where its mark lies, and is made when it is named."""

    def test_a_check_makes_its_stations(self):
        plan = worked(HEAD + '[check]\nk = "leg.a.l@foot..r@foot = leg.a.l@head..r@head, within 1"')
        made = [mark for mark in plan.marks if mark.station_of is not None]
        assert [mark.name for mark in made] == [f"leg.a.{m}@{s}" for s in ("foot", "head") for m in "lr"]
        for mark in made:
            base = plan.marks[mark.station_of]
            assert base.name == mark.name.partition("@")[0]
            assert (mark.plan_mm, mark.outward, mark.axis) == (base.plan_mm, base.outward, base.axis)
            assert plan.placed[plan.index[mark.name]] == plan.placed[plan.index[base.name]]

    def test_one_with_a_run_of_its_own_lies_where_the_run_says(self):
        text = HEAD.replace('x = "l 60 r"', 'x = ["l 60 r", "l 1 l@foot"]', 1)
        plan = worked(text + '[check]\nk = "leg.a.l@foot..r@foot = 59, within 1"')
        mark = plan.marks[plan.index["leg.a.l@foot"]]
        assert mark.station_of is None
        assert mark.plan_mm == plan.marks[plan.index["leg.a.l"]].plan_mm + 1

    def test_an_odd_station_is_kept_and_asked_about(self):
        found = problems(HEAD + '[check]\nk = "leg.a.l@fot..r@foot = 60, within 1"')
        (notice,) = [p for p in found if "fot" in p.what]
        assert (notice.level, notice.hint) == ("notice", "Did you mean foot?")

    def test_the_log_can_add_more(self):
        from fitsolve.build.stations import with_stations

        plan = worked(HEAD)
        more = with_stations(plan, ["leg.a.l@foot", "leg.a.l@foot", "leg.a.q@foot", "leg.a.r", "leg.b.r@"])
        assert set(more.index) - set(plan.index) == {"leg.a.l@foot"}
        assert more.marks[-1].station_of == plan.index["leg.a.l"]
        assert len(more.placed) == len(more.marks)
        assert with_stations(plan, ["leg.a.r"]) is plan


@pytest.mark.parametrize(("span", "said"), [
    ("leg.a.l..table.left", 'there is no part "table"'),
    ("leg.a.l..tables.x.left", 'there is no part "tables"'),
    ("leg.a.l..leg.zz.r", 'part.leg has no copy "zz"'),
    ("leg.a.l..q", 'leg.a has no mark "q"'),
])  # fmt: skip
def test_a_second_name_with_the_name_of_no_part_says_that(span, said):
    assert [p.what for p in problems(HEAD + f'[keep]\nk = "{span} = 60, give 1"')] == [said]
