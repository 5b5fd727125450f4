"""Reading lengths: exact, tolerant of how the trade writes, and never a guess (specs/lengths.md)."""

import re
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitsolve.errors import Place
from fitsolve.lengths import LENGTH_MM_MOST, MM_PER_INCH, LengthError, read_length, scan_length

SPECS = Path(__file__).parents[1] / "specs"
ROW = re.compile(r"^\| `(.*?)` \|(.*)\|$", re.MULTILINE)
READ, REFUSED = (SPECS / "lengths.md").read_text(encoding="utf-8").split("## What is refused")
READ_ROWS = [(m[1], m[2].strip()) for m in ROW.finditer(READ)]
REFUSED_ROWS = [(m[1], *(cell.strip() for cell in m[2].split("|"))) for m in ROW.finditer(REFUSED)]
REFERENCE = tomllib.loads((SPECS / "references" / "lengths.toml").read_text(encoding="utf-8"))

UNITS = st.sampled_from(["in", "mm"])
BLANKS = st.sampled_from([" ", "  ", "\u00a0", "\u2009", "\u202f", "\t", " \u00a0"])
LENGTH_LETTERS = "0123456789./-'\"″′’½¾⁄ \u00a0inftmcxe,()@−+"


@st.composite
def plain_lengths(draw):
    """A plain length, as text and as an exact amount of its unit."""
    whole, over, under = (draw(st.integers(0, 9999)), draw(st.integers(0, 63)), draw(st.integers(1, 64)))
    form = draw(st.sampled_from(["whole", "fraction", "mixed", "hyphen", "decimal"]))
    if form == "whole":
        return str(whole), Fraction(whole)
    if form == "fraction":
        return f"{over}/{under}", Fraction(over, under)
    if form == "decimal":
        return f"{whole}.{over:02}", whole + Fraction(over, 100)
    over %= under
    return f"{whole}{' ' if form == 'mixed' else '-'}{over}/{under}", whole + Fraction(over, under)


class TestTheTableOfWhatIsRead:
    """Every line of the table in specs/lengths.md; its millimetres are worked by hand."""

    @pytest.mark.parametrize(("text", "mm"), READ_ROWS)
    def test_is_read_exactly(self, text, mm):
        assert read_length(text, "in") == Fraction(mm)

    @pytest.mark.parametrize(("text", "mm"), READ_ROWS)
    def test_is_read_the_same_between_two_names(self, text, mm):
        assert scan_length(f"outer {text} inner", 6, "in") == (Fraction(mm), 6 + len(text))

    @pytest.mark.parametrize(("text", "mm"), READ_ROWS)
    @pytest.mark.parametrize(
        "behind", ["", " (hold)", "(hold)", ")", ", b", ",b", " to 9 1/4", " ; b", " = b"]
    )
    def test_is_read_the_same_before_what_is_no_length(self, text, mm, behind):
        assert scan_length(text + behind, 0, "in") == (Fraction(mm), len(text))

    def test_is_there(self):
        assert len(READ_ROWS) > 30
        assert len(REFUSED_ROWS) > 25


class TestTheTableOfWhatIsRefused:
    """Every line of the second table in specs/lengths.md: the caret, and the full message."""

    @pytest.mark.parametrize(("text", "column", "width", "expected"), REFUSED_ROWS)
    def test_is_refused_with_a_caret_and_a_reason(self, text, column, width, expected):
        with pytest.raises(LengthError) as refused:
            read_length(text, "in")
        error = refused.value
        assert (error.column, error.width, error.expected) == (int(column), int(width), expected)
        assert error.text == text

    # In a run `inches` is the next name: the run itself complains when there is no such mark.
    @pytest.mark.parametrize(
        ("text", "column", "width", "expected"), [row for row in REFUSED_ROWS if row[0] != "3 inches"]
    )
    def test_is_refused_between_two_names_too(self, text, column, width, expected):
        with pytest.raises(LengthError) as refused:
            scan_length(f"outer {text} inner", 6, "in")
        if column != str(len(text)):  # at its end a length alone stops; in a run the next name is in the way
            assert (refused.value.column, refused.value.expected) == (6 + int(column), expected)


class TestExactness:
    """What is read is exactly what was written."""

    # NIST Handbook 44, Appendix C (from memory): 1 in = 25.4 mm exactly; 12 in to the foot.
    def test_an_inch_is_25_4_millimetres(self):
        assert read_length("1 in", "mm") == Fraction(REFERENCE["inch"]["mm"])
        assert read_length("1 ft", "mm") == REFERENCE["inch"]["inches_in_foot"] * Fraction("25.4")

    # Decimal equivalents, specs/references/lengths.toml.
    @pytest.mark.parametrize(("fraction", "decimal"), REFERENCE["decimal_equivalents"].items())
    def test_a_fraction_and_its_decimal_equivalent_are_one_length(self, fraction, decimal):
        assert (
            read_length(fraction, "in") == read_length(decimal, "in") == Fraction(decimal) * Fraction("25.4")
        )

    @given(plain_lengths(), UNITS)
    def test_any_plain_length_is_its_amount_of_the_unit(self, length, unit):
        text, amount = length
        assert read_length(text, unit) == amount * (MM_PER_INCH if unit == "in" else 1)

    @given(plain_lengths(), st.sampled_from(["in", "mm", "cm", "m", "ft"]), st.sampled_from(["", " "]))
    def test_a_unit_in_the_text_outranks_the_unit_of_the_build(self, length, own, blank):
        text, amount = length
        in_mm = {"in": "25.4", "mm": "1", "cm": "10", "m": "1000", "ft": "304.8"}
        marked = f"{text}{blank}{own}"
        if amount * Fraction(in_mm[own]) > LENGTH_MM_MOST:
            with pytest.raises(LengthError, match="10 km"):
                read_length(marked, "in")
        else:
            assert read_length(marked, "in") == read_length(marked, "mm") == amount * Fraction(in_mm[own])

    def test_repeating_fractions_of_a_millimetre_stay_exact(self):
        assert 3 * read_length("1/3 mm", "in") == 1

    def test_a_float_printed_to_its_last_digit_is_read(self):
        assert read_length("89.69375000000001", "mm") == Fraction("89.69375000000001")


class TestTolerance:
    """Blanks, quotes and strokes of any usual make mean the same."""

    @given(plain_lengths(), BLANKS, BLANKS, UNITS)
    def test_blanks_of_any_kind_change_nothing(self, length, front, middle, unit):
        text, _ = length
        assert read_length(front + text.replace(" ", middle) + front, unit) == read_length(text, unit)

    @given(plain_lengths(), UNITS)
    def test_the_plain_way_and_the_careful_way_read_the_same(self, length, unit):
        # A blank at the end is beyond the pattern for plain forms; the value may not change with it.
        text, _ = length
        assert read_length(text, unit) == read_length(text + " ", unit)
        assert scan_length(f"a {text} b", 2, unit) == scan_length(f"a {text}  b", 2, unit)

    @given(plain_lengths(), UNITS, st.sampled_from(["", "in", " in", "mm", " cm", '"', "'"]))
    def test_a_length_in_a_text_is_the_length_alone(self, length, unit, own):
        text = length[0] + own
        assert scan_length(f"outer {text} low.cheek-o", 6, unit) == (read_length(text, unit), 6 + len(text))


class TestWordsBehindANumber:
    """`in ft mm cm m` are units and never names; any longer word is a name."""

    WORDS = st.lists(
        st.sampled_from(["3", "1/2", "in", "ft", "mm", "ft.", "in.", "b", "in-b", "6", ".5", "(", ",", "'"]),
        max_size=4,
    )

    @settings(max_examples=300)
    @given(WORDS, UNITS)
    def test_one_blank_or_two_between_the_words_change_nothing(self, words, unit):
        # With two blanks the text is beyond the pattern for plain forms: both ways must agree.
        seen = []
        for blank in (" ", "  "):
            try:
                length, end = scan_length(blank.join(["3", *words]), 0, unit)
                seen.append((length, blank.join(["3", *words])[:end].split()))
            except LengthError as refused:
                seen.append((refused.expected, refused.written.split()))
        assert seen[0] == seen[1]

    @pytest.mark.parametrize(
        "name", ["inner", "in-board", "m.1", "foot", "mmm", "in@foot", "ft2", "cm_1", "i"]
    )
    def test_a_name_that_begins_like_a_unit_is_a_name(self, name):
        assert scan_length(f"a 4 {name}", 2, "mm") == (4, 3)

    @pytest.mark.parametrize("unit", ["in", "ft", "mm", "cm", "m"])
    def test_a_unit_belongs_to_its_length(self, unit):
        assert scan_length(f"a 4 {unit} b", 2, "mm")[1] == len(f"a 4 {unit}")

    def test_a_number_behind_a_unit_is_refused_and_not_skipped(self):
        with pytest.raises(LengthError) as refused:
            scan_length("l 60 in 5 r", 2, "in")
        assert refused.value.column == 8
        assert refused.value.what == 'can\'t read "60 in 5" as a length'

    @pytest.mark.parametrize("unit", ["IN", "Mm", "FT"])
    def test_units_are_written_small(self, unit):
        with pytest.raises(LengthError, match="a unit was expected here"):
            read_length(f"3 {unit}", "in")


class TestNothingButALengthError:
    """Whatever is typed, the answer is a length or a LengthError with a caret inside the text."""

    @staticmethod
    def check(text, read):
        try:
            length, error = read(), None
        except LengthError as refused:
            length, error = 0, refused
        assert 0 <= length <= LENGTH_MM_MOST
        if error is not None:
            assert 0 <= error.column <= len(text)
            assert 1 <= error.width <= 40
            assert error.expected
            assert str(error.problem(Place("log.csv", 23)))

    @settings(max_examples=300)
    @given(st.one_of(st.text(), st.text(LENGTH_LETTERS, max_size=14)), UNITS)
    def test_for_any_text(self, text, unit):
        self.check(text, lambda: read_length(text, unit))

    @settings(max_examples=300)
    @given(st.one_of(st.text(), st.text(LENGTH_LETTERS, max_size=14)), st.integers(0, 20), UNITS)
    def test_for_any_place_in_any_text(self, text, start, unit):
        start = min(start, len(text))
        self.check(text, lambda: scan_length(text, start, unit)[0])

    @settings(max_examples=300)
    @given(st.text(LENGTH_LETTERS, max_size=14), UNITS)
    def test_what_a_scan_takes_is_a_length_by_itself(self, text, unit):
        try:
            length, end = scan_length(text, 0, unit)
        except LengthError:
            return
        assert read_length(text[:end], unit) == length

    @pytest.mark.parametrize(
        "text", ["", " ", "\x00", "3\x07", "3\n", "3\n4", "9" * 400, "." * 400, "1/" + "0" * 400]
    )
    def test_for_odd_texts(self, text):
        with pytest.raises(LengthError):
            read_length(text, "in")


class TestTheMessage:
    """A LengthError becomes a problem with a place, a caret, and what was expected."""

    def test_alone(self):
        with pytest.raises(LengthError) as refused:
            read_length("30 1/", "in")
        assert str(refused.value.problem(Place("log.csv", 23))) == (
            'log.csv:23: can\'t read "30 1/" as a length\n'
            "    30 1/\n"
            "         ^\n"
            "  a whole number was expected here, as in 30 1/4"
        )

    def test_in_a_run_the_caret_stands_under_the_piece_of_the_run(self):
        with pytest.raises(LengthError) as refused:
            scan_length("outer 3,531 inner", 6, "in")
        place = Place("plan.toml", 9, "part.leg.x", text='x = "outer 3,531 inner"', column=5)
        assert str(refused.value.problem(place)) == (
            'plan.toml:9: part.leg.x: can\'t read "3,531" as a length\n'
            '    x = "outer 3,531 inner"\n'
            "                ^\n"
            "  no comma was expected: it can mean thousands or a decimal; write 3.531, or 3531"
        )

    def test_of_a_long_text_stays_short_and_on_its_lines(self):
        with pytest.raises(LengthError) as refused:
            read_length("3\n" + "4" * 400, "in")
        lines = str(refused.value.problem(Place("log.csv", 2))).split("\n")
        assert len(lines) == 4
        assert max(map(len, lines)) < 120


def test_what_was_typed_with_a_comma_is_offered_both_ways():
    with pytest.raises(LengthError) as caught:
        read_length("20,3", "mm")
    assert "write 20.3, or 203" in caught.value.problem(Place()).hint
