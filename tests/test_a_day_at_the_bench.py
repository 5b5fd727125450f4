"""A whole day in a real terminal: from an empty build to aprons cut, with a slip, a remake, an interruption."""

from __future__ import annotations

import os
import time

import pytest
from at_the_bench import Terminal, ran
from cli_folder import PLAN, folder_of, log_text, rows_on_disk

pytestmark = pytest.mark.skipif(os.name != "posix", reason="a pseudo-terminal is a thing of POSIX")


CALIPER_L = "leg.l left..right  plan 3 1/2  [caliper]: "


def answered(terminal, prompt, keys):
    """Wait for a prompt, then type."""
    terminal.until(prompt)
    terminal.type(keys)


def test_from_nothing_to_an_apron_cut(tmp_path):
    assert ran("new", "bench", "--empty", at=tmp_path)[0] == 0
    bench = tmp_path / "bench"
    (bench / "plan.toml").write_text(PLAN, encoding="utf-8")

    # The legs are calipered: it asks, the caliper types. 3 1/2 and 3 17/32 in are 88.9 and 89.7 mm.
    legs = Terminal("read", "leg.l", "--tool", "caliper", at=bench)
    answered(legs, "leg.l left..right  plan 3 1/2  [caliper]: ", " 89,7\n")
    answered(legs, "is the caliper set to mm today? y or n: ", "y\n")
    assert "3.5315 in caliper" in legs.until("1 kept.")
    assert legs.ended() == 0
    assert rows_on_disk(bench) == ["reading,leg.l.left,leg.l.right,89.7 mm,caliper,"]

    # The other leg: it does not ask again today. A slip first (1 in too much), taken back at once.
    legs = Terminal("read", "leg.r", at=bench)
    answered(legs, "[caliper]: ", "114.0\n")
    answered(legs, "Keep it? y or n: ", "n\n")
    answered(legs, "[caliper]: ", "88.2\n")
    legs.until("3.4724 in caliper")
    assert legs.ended() == 0

    # A mistake noticed later: undone, read again.
    assert "struck #2: reading leg.r.left leg.r.right 88.2 mm caliper" in ran("undo", at=bench)[1]
    status, text = ran("read", "leg.r", "left..right", "88.6", "mm", at=bench)
    assert (status, "#4 leg.r left..right 3.4882 in caliper" in text) == (0, True)

    # How far apart they stand, by tape, from the list of what is wanted.
    status, text = ran("wanted", at=bench)
    assert "w1  leg.l.right..leg.r.left  plan 41  tape" in text
    assert ran("read", "w1", "41-3/32", "--tool", "tape", at=bench)[0] == 0

    # What to cut, and it is cut so.
    status, text = ran("sizes", "--json", at=bench)
    status, text = ran("made", "apron", at=bench)
    assert status == 0
    assert "as advised" in text
    closed = Terminal("close", "dado", "leg.l", "--dry", at=bench)
    closed.until("leg.l and apron are one piece now, until it is opened.")
    answered(closed, "[tape]: ", ".\n")
    assert closed.ended() == 0

    # The apron splits: it is made again; the joint is open again.
    again = Terminal("remake", "apron", at=bench)
    again.until("must be opened first: dado leg.l apron (closed dry)")
    answered(again, "Are they open, and is it made anew? y or n: ", "y\n")
    again.until("remake apron")
    assert again.ended() == 0
    status, text = ran(at=bench)
    assert "TO CUT    apron" in text


def test_the_same_number_sent_twice_by_a_caliper_is_kept_once(tmp_path):
    bench = folder_of(tmp_path / "b")
    reading = Terminal("read", "--tool", "caliper", at=bench)
    answered(reading, "leg.l left..right  plan 3 1/2  [caliper]: ", "3.5\n3.5\n")
    reading.until("the same number again at once")
    time.sleep(0.9)
    answered(reading, "leg.r left..right  plan 3 1/2  [caliper]: ", "3.5\n")
    answered(reading, "apron", ".\n")
    reading.until("2 kept.")
    assert reading.ended() == 0
    assert rows_on_disk(bench) == [
        "reading,leg.l.left,leg.l.right,3.5,caliper,", "reading,leg.r.left,leg.r.right,3.5,caliper,",
    ]  # fmt: skip


def test_skipping_taking_back_changing_the_tool_and_stopping(tmp_path):
    bench = folder_of(tmp_path / "b")
    reading = Terminal("read", "--tool", "tape", at=bench)
    answered(reading, "leg.l left..right  plan 3 1/2  [tape]: ", "\n")
    answered(reading, "leg.r left..right  plan 3 1/2  [tape]: ", "cal\n")
    answered(reading, "leg.r left..right  plan 3 1/2  [caliper]: ", "3 1/\n")
    assert "a whole number was expected" in reading.until("leg.r left..right")
    answered(reading, "[caliper]: ", "3-17/32\n")
    answered(reading, "apron", "-\n")
    reading.until("#2 struck #1")
    answered(reading, "leg.r left..right  plan 3 1/2  [caliper]: ", ".\n")
    reading.until("0 kept.")
    assert reading.ended() == 0
    assert rows_on_disk(bench)[-1] == "strike,1,,,,taken back"


def test_the_last_one_is_read_once_more(tmp_path):
    bench = folder_of(tmp_path / "b")
    reading = Terminal("read", "--tool", "caliper", at=bench, columns=120)
    answered(reading, "leg.l left..right  plan 3 1/2  [caliper]: ", "+\n")
    reading.until("nothing was kept yet that could be read once more")
    answered(reading, "leg.l left..right  plan 3 1/2  [caliper]: ", "3.531\n")
    answered(reading, "leg.r left..right  plan 3 1/2  [caliper]: ", "+\n")
    answered(reading, "leg.l left..right  plan 3 1/2  [caliper]: ", "3.535\n")
    reading.until("2 readings, 0.004 apart")
    answered(reading, "leg.r left..right  plan 3 1/2  [caliper]: ", ".\n")
    reading.until("2 kept.")
    assert reading.ended() == 0
    assert [row.split(",")[3] for row in rows_on_disk(bench)] == ["3.531", "3.535"]


def test_one_reading_that_is_named_is_asked_for_and_read_again_and_again(tmp_path):
    bench = folder_of(tmp_path / "b")
    reading = Terminal("read", "leg.r", "left..right", "--tool", "caliper", at=bench, columns=60)
    answered(reading, "leg.r left..right  plan 3 1/2  [caliper]: ", "3.531+\n")
    answered(reading, "[caliper]: ", "3,534 +\n")
    reading.until("2 readings, 0.003 apart")
    answered(reading, "leg.r left..right  plan 3 1/2  [caliper]: ", "3.532\n")
    reading.until("3 readings, 0.003 apart")
    reading.until("3 kept.")
    assert reading.ended() == 0
    assert max(map(len, reading.text.splitlines()[:4])) <= 60
    assert [row.split(",")[3] for row in rows_on_disk(bench)] == ["3.531", "3.534", "3.532"]


class TestWhatACaliperSendsAtAQuestion:
    """A caliper cannot answer yes or no; what it sends is never taken for an answer, and no number is lost."""

    def test_another_number_stands_in_place_of_the_strange_one(self, tmp_path):
        bench = folder_of(tmp_path / "b")
        reading = Terminal("read", "leg.l", "--tool", "caliper", at=bench)
        answered(reading, CALIPER_L, "4.53\n")
        answered(reading, "Keep it? y or n: ", "3,531\n")
        reading.until("1 kept.")
        assert reading.ended() == 0
        assert rows_on_disk(bench) == ["reading,leg.l.left,leg.l.right,3.531,caliper,"]

    def test_the_strange_one_sent_twice_is_asked_about_again(self, tmp_path):
        bench = folder_of(tmp_path / "b")
        reading = Terminal("read", "leg.l", "--tool", "caliper", at=bench)
        answered(reading, CALIPER_L, "4.53\n4.53\n")
        reading.until("Keep it? y or n: ")
        answered(reading, "Keep it? y or n: ", "n\n")
        reading.until("not kept")
        answered(reading, CALIPER_L, ".\n")
        assert reading.ended() == 0
        assert rows_on_disk(bench) == []

    def test_one_in_mm_sent_twice_does_not_say_no(self, tmp_path):
        bench = folder_of(tmp_path / "b")
        reading = Terminal("read", "leg.l", "--tool", "caliper", at=bench)
        answered(reading, CALIPER_L, "89.7\n89.7\n")
        reading.until("set to mm today? y or n: ")
        answered(reading, "set to mm today? y or n: ", "y\n")
        reading.until("1 kept.")
        assert reading.ended() == 0
        assert rows_on_disk(bench) == ["reading,leg.l.left,leg.l.right,89.7 mm,caliper,"]

    def test_a_second_line_end_skips_nothing(self, tmp_path):
        bench = folder_of(tmp_path / "b")
        reading = Terminal("read", "--tool", "caliper", at=bench)
        answered(reading, CALIPER_L, "3.5\n\n")
        reading.until("#1 leg.l left..right")
        answered(reading, "leg.r left..right  plan 3 1/2  [caliper]: ", "3.49\n")
        reading.until("#2 leg.r left..right 3.49 in")
        answered(reading, "apron", ".\n")
        assert reading.ended() == 0


def test_words_for_keys_and_a_sign_before_a_number(tmp_path):
    bench = folder_of(tmp_path / "b")
    reading = Terminal("read", "--tool", "caliper", at=bench)
    answered(reading, CALIPER_L, "help\n")
    reading.until("A number and Enter keeps")
    answered(reading, CALIPER_L, "+003.531\n")
    reading.until("#1 leg.l left..right 3.531 in")
    answered(reading, "leg.r left..right", "undo\n")
    reading.until("#2 struck #1")
    answered(reading, CALIPER_L, "skip\n")
    answered(reading, "leg.r left..right", "Stop\n")
    assert reading.ended() == 0


def test_a_number_waits_for_the_name_of_its_tool(tmp_path):
    bench = folder_of(tmp_path / "b")
    reading = Terminal("read", "leg.l", at=bench)
    answered(reading, "[which tool? caliper]: ", "3.531\n")
    reading.until("Which tool was it? Enter for caliper, or type its name: 3.531 waits for it.")
    answered(reading, "[which tool? caliper]: ", "calipr\n")
    reading.until("Did you mean caliper?")
    answered(reading, "[which tool? caliper]: ", "cal\n")
    reading.until("1 kept.")
    assert reading.ended() == 0
    assert rows_on_disk(bench) == ["reading,leg.l.left,leg.l.right,3.531,caliper,"]


def test_enter_takes_the_tool_that_is_offered(tmp_path):
    bench = folder_of(tmp_path / "b")
    reading = Terminal("read", "leg.l", at=bench)
    answered(reading, "[which tool? caliper]: ", "3.531\n")
    reading.until("3.531 waits for it.")
    answered(reading, "[which tool? caliper]: ", "\n")  # an Enter before the prompt stands there is a caliper's
    reading.until("#1 leg.l left..right 3.531 in caliper")
    assert reading.ended() == 0
    assert rows_on_disk(bench) == ["reading,leg.l.left,leg.l.right,3.531,caliper,"]


def test_a_second_line_end_of_a_caliper_takes_no_tool(tmp_path):
    bench = folder_of(tmp_path / "b")
    reading = Terminal("read", "leg.l", at=bench)
    answered(reading, "[which tool? caliper]: ", "3.531\n\n")
    answered(reading, "3.531 waits for it.", ".\n")
    reading.until("3.531 is not kept: its tool was not named")
    assert reading.ended() == 1
    assert rows_on_disk(bench) == []


def test_a_number_whose_tool_is_never_named_is_said_not_to_be_kept(tmp_path):
    bench = folder_of(tmp_path / "b")
    reading = Terminal("read", "leg.l", at=bench)
    answered(reading, "[which tool? caliper]: ", "3.5\n")
    answered(reading, "waits for it.", "3.6\n")
    reading.until("3.5 is not kept: its tool was not named")
    answered(reading, "waits for it.", ".\n")
    reading.until("3.6 is not kept: its tool was not named")
    reading.until("0 kept.")
    assert reading.ended() == 1
    assert rows_on_disk(bench) == []


def test_a_tool_that_hardly_spans_it_is_not_taken_for_granted(tmp_path):
    """41 in is more than a caliper spans: whoever forgets to change the tool is asked, and nothing is lost."""
    bench = folder_of(tmp_path / "b", rows="made,leg.l,,,,\nmade,leg.r,,,,")
    reading = Terminal("read", "--tool", "caliper", at=bench)
    answered(reading, CALIPER_L, "3.5\n")
    answered(reading, "leg.r left..right  plan 3 1/2  [caliper]: ", "3.51\n")
    answered(reading, "leg.l.right..leg.r.left  plan 41  [caliper? tape]: ", "41-3/32\n")
    reading.until("Which tool was it? Enter for tape, or type its name: 41-3/32 waits for it.")
    answered(reading, "[caliper? tape]: ", "tape\n")
    assert reading.ended() == 0
    assert rows_on_disk(bench)[-1] == "reading,leg.l.right,leg.r.left,41-3/32,tape,"


def test_the_same_for_a_reading_typed_whole(tmp_path):
    bench = folder_of(tmp_path / "b", rows="reading,leg.l.left,leg.l.right,3.5,caliper,")
    status, text = ran("read", "leg.l.right..leg.r.left", "41-3/32", at=bench)
    assert status == 2
    assert "the last tool was caliper, which hardly spans 41-3/32" in text
    assert "--tool tape, or --tool caliper if it was that" in text
    assert ran("read", "leg.l.right..leg.r.left", "41-3/32", "--tool", "caliper", at=bench)[0] == 0
    asked = Terminal("read", "leg.l.right..leg.r.left", "--tool", "caliper", at=bench)
    answered(asked, "plan 41  [caliper]: ", "41-3/32\n")
    asked.until("1 kept.")
    assert asked.ended() == 0


def test_what_is_no_reading_is_refused_before_it_is_asked_for(tmp_path):
    bench = folder_of(tmp_path / "b", plan=PLAN.replace('x = "left', 'z = "foot 30 head"\nx = "left'))
    status, text = ran("read", "leg.l.left..foot", at=bench)
    assert status == 2
    assert "leg.l.left lies along x, leg.l.foot along z: that is no distance along one axis" in text
    status, text = ran("read", "leg.l.left", at=bench)
    assert status == 2
    assert "leg.l.left is a mark; a reading has two" in text


def test_a_size_far_off_is_asked_back_before_it_is_written(tmp_path):
    bench = folder_of(tmp_path / "b")
    cutting = Terminal("made", "apron", "l.left", "7", at=bench, columns=120)
    cutting.until("1 more than plan, far more than cuts here miss by. Just 1 in: was the tape held at its 1?")
    answered(cutting, "Keep it? y or n: ", "n\n")
    cutting.until("not kept: nothing was written")
    assert cutting.ended() == 1
    assert rows_on_disk(bench) == []
    cutting = Terminal("made", "apron", "l.left", "7", at=bench)
    answered(cutting, "Keep it? y or n: ", "y\n")
    assert cutting.ended() in (0, 1)
    assert rows_on_disk(bench) == ["made,apron.l.left,apron.l.end,7,,"]


@pytest.mark.parametrize(("key", "said"), [
    ("\x03", "stopped; all that was echoed is kept"), ("\x04", "not kept: nothing was written"),
])  # fmt: skip
def test_stopped_at_a_question_nothing_is_written(tmp_path, key, said):
    bench = folder_of(tmp_path / "b")
    cutting = Terminal("made", "apron", "l.left", "7", at=bench)
    answered(cutting, "Keep it? y or n: ", key)
    cutting.until(said)
    assert cutting.ended() == 1
    assert rows_on_disk(bench) == []


def test_interrupted_between_two_readings_what_was_echoed_is_kept(tmp_path):
    bench = folder_of(tmp_path / "b")
    reading = Terminal("read", "--tool", "caliper", at=bench)
    answered(reading, "[caliper]: ", "3.5\n")
    reading.until("#1 leg.l left..right 3 1/2 in caliper, plan 3 1/2: as planned")
    reading.until("[caliper]: ")
    reading.type("3.4")
    reading.kill()
    assert rows_on_disk(bench) == ["reading,leg.l.left,leg.l.right,3.5,caliper,"]


def test_two_terminals_at_once_lose_nothing(tmp_path):
    bench = folder_of(tmp_path / "b")
    first, second = (Terminal("read", "--tool", tool, at=bench) for tool in ("caliper", "rule"))
    first.until("[caliper]: ")
    second.until("[rule]: ")
    first.type("3.51\n")
    second.type("3.52\n")
    first.until("#")
    second.until("#")
    answered(first, "[caliper]: ", "3.53\n")
    answered(second, "[rule]: ", "3.54\n")
    for one in (first, second):
        answered(one, "apron", ".\n")
        assert one.ended() == 0
    lines = (bench / "log.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert [int(line.split(",")[0]) for line in lines] == [1, 2, 3, 4]
    assert sorted(line.split(",")[5] for line in lines) == ["3.51", "3.52", "3.53", "3.54"]


def test_a_log_saved_by_a_spreadsheet_in_between(tmp_path):
    bench = folder_of(tmp_path / "b")
    assert ran("read", "leg.l", "left", "right", "3-17/32", "--tool", "caliper", at=bench)[0] == 0
    text = (bench / "log.csv").read_text(encoding="utf-8")
    (bench / "log.csv").write_bytes(b"\xef\xbb\xbf" + text.replace(",", ";").replace("\n", "\r\n").encode())
    status, text = ran("read", "leg.r", "left", "right", "3.488", at=bench)
    assert status == 0
    assert "#2 leg.r left..right 3.488 in caliper" in text
    status, text = ran("log", at=bench)
    assert status == 0
    assert text.count("caliper") == 2


@pytest.mark.parametrize("columns", [40, 60, 120])
def test_no_line_is_wider_than_the_terminal(tmp_path, columns):
    bench = folder_of(tmp_path / "b", rows="reading,leg.l.left,leg.l.right,3.531,caliper,")
    for command in (("sizes",), ("plan",), ("log",), ("wanted",)):
        _, text = ran(*command, at=bench, columns=columns)
        assert max(map(len, text.splitlines())) <= columns, (command, max(text.splitlines(), key=len))


def test_plain_output_for_a_screen_reader(tmp_path):
    bench = folder_of(tmp_path / "b", rows="reading,leg.l.left,leg.l.right,3.531,caliper,")
    terminal = Terminal("sizes", at=bench, environment={"NO_COLOR": "1", "TERM": "dumb"})
    terminal.ended()
    assert "\x1b" not in terminal.raw
    assert not set(terminal.text) & set("│─┌┐└┘├┤┬┴┼╭╮╰╯━┃")


def test_a_tag_of_an_old_list_is_refused(tmp_path):
    bench = folder_of(tmp_path / "b", rows="made,leg.l,,,,\nmade,leg.r,,,,")
    ran("wanted", at=bench)
    (bench / "log.csv").write_text(log_text("made,leg.l,,,,\nmade,leg.r,,,,\nremake,leg.r,,,,"), encoding="utf-8")
    status, text = ran("read", "w1", "3.5", "--tool", "caliper", at=bench)
    assert status == 2
    assert "is old: #3 remake leg.r came after it" in text


def test_a_tool_behind_a_number_counts_for_that_one(tmp_path):
    bench = folder_of(tmp_path / "b", rows="made,leg.l,,,,\nmade,leg.r,,,,\n")
    read = Terminal("read", "--tool", "caliper", at=bench)
    answered(read, CALIPER_L, "3-17/32 rule\n")
    answered(read, "leg.r left..right  plan 3 1/2  [caliper]: ", "3.49 hammer\n")
    read.until("hammer")
    answered(read, "[caliper]: ", "3.49 in\n")
    answered(read, "[caliper? tape]: ", "41-3/32 tape\n")
    read.until("3 kept.")
    assert read.ended() == 0
    assert rows_on_disk(bench)[2:] == [
        "reading,leg.l.left,leg.l.right,3-17/32,rule,", "reading,leg.r.left,leg.r.right,3.49 in,caliper,",
        "reading,leg.l.right,leg.r.left,41-3/32,tape,",
    ]  # fmt: skip


@pytest.mark.parametrize(("typed", "kept"), [("3.53", "3.53"), ("3 17/32", "3 17/32"), ("3,53", "3.53")])
def test_another_number_at_the_question_stands_in_place_of_the_one_typed_whole(tmp_path, typed, kept):
    bench = folder_of(tmp_path / "b", rows="")
    read = Terminal("read", "leg.l", "left..right", "5-17/32", "--tool", "rule", at=bench)
    answered(read, "Keep it? y or n: ", f"{typed}\n")
    read.until("#1 leg.l left..right")
    assert read.ended() == 0
    assert rows_on_disk(bench) == [f"reading,leg.l.left,leg.l.right,{kept},rule,"]
