"""The file plan.toml: what is refused, with its line; what is tolerated; plans made in Python."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import at, gap, problems, said, worked
from test_place_bench import BENCH

from fitsolve.build.place import assemble
from fitsolve.build.plan import PLAN_BYTES_MAX, Plan, decode_plan, read_plan
from fitsolve.errors import BuildError

SMALL = 'unit = "mm"\n[part.a]\nx = "l 60 r"\n'


def refused(content):
    with pytest.raises(BuildError) as caught:
        assemble(read_plan(content))
    return str(caught.value)


class TestKeys:
    """Every key is known and holds the right kind of value, or is said with its line and a caret."""

    def test_an_unknown_key_asks_what_was_meant(self):
        assert refused('unit = "mm"\nfinnest = 1\n') == (
            'plan.toml:2: finnest: "finnest" is no key of a plan\n    finnest = 1\n    ^^^^^^^\n  Did you mean finest?'
        )

    @pytest.mark.parametrize(
        ("text", "line", "key", "what"),
        [
            ("title = 3\n" + SMALL, 1, "title", "text was expected here, in quotes"),
            ("format = 2\n" + SMALL, 1, "format", "this format is not known: 1 was expected"),
            ('unit = "cm"', 1, "unit", 'the unit is "in" or "mm"'),
            ("title = 'x'", None, "", "unit is missing"),
            (SMALL + "z = [3]", 4, "part.a.z", "text was expected here, in quotes"),
            (SMALL + "z = {u = 3}", 4, "part.a.z", "a list was expected here, in [ ]"),
            (SMALL + "holes = 3", 4, "part.a.holes", "a table was expected here"),
            (SMALL + "holes = { b = [3] }", 4, "part.a.holes.b", "text was expected here, in quotes"),
            (SMALL + 'holes = { b = ["1 from l"] }', 4, "part.a.holes.b", "a hole has a place on two axes, and b has 1"),
            (SMALL + "part.b = 3", 4, "part.a.part", '"part" is no key of a part'),
            (SMALL + "[joint.j]\neach = 'a'", 4, "joint.j", "meet is missing"),
            (SMALL + "[joint]\nj = 3", 5, "joint.j", "a table was expected here"),
            (SMALL + "[tool.t]\nper_length = 0.1", 4, "tool.t", "the tool t does not say what it is good to"),
            (SMALL + "[tool.tape]\nper_length = 'x'", 5, "tool.tape.per_length", '"x" is no plain number'),
            (SMALL + "[fits]\nf = [1, 2]", 5, "fits.f", "a fit is three lengths, and here are 2"),
            (
                SMALL + "[fits]\nf = [3, 2, 1]",
                5,
                "fits.f",
                "the fit f is out of order: least 3, aim 2, most 1 mm",
            ),
            (SMALL + "[fits]\nf = [\n1,\n'1/',\n3]", 7, "fits.f", 'can\'t read "1/" as a length'),
            ("workmanship = 0\n" + SMALL, 1, "workmanship", "workmanship can't be 0"),
            ("finest = '0 mm'\n" + SMALL, 1, "finest", "finest can't be 0"),
            ("give = '-1'\n" + SMALL, 1, "give", 'can\'t read "-1" as a length'),
            ("give = nan\n" + SMALL, 1, "give", 'can\'t read "NaN" as a length'),
            ("give = true\n" + SMALL, 1, "give", "a length was expected here"),
            (SMALL.replace("part.a", "part.'2x4'"), 2, "part.2x4", '"2x4" can\'t be the name of a part'),
            (SMALL + "copies = []", 4, "part.a.copies", "there are no copies in this list"),
            (SMALL + "copies = ['u', 'u']", 4, "part.a.copies", 'the copy "u" stands twice'),
            (SMALL + "copies = {u = 'left'}", 4, "part.a.copies.u", '"left" is no way to hand a copy'),
            (SMALL + "copies = [['u']]", 4, "part.a.copies", None),
        ],
    )
    def test_what_is_wrong_has_its_line_and_key(self, text, line, key, what):
        (problem,) = problems(text)
        assert (problem.place.line, problem.place.key) == (line, key)
        assert problem.level == "error"
        assert what is None or problem.what == what

    def test_a_copy_that_stands_twice_is_found_in_a_long_list_too(self):
        copies = [*(f"k{n}" for n in range(6000)), "k17", "k3"]
        found = problems(SMALL + f"copies = {copies}")
        assert [one.what for one in found] == ['the copy "k3" stands twice', 'the copy "k17" stands twice']

    def test_a_class_that_no_tape_has_is_said(self):
        (problem,) = problems(SMALL + '[tool.tape]\nclass = "IV"\n')
        assert (problem.what, problem.hint) == ('a tape has no class "IV"', "There are: I, II, III.")
        assert problem.place.line == 5

    def test_a_tool_may_have_a_zero_and_a_scale(self):
        text = SMALL + "[tool.tape]\nzero = 0.5\nscale = 0.001\n"
        tape = read_plan(text).tools()["tape"]
        assert (tape.zero_mm, tape.scale, tape.good_to_mm) == (0.5, 0.001, 0.7)

    def test_all_is_said_at_once_in_the_order_of_the_file(self):
        text = (
            'unit = "mm"\nfinnest = 1\ngive = "1/"\n[part.a]\nx = "l 60 (gve 1) r"\ny = ["f 3 b", "f 4 b"]\n'
            'zz = "u 3 o"\n[part.b]\nx = "l 60 r"\n[joint.j]\nmeet = ["b.l against b.r, sloop", "c.l against b.l, slip"]\n'
            '[check]\nk = "b.l..q = 3, within 1"\n'
        )
        assert [p.place.line for p in problems(text)] == [2, 3, 5, 6, 7, 11, 11, 13]

    @pytest.mark.parametrize("unit", ['unit = "inches"\n', 'unit = "cm"\n', "unit = 1\n", "title = 'no unit'\n"])
    def test_a_wrong_unit_hides_nothing_else(self, unit):
        found = problems(unit + '[part.a]\nx = ["l 60 r", "l 61 1/2 r"]\n[part.b]\ny = "f 3"\n')
        assert [(p.place.line, p.what) for p in found][1:] == [
            (3, "the two runs from l to r of part.a don't agree"),
            (5, "the mark behind this distance is missing"),
        ]

    @pytest.mark.parametrize(
        ("line", "under"),
        [
            ('x = ["l 60 r", 5]', "5"),
            ('copies = ["b c", "d"]', "b c"),
            ('copies = ["b", "b"]', 'b"]'),
            ('copies = { "b c" = "as drawn" }', '"b c"'),
            ('z = "u 3 l 4 o"', "l 4"),
        ],
    )
    def test_a_caret_stands_under_a_value_in_a_list(self, line, under):
        (found,) = problems(f'unit = "mm"\n[part.a]\ny = "l 60 r"\n{line}\n')
        assert found.place.line == 4
        assert found.place.text in line
        assert found.place.column == found.place.text.rindex(under)

    def test_all_that_one_sentence_names_wrongly(self):
        text = (
            f"{SMALL}[part.b]\nx = 'l 60 r'\n[part.c]\nx = 'l 60'\n"
            "[joint.j]\nmeet = ['a.l/q in b.k/r, slop', 'c.l against b.k, slop']\n"
            "[keep]\nk = 'a.q..r = b.l..k = zz.l..r = c.l..r, give 1'\n"
        )
        assert [(p.place.line, p.what) for p in problems(text)][1:] == [
            (9, 'a has no mark "q"'),
            (9, 'b has no mark "k"'),
            (9, 'no fit is called "slop"'),
            (9, 'b has no mark "k"'),
            (9, 'no fit is called "slop"'),
            (11, 'a has no mark "q"'),
            (11, 'b has no mark "k"'),  # zz.l could be a mark of the part that a.q does not tell
        ]

    @pytest.mark.parametrize(
        ("line", "hint"),
        [
            ("give = .5", "A number begins with a digit, as in 0.5."),
            ("give = 1/16", 'A length with a fraction or a unit stands in quotes, as in "3 1/2".'),
            ("give =", "A value was expected behind the =."),
            ("title: 'x'", 'Between a key and its value stands =, as in unit = "in".'),
            ("the title = 3", 'Between a key and its value stands =, as in unit = "in".'),
            ("title = Bench", "Text stands in quotes."),
            ("title = \u201cBench\u201d", "Straight quotes were expected, \" or '."),
            ('part.a.x = "l 6 7/16" r"', "The quote in front of this ended the text. In a text an inch is written in or"),
            ("part.a.x = 'l 2' 6 r'", "The quote in front of this ended the text. In a text an inch is written in or"),
            ('part.a.x = "l 6 r" "l 3 q"', 'Several texts stand in a list: ["...", "..."].'),
            ('part.a.x = "l 6', "A text ends on the line it begins on."),
            ('part.a.x = ["l 6 r" "l 3 q"]', "A list ends with ], and a comma stands between its texts."),
            ("part.a.copies = { l = 'as drawn'", "A table in { } stands on one line"),
            ("[part.a", "The name of a table stands in [ ]."),
        ],
    )
    def test_what_is_no_toml_comes_with_what_to_do(self, line, hint):
        (found,) = problems(f'unit = "in"\n{line}\n[part.b]\nx = "l 6 r"\n')
        assert found.what.startswith("this is not TOML: ")
        assert found.hint.startswith(hint)
        assert found.place.line in (2, 3)

    @pytest.mark.parametrize("left_out", ["give 1", "by 3 to 4", "within 1"])
    def test_a_comma_left_out_is_told(self, left_out):
        table = "check" if "within" in left_out else "keep"
        (found,) = problems(f"{SMALL}[{table}]\nk = 'a.l..r = 60 {left_out}'\n")
        assert (found.what, found.place.column) == ("the end of the sentence was expected here", 12)
        assert found.hint == f"A comma stands in front of it: , {left_out.split()[0]} ..."

    def test_a_mark_called_like_a_unit_is_said_where_it_is_read_as_one(self):
        (found,) = problems('unit = "in"\n[part.a]\nx = "l 3 m 3 r"\n')
        assert (found.what, found.place.column) == ('can\'t read "3 m 3" as a length', 6)
        assert found.hint == '"m" was read as a unit: if it is a mark, give it another name.'

    def test_what_only_follows_is_not_said(self):
        text = SMALL.replace("60", "60 r 3") + '[part.b]\nx = "l 6 r"\n[joint.j]\nmeet = "a.l against b.l, slip"\n'
        assert [p.place.line for p in problems(text)] == [3]
        text = BENCH.replace('copies = { fl = "as drawn"', 'copys = { fl = "as drawn"')
        assert len(problems(text)) == 1
        assert len(problems(BENCH.replace("[part.leg]", "[prt.leg]"))) == 1

    def test_one_slip_in_a_sentence_is_said_once_for_all_rows(self):
        found = problems(BENCH.replace("leg.{leg}.back", "leg.{leg}.bak"))
        assert [p.what for p in found] == ['leg.fl has no mark "bak"']
        line = BENCH.split("\n").index("left-low   low  f  fl") + 1
        assert found[0].detail == (f"row of line {line}: left-low   low  f  fl",)


class TestTables:
    """A table is columns and rows; a row that does not fill them is said, with the line it stands on."""

    TEXT = SMALL + '[part.b]\ncopies = ["u", "v"]\nx = "l 60 r"\n[joint.j]\neach = """\nb  e\nu  l\nv  r\n"""\n'

    def test_rows_that_do_not_fill_the_columns(self):
        text = self.TEXT.replace("u  l", "u").replace("v  r", "v  r  s")
        found = problems(text + 'meet = "a.{e} against b.{b}.{e}, slip"')
        assert [(p.place.line, p.place.column, p.what) for p in found] == [
            (10, 1, "this row has 1 word for 2 columns: e is missing"),
            (11, 6, "this row has 3 words for 2 columns"),
        ]

    def test_a_column_that_is_not_there(self):
        (problem,) = problems(self.TEXT + 'meet = "a.{e} against b.{bb}.{e}, slip"')
        assert (problem.what, problem.hint) == ('the table has no column "bb"', "Did you mean b?")
        assert problem.place.text[problem.place.column :].startswith("bb}")

    def test_a_large_table_of_wrong_names_is_answered_in_time(self):
        copies = ", ".join(f'"k{n}"' for n in range(3000))
        rows = "\n".join(f"x{n} l" for n in range(3000))
        text = self.TEXT.replace('"u", "v"', copies).replace("u  l\nv  r", rows)
        found = problems(text + 'meet = "a.{e} against b.{b}.{e}, slip"')
        assert len(found) == 3000
        assert found[0].hint
        assert not found[-1].hint

    def test_a_column_that_nothing_uses_is_a_notice(self):
        found = problems(self.TEXT + 'meet = "a.l against b.{b}.r, slip, a above"')
        assert [(p.level, p.what) for p in found][:1] == [("notice", 'no sentence uses the column "e"')]

    def test_rows_of_one_block_that_tie_the_same_parts_are_one_joint(self):
        text = self.TEXT.replace("v  r", "u  r")
        plan = worked(text + 'meet = "a.{e} against b.{b}.{e}, slip, a above"')
        assert [(joint.name, len(joint.contacts)) for joint in plan.joints] == [("j a b.u", 2)]



class TestText:
    """TOML in UTF-8; what an editor adds is tolerated, what is no TOML has its line and a caret."""

    @pytest.mark.parametrize("change", ["\ufeff{}", "{}\r\n", "{}# ü\n"])
    def test_marks_of_an_editor_are_tolerated(self, change):
        text = change.format(SMALL).replace("\n", "\r\n")
        assert gap(worked(text), "a.l", "a.r") == 60
        assert gap(assemble(read_plan(text.encode())), "a.l", "a.r") == 60

    def test_numbers_are_the_decimals_that_were_written(self):
        # 0.1 + 0.2 in binary is not 0.3; the exact sum is.
        text = 'unit = "in"\ngive = 0.3\n[part.a]\nx = "l 0.1 p 0.2 r"\n'
        plan = worked(text)
        assert gap(plan, "a.l", "a.r") == plan.distances[0].give_mm == 7.62

    def test_a_fraction_without_quotes_is_told_how_to_be_written(self):
        assert refused('unit = "in"\ngive = 1/16\n') == (
            "plan.toml:2: this is not TOML: expected newline or end of document after a statement\n"
            "    give = 1/16\n"
            "            ^\n"
            '  A length with a fraction or a unit stands in quotes, as in "3 1/2".'
        )

    def test_a_key_twice(self):
        text = refused(SMALL + 'x = "l 50 r"')
        assert text.startswith("plan.toml:4: this is not TOML: cannot overwrite a value")
        assert text.endswith("It stands in the file twice: keep one.")

    def test_bytes_that_are_no_utf8_have_their_line(self):
        assert refused(SMALL.encode() + b"note = 'K\xfcche'\n") == (
            "plan.toml:4: this letter is not written in UTF-8\n"
            "    note = 'K\ufffdche'\n"
            "             ^\n"
            "  Save the file in UTF-8."
        )
        assert "UTF-16" in refused(SMALL.encode("utf-16"))

    def test_a_file_beyond_all_measure_is_not_read(self):
        with pytest.raises(BuildError, match="is not read"):
            decode_plan(b"#" * (PLAN_BYTES_MAX + 1))

    @pytest.mark.parametrize(
        "text",
        [
            "a = " + "[" * 20000,
            "a = 1e99999999999999999999",
            SMALL.replace('"l 60 r"', "0x" + "f" * 6000),
            "finest = 0x" + "f" * 5000 + "\n" + SMALL,
            "finest = 1e999999\n" + SMALL,
            "finest = " + "9" * 5000 + "\n" + SMALL,
            "give = 1979-05-27\n" + SMALL,
            ".".join("abcde" * 500) + " = 1",
            'title = "\ud800"\n' + SMALL,
            "x = '\0'",
        ],
    )
    def test_odd_files_are_refused_in_plain_words(self, text):
        assert refused(text).startswith("plan.toml")

    def test_lines_are_right_whatever_stands_above(self):
        text = (
            '# a [part.b] in a comment = "no"\n"unit" = "mm"\nfits = { "a" = [\n 0, # one\n 1, 2], \'b\' = [0, 1, 2] }\n'
            "part.q.x = \"l 3 r\"\n[part . \"a\"] # ]\n'x' = [ \"l 60 r\", # [\n\n  '''\nl 5 k''',\n"
            '  """k 3 q""", ]\ny = "f 1 g" # "\n[joint.\'j\']\neach = \'\'\'\na\n\na\n\'\'\'\nmeet = ["q.l against a.z, a", """\nq.l against\n  {a}.z, a"""]\n'
        )
        found = [(p.place.line, p.what) for p in problems(text) if p.level == "error"]
        assert found == [(20, 'a has no mark "z"'), (22, 'a has no mark "z"')]
        plan = worked(text.replace(".z", ".k"))
        lines = {d.place.text: d.place.line for d in plan.distances}
        assert lines == {"l 3 r": 6, "l 60 r": 8, "l 5 k": 11, "k 3 q": 12, "f 1 g": 13}


class TestPython:
    """A plan may be made in Python: the same errors, with keys in place of lines."""

    def test_it_is_the_same_plan(self):
        plan = Plan(
            unit="mm",
            give=0.5,
            fits={"f": [0, Decimal("0.2"), "0.6"]},
            part={"a": {"x": "l 60 r"}, "b": {"copies": ["u"], "x": ["l 5 r"]}},
            joint={"j": {"meet": "a.r against b.u.l, f"}},
        )
        built = assemble(plan)
        assert at(built, "b.u.r") == 65
        assert built.contacts[0].most_mm == 0.6

    def test_numbers_of_numpy_are_numbers_too(self):
        import numpy as np

        assert Plan(unit="mm", give=np.float64(0.1)).head().give == Fraction(1, 10)

    def test_errors_name_their_key(self):
        with pytest.raises(BuildError) as caught:
            Plan(unit="mm", parts={})
        assert str(caught.value) == 'parts: "parts" is no key of a plan\n  Did you mean part?'
        with pytest.raises(BuildError) as caught:
            assemble(Plan(unit="mm", part={"a": {"x": ["l 60 r", "l 5 (hod) r"]}}))
        assert str(caught.value) == (
            'part.a.x[2]: "hod" is no condition\n    l 5 (hod) r\n         ^^^\n  Did you mean hold?'
        )
        with pytest.raises(BuildError):
            Plan.model_validate({"unit": 3})

    def test_a_changed_copy_of_a_plan_is_worked_out_anew(self):
        plan = read_plan(SMALL)
        assert assemble(plan) is assemble(plan)
        other = plan.model_copy(update={"part": {}})
        assert assemble(other).parts == ()


LETTERS = st.text(max_size=60)
PIECES = st.lists(
    st.sampled_from(
        [*"ab 12/.()[]{}=\"'\n,@*#-½é", "x = ", "[part.a]\n", "unit = 'mm'\n", "l 60 r", "(equal)", "..", "hold", "give 1",
         "[joint.j]\nmeet = ", "a.l against b.r, slip", "[keep]\nk = ", " flush with ", "'''\n", "1e9", "in"]
    ),
    max_size=25,
).map("".join)  # fmt: skip


@given(st.one_of(LETTERS, PIECES, st.tuples(st.just(SMALL), PIECES).map("".join)))
@settings(max_examples=300)
def test_whatever_the_text_only_problems_come_of_it(text):
    try:
        assemble(read_plan(text))
    except BuildError as error:
        for problem in error.problems:
            assert "\n" not in problem.what
            str(problem).encode("utf-8")


@given(st.binary(max_size=80))
def test_whatever_the_bytes_only_problems_come_of_them(content):
    try:
        assemble(read_plan(SMALL.encode() + content))
    except BuildError as error:
        assert error.problems


@given(st.data())
@settings(max_examples=150)
def test_a_damaged_bench_gives_problems_with_lines(data):
    text = BENCH
    for _ in range(data.draw(st.integers(1, 3))):
        k = data.draw(st.integers(0, len(text) - 1))
        cut = data.draw(st.integers(0, 12))
        text = text[:k] + data.draw(st.one_of(PIECES, st.just(""))) + text[k + cut :]
    try:
        assemble(read_plan(text))
    except BuildError as error:
        for problem in error.problems:
            assert problem.place.file == "plan.toml"
            assert problem.place.line is None or 1 <= problem.place.line <= text.count("\n") + 1
            if problem.place.column is not None and problem.place.text:
                assert 0 <= problem.place.column <= len(problem.place.text)


def test_a_sentence_a_line_for_one_slip(capsys):
    assert said(SMALL + "y = 'f 3 b 4 '") == [
        "plan.toml:4: part.a.y: the mark behind this distance is missing\n"
        "    f 3 b 4 \n"
        "            ^\n"
        "  A run begins and ends with a mark."
    ]
