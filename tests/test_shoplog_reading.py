"""The log comes back as it was written, whatever program saved it meanwhile; nothing is lost in silence.

Independent reader and writer: the `csv` module of Python's standard library (3.11), whose default
dialect follows RFC 4180 (Common Format and MIME Type for CSV Files), section 2: cells with the
separator or a quote in them stand in quotes, and a quote inside is doubled.
"""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsolve.build.folder import unmended
from fitsolve.build.logtext import COLUMNS, EVENTS, HEADER, Dialect, Row, parse_log, row_text, split_cells

T = "2024-05-17T14:10:00"
PLAIN = '''\
no,time,event,from,to,reading,tool,note
1,2024-05-17T14:10:00+02:00,reading,leg.fl.outer,leg.fl.inner,3 17/32,caliper,
2,2024-05-17T14:11:00+02:00,reading,leg.fr.outer,leg.fr.inner,"3 1/2""",caliper,"by the window, twice"
3,2024-05-17T14:30:00+02:00,close,dado apron.front leg.fl,,,,dry
'''
ROWS = (
    Row(
        1, "2024-05-17T14:10:00+02:00", "reading", "leg.fl.outer", "leg.fl.inner", "3 17/32", "caliper",
        "", 2,
    ),
    Row(
        2, "2024-05-17T14:11:00+02:00", "reading", "leg.fr.outer", "leg.fr.inner", '3 1/2"', "caliper",
        "by the window, twice", 3,
    ),
    Row(3, "2024-05-17T14:30:00+02:00", "close", "dado apron.front leg.fl", note="dry", line=4),
)  # fmt: skip


def respelled(separator: str = ",", newline: str = "\n", quote_all: bool = False, begin: str = "") -> bytes:
    """The same log as another program might save it, by the csv module."""
    text = io.StringIO()
    quoting = csv.QUOTE_ALL if quote_all else csv.QUOTE_MINIMAL
    csv.writer(text, delimiter=separator, lineterminator=newline, quoting=quoting).writerows(
        csv.reader(io.StringIO(PLAIN))
    )
    return (begin + text.getvalue()).encode()


def words(problem: object) -> str:
    return str(problem).splitlines()[0]


class TestWhateverProgramSavedIt:
    """A byte order mark, CRLF or CR, semicolons or tabs, quotes: the rows are the same."""

    @pytest.mark.parametrize("separator", [",", ";", "\t"])
    @pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
    @pytest.mark.parametrize("quote_all", [False, True])
    @pytest.mark.parametrize("begin", ["", "\ufeff"])
    def test_the_rows_are_the_same(self, separator, newline, quote_all, begin):
        log = parse_log(respelled(separator, newline, quote_all, begin))
        assert log.rows == ROWS
        assert log.problems == ()
        assert log.dialect.separator == separator
        assert log.dialect.newline == newline

    @pytest.mark.parametrize("separator", [";", "\t"])
    def test_a_decimal_comma_is_one_where_commas_part_no_cells(self, separator):
        # what a spreadsheet writes whose decimal sign is the comma: it parts cells by semicolons for that reason
        cells = [["1", T, "reading", "a", "b", read, "rule", "12,5"] for read in ("3,531", ",75", "89,7 mm", "3 1/2")]
        for number, row in enumerate(cells):
            row[0] = str(number + 1)
        text = "\n".join([HEADER.replace(",", separator), *map(separator.join, cells), ""])
        log = parse_log(text.encode())
        assert [row.reading for row in log.rows] == ["3.531", ".75", "89.7 mm", "3 1/2"]
        assert {row.note for row in log.rows} == {"12,5"}
        assert [(p.level, words(p)) for p in log.problems] == [
            ("notice", "log.csv:2: decimal commas, as a spreadsheet writes them, read as points: row 1 and 2 more")
        ]

    def test_where_commas_part_the_cells_a_comma_in_a_reading_stays_what_it_was(self):
        log = parse_log(f'{HEADER}\n1,{T},reading,a,b,"3,531",rule,\n'.encode())
        assert log.rows[0].reading == "3,531"  # refused where it is read as a length

    def test_blank_lines_and_empty_cells_at_the_end_mean_nothing(self):
        lines = PLAIN.splitlines()
        text = "\n".join(
            ["", lines[0] + ",,", ",,,,,,,,,", lines[1] + ",,,", "  ", lines[2], lines[3], "", ",,"]
        )
        log = parse_log((text + "\n").encode())
        assert [row.no for row in log.rows] == [1, 2, 3]
        assert log.problems == ()

    def test_empty_cells_at_the_end_may_be_left_out_before_the_last_line(self):
        text = f"{HEADER}\n1,{T},reading,a,b,3 1/2,caliper\n2,{T},made,apron.front\n3,{T},apart,,,,,\n"
        log = parse_log(text.encode())
        assert [(row.no, row.start, row.note) for row in log.rows] == [
            (1, "a", ""),
            (2, "apron.front", ""),
            (3, "", ""),
        ]
        assert log.problems == ()

    def test_columns_may_stand_in_another_order_and_unknown_ones_are_named(self):
        text = f"event,no,weather,to,from,time,tool,note,reading\nreading,7,rain,b,a,{T},rule,x,3\n"
        log = parse_log(text.encode())
        assert log.rows == (Row(7, T, "reading", "a", "b", "3", "rule", "x", 2),)
        assert [(p.level, words(p)) for p in log.problems] == [
            ("notice", 'log.csv:1: not a column of the log: "weather"')
        ]

    def test_a_cell_may_run_over_lines(self):
        text = f'{HEADER}\n1,t,reading,a,b,3,rule,"one\ntwo"\n2,t,made,a,,,,\n'
        log = parse_log(text.encode())
        assert [(row.no, row.note) for row in log.rows] == [(1, "one two"), (2, "")]

    def test_a_line_for_the_separator_that_spreadsheets_put_first_is_passed_over(self):
        log = parse_log(b"sep=;\r\n" + respelled(";", "\r\n"))
        assert [row.no for row in log.rows] == [1, 2, 3]
        assert log.problems == ()


class TestTimes:
    """A time is a date, however a spreadsheet turned it around; anything else is a warning, and the row counts."""

    @pytest.mark.parametrize("time", [
        T, "2024-05-17T14:10:00+02:00", "2024-05-17 14:10", "17.05.2024 14:10", "5/17/2024 2:10 PM", "17. 5. 24",
    ])  # fmt: skip
    def test_a_date(self, time):
        assert parse_log(f"{HEADER}\n1,{time},made,a,,,,\n".encode()).problems == ()

    @pytest.mark.parametrize("time", ["yesterday", "14:10", "2024-99-99", "2024", "12"])
    def test_no_date(self, time):
        log = parse_log(f"{HEADER}\n1,{time},made,a,,,,\n".encode())
        assert [row.no for row in log.rows] == [1]
        (problem,) = log.problems
        assert (problem.level, problem.what) == ("warning", f'row 1: can\'t read "{time}" as a time')


class TestWhatCannotBeUsed:
    """A row that cannot be used is a problem with its line; all the others are kept."""

    @pytest.mark.parametrize(
        ("line", "what"),
        [
            ("x,t,made,a,,,,", 'can\'t read "x" as a row number'),
            (",t,made,a,,,,", "this row has no number"),
            ("0,t,made,a,,,,", 'can\'t read "0" as a row number'),
            ("-3,t,made,a,,,,", 'can\'t read "-3" as a row number'),
            ("٣,t,made,a,,,,", 'can\'t read "٣" as a row number'),
            ("1,t,made,a,,,,", "row 1 stands in line 2 already"),
            ("4,t,reading,a,b,3,531,caliper,x", "9 cells where the header has 8"),
            ('4,t,reading,a,b,3,caliper,"snug', 'a quote (") is never closed'),
            ("4,t,made,a\0b,,,,", "NUL bytes, as a crash leaves them"),
            (f"4,t,made,{'a' * 20_000},,,,", "from: 20000 characters; at most 10000 are read"),
        ],
    )
    def test_the_line_is_named_and_the_rest_kept(self, line, what):
        text = PLAIN.splitlines()
        text.insert(2, line)
        log = parse_log("\n".join([*text, ""]).encode())
        assert [row.no for row in log.rows] == [1, 2, 3]
        assert [(p.level, words(p)) for p in log.problems] == [("error", f"log.csv:3: {what}")]

    def test_the_whole_text_of_a_problem(self):
        text = f"{HEADER}\n4,t,reading,a,b,3,531,caliper,x\n"
        (problem,) = parse_log(text.encode()).problems
        assert str(problem) == (
            "log.csv:2: 9 cells where the header has 8\n"
            "    x\n"
            "    ^\n"
            "  A cell that holds a ',' must stand in quotes."
        )

    def test_a_row_whose_number_can_be_read_can_be_struck_by_it(self):
        log = parse_log(f"{HEADER}\n4,t,reading,a,b,3,531,caliper,x\n".encode())
        assert list(log.broken) == [4]
        assert log.highest == 4

    def test_a_row_without_a_time_is_kept_with_a_warning(self):
        log = parse_log(f"{HEADER}\n4,,made,a,,,,\n".encode())
        assert [row.no for row in log.rows] == [4]
        assert [(p.level, words(p)) for p in log.problems] == [("warning", "log.csv:2: row 4 has no time")]

    def test_bad_utf8_in_a_note_is_a_warning_and_elsewhere_an_error(self):
        text = PLAIN.encode().replace(b"by the window", b"caf\xe9").replace(b"leg.fl.outer", b"leg.f\xff")
        log = parse_log(text)
        assert [(row.no, row.note) for row in log.rows] == [(2, "caf\ufffd, twice"), (3, "dry")]
        assert [(p.level, words(p)) for p in log.problems] == [
            ("error", "log.csv:2: from: not UTF-8"),
            ("warning", "log.csv:3: note: not UTF-8"),
        ]

    def test_a_file_in_utf16_is_not_guessed_at(self):
        log = parse_log(PLAIN.encode("utf-16"))
        assert log.rows == ()
        assert log.foreign
        assert [words(p) for p in log.problems] == [
            "log.csv:1: this file is written in UTF-16; nothing of it was read"
        ]

    def test_a_header_must_name_all_columns_once(self):
        log = parse_log(b"no,time,event,from,to,reading,reading,note\n")
        assert log.foreign
        assert [words(p) for p in log.problems] == [
            'log.csv:1: the header lacks "tool"',
            'log.csv:1: the header has "reading" twice',
        ]

    def test_a_log_without_its_header_is_read_as_if_it_had_it_and_says_so(self):
        log = parse_log("\n".join(PLAIN.splitlines()[1:] + [""]).encode())
        assert [row.no for row in log.rows] == [1, 2, 3]
        assert log.foreign
        assert words(log.problems[0]) == "log.csv:1: the log does not begin with its header"


class TestCutOff:
    """A line that a crash cut off counts for nothing, however much of it stands there."""

    def test_a_last_line_with_cells_missing_is_a_warning(self):
        log = parse_log(f"{PLAIN}4,2024-05-17T14:31:00+02:00,reading,leg.fl.outer,leg.fl.in".encode())
        assert log.rows == ROWS
        assert [(p.level, words(p)) for p in log.problems] == [
            ("warning", "log.csv:5: this line was cut off, as by a crash; nothing of it counts")
        ]

    def test_too_few_cells_in_the_last_line_are_a_warning_even_with_a_line_break(self):
        log = parse_log(f"{PLAIN}4,2024-05-17T14:31:00+02:00,made,leg.f\n".encode())
        assert log.rows == ROWS
        assert [p.level for p in log.problems] == ["warning"]

    @pytest.mark.parametrize("note", ["", "glued", '"glued, peg', '"glued, pegged"', "good to 1/6"])
    def test_the_note_may_be_half_so_the_line_does_not_count(self, note):
        # `good to 1/64` cut off to `good to 1/6` would be a reading ten times as doubtful
        log = parse_log(f"{PLAIN}4,2024-05-17T14:31:00+02:00,close,dado leg.fl apron,,,,{note}".encode())
        assert log.rows == ROWS
        (problem,) = log.problems
        assert problem.level == "warning"
        if note != '"glued, peg':
            assert problem.hint.startswith("It has no line break at its end. Is it whole, typed by hand?")

    def test_a_quote_left_open_does_not_swallow_the_rows_behind_it(self):
        text = f'{HEADER}\n1,t,made,a,,,,"then\n2,t,made,b,,,,\n3,t,made,c,,,,"ok"\n'
        assert [row.no for row in parse_log(text.encode()).rows] == [2, 3]

    @given(st.integers(0, len(PLAIN.encode())))
    def test_wherever_the_file_is_cut_the_whole_lines_before_it_are_read(self, size):
        content = PLAIN.encode()[:size]
        whole = content.count(b"\n") - 1
        log = parse_log(content)
        assert log.rows[: max(whole, 0)] == ROWS[: max(whole, 0)]
        assert len(log.rows) == max(whole, 0), "nothing half is believed"
        assert all(problem.level != "error" for problem in log.problems)


CELL = st.text(st.characters(blacklist_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=12).map(str.strip)


@given(
    st.lists(st.tuples(CELL, st.sampled_from(EVENTS), CELL, CELL, CELL, CELL, CELL), max_size=6),
    st.sampled_from(",;\t"),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.permutations(COLUMNS),
)
def test_a_row_written_and_read_back_is_the_same(cells, separator, newline, columns):
    rows = [
        Row(no, time or "t", event, start, end, reading, tool, note, no + 1)
        for no, (time, event, start, end, reading, tool, note) in enumerate(cells, 1)
    ]
    dialect = Dialect(separator, newline, tuple(columns))
    text = newline.join([separator.join(columns), *(row_text(row, dialect) for row in rows), ""])
    log = parse_log(text.encode())
    assert log.rows == tuple(rows)
    assert {words(problem).partition(" as a time")[1] for problem in log.problems} <= {" as a time"}


@given(st.lists(CELL, min_size=2, max_size=9), st.sampled_from(",;\t"))
def test_a_line_is_split_as_the_csv_module_splits_it(cells, separator):
    text = io.StringIO()
    csv.writer(text, delimiter=separator, lineterminator="").writerow(cells)
    assert split_cells(text.getvalue(), separator) == (cells, False)


PIECES = st.sampled_from(
    [HEADER.encode(), *(bytes([c]) for c in b'\n\r,;"\0'), b"1", b"22", b"made", b"\xff", b"\xef\xbb\xbf"]
)


@given(st.one_of(st.binary(max_size=300), st.lists(PIECES, max_size=60).map(b"".join)), st.booleans())
def test_no_bytes_at_all_make_it_fail(content, headed):
    log = parse_log((HEADER.encode() + b"\n" if headed else b"") + content)
    assert len({row.no for row in log.rows}) == len(log.rows)
    for problem in log.problems:
        assert str(problem).startswith("log.csv:")
        assert str(problem).isprintable() or "\n" in str(problem)


@pytest.mark.parametrize(("strikes", "left"), [("", 1), ("2,T,strike,1,,,,\n", 0), ("2,T,strike,1,,,,\n3,T,strike,2,,,,\n", 1)])
def test_a_line_that_can_not_be_read_is_settled_by_a_strike_that_is_not_struck_itself(strikes, left):
    broken = "1,T,reading,leg.outer,leg.inner,3,531,caliper,snug\n"
    log = parse_log(f"{HEADER}\n{broken}{strikes}".replace("T", "2024-05-17T14:10:00").encode())
    assert len(unmended(log)) == left
