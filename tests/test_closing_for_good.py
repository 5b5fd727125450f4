"""What is known to be wrong is said before it is closed for good; dry it can be closed all the same."""

from __future__ import annotations

import pytest
from at_the_bench import Terminal
from cli_folder import FRAMES, folder_of, rows_on_disk, run
from cli_folder import PLAN as BENCH

# Two rails between two posts: both posts stand against all four shoulders, so the rails must be of one length.
FRAME = """
unit = "mm"
workmanship = 0.3
give = 1
fits = { tight-up = ["0", "0", "0.2"] }
[tool.caliper]
good_to = "0.05"
[part.post]
copies = { f = "as drawn", r = "front for rear" }
y = "face 60 back"
[part.rail]
copies = ["low", "up"]
y = "f.shoulder 400 r.shoulder"
[joint.butt]
each = '''
rail  e  post
low   f  f
low   r  r
up    f  f
up    r  r
'''
meet = "rail.{rail}.{e}.shoulder against post.{post}.back, tight-up"
"""
READ = """\
reading,post.f.face,post.f.back,60,caliper,
reading,post.r.face,post.r.back,60,caliper,
reading,rail.low.f.shoulder,rail.low.r.shoulder,{low},caliper,
reading,rail.up.f.shoulder,rail.up.r.shoulder,400,caliper,
"""


@pytest.fixture
def apart(tmp_path):
    """By hand: 401 against 400, of which the fits allow 2 x 0.2: 0.6 mm too much."""
    return folder_of(tmp_path / "b", FRAME, READ.format(low="401"))


@pytest.mark.parametrize(("words", "way"), [(("low", "post.f", "--glued"), "glued"), (("up", "post.r", "--pegged"), "pegged")])
def test_a_conflict_is_said_first_and_nothing_is_written(apart, words, way):
    before = rows_on_disk(apart)
    result = run("close", *words, at=apart)
    assert (result.exit_code, rows_on_disk(apart)) == (1, before)
    assert "warning: CONFLICT: " in result.stderr
    assert "by 0.60 mm" in result.stderr
    assert f"Nothing was written. Closed so all the same? fitsolve close butt rail.{words[0]} {words[1]} --{way} --sure" in (
        result.stderr
    )
    sure = run("close", *words, "--sure", at=apart)
    assert (sure.exit_code, rows_on_disk(apart)[-1].split(",")[0]) == (1, "close")
    assert "warning: CONFLICT: " in sure.stderr


def test_dry_it_is_tried(apart):
    assert run("close", "low", "post.f", "--dry", at=apart).stderr == ""


def test_somebody_at_the_keyboard_is_asked(apart):
    for answer, said, rows in (("n\n", "nothing was written", 4), ("y\n", "closed, glued", 5)):
        terminal = Terminal("close", "low", "post.f", "--glued", at=apart)
        terminal.until("Close it all the same? y or n: ")
        terminal.type(answer)
        terminal.until(said)
        assert (terminal.ended(), len(rows_on_disk(apart))) == (1, rows)


def test_where_all_is_well_nobody_is_asked(tmp_path):
    at = folder_of(tmp_path / "b", FRAME, READ.format(low="400"))
    result = run("close", "low", "post.f", "--glued", at=at)
    assert (result.exit_code, result.stderr) == (0, "")


# A board in a dado, 10 mm into 9.
DADO = """
unit = "mm"
workmanship = 0.3
give = 1
fits = { slip = ["0.05", "0.2", "0.5"] }
[tool.caliper]
good_to = "0.05"
[part.board]
x = "left 10 right"
[part.side]
x = "end 50 d-l 10 d-r 50 other"
[joint.dado]
meet = "board.left/right in side.d-l/d-r, slip"
"""
SAID = "reading,board.left,board.right,10,caliper,\nreading,side.d-l,side.d-r,{wide},caliper,\n"


@pytest.mark.parametrize(("wide", "verdict"), [("9.5", "tight"), ("11.5", "loose")])
def test_a_fault_of_the_joint_is_said_first(tmp_path, wide, verdict):
    at = folder_of(tmp_path / "b", DADO, SAID.format(wide=wide))
    result = run("close", "dado", "--glued", at=at)
    assert (result.exit_code, len(rows_on_disk(at))) == (1, 2)
    assert f"warning: dado board side is {verdict}: " in result.stderr


def test_what_fits_or_cannot_be_told_is_closed(tmp_path):
    for k, rows in enumerate((SAID.format(wide="10.2"), "reading,board.left,board.right,10,caliper,\n", "")):
        at = folder_of(tmp_path / str(k), DADO, rows)
        assert "Nothing was written" not in run("close", "dado", "--glued", at=at).stderr


def test_a_reading_that_is_not_believed_cannot_be_read_again_inside(tmp_path):
    # 20 for 10: far off plan, and nothing checks it.
    at = folder_of(tmp_path / "b", DADO, SAID.format(wide="20"))
    result = run("close", "dado", "--glued", at=at)
    assert result.exit_code == 1
    assert "#2 side.d-l..d-r is not to be believed" in result.stderr.replace("side d-l", "side.d-l")


LEANING = """
unit = "mm"
workmanship = 0.3
give = 1
[tool.caliper]
good_to = "0.05"
[part.post]
copies = ["a", "b"]
x = "outer 60 inner"
[part.rail]
x = "l 400 r"
[joint.butt]
each = '''
post end face
a    l   inner
b    r   outer
'''
meet = "rail.{end} against post.{post}.{face}, tight-up"
[check]
parallel = "post.a.inner@foot..post.b.outer@foot = post.a.inner@head..post.b.outer@head, within 0.5"
bare = "post.a.outer..post.a.inner = 60, within 0.5"
"""


def test_a_frame_out_of_parallel_is_said_while_it_can_be_pulled_true(tmp_path):
    # 402 at the foot and 400 at the head: 2, of 0.5. How thick a post is no joint changes: of that nothing is said.
    rows = (
        "reading,rail.l,rail.r,400.9,caliper,\nreading,post.a.outer,post.a.inner,60.8,caliper,\n"
        "reading,post.a.inner@foot,post.b.outer@foot,402,caliper,\n"
        "reading,post.a.inner@head,post.b.outer@head,400,caliper,\n"
    )
    at = folder_of(tmp_path / "b", LEANING, rows)
    result = run("close", "butt", "post.a", "--glued", at=at)
    assert (result.exit_code, "closed, glued: butt" in result.stdout) == (1, True), result.output  # nobody could be asked: it is said
    assert "parallel is beyond, 2 of 0.5: closed so it stays." in result.stderr
    assert "bare is beyond" not in result.stderr


# A rail tenoned and pegged into a post; the mortise's hole lies 18 mm in.
PEGGED = """
unit = "mm"
workmanship = 0.3
give = 1
[tool.caliper]
good_to = "0.05"
[part.post]
x = "outer 60 inner"
z = ["foot 700 head", "foot 300 low 80 up"]
holes = { pin = ["18 from inner", "340 from foot"] }
[part.rail]
x = "l.end 42 l.shoulder 700 r.end"
z = "low 80 up"
[joint.tenon]
meet = ["rail.l.shoulder against post.inner, tight-up", "rail.low/up in post.low/up, slip",
        "peg post.pin 10, draw 1.5"]
"""


def pegged(tmp_path, hole):
    at = folder_of(tmp_path / "b", PEGGED)
    for words in (("made", "post"), ("read", "post", "inner", "pin.x", "18", "--tool", "caliper"), ("made", "rail"),
                  ("read", "rail", "l.shoulder", "l.pin", hole, "--tool", "caliper", "--sure")):  # fmt: skip
        assert run(*words, at=at).exit_code == 0
    return at


@pytest.mark.parametrize(("hole", "verdict"), [("19", "does not draw"), ("13", "draws too much")])
def test_a_peg_that_does_not_draw_is_said_first(tmp_path, hole, verdict):
    """By hand: 18 less 19 is 1 mm away from the shoulder; 18 less 13 is 5, and a quarter of the peg is 2.5."""
    at = pegged(tmp_path, hole)
    count = len(rows_on_disk(at))
    result = run("close", "tenon", "--pegged", at=at)
    assert (result.exit_code, len(rows_on_disk(at))) == (1, count)
    assert "warning: the peg through post.pin.x: " in result.stderr
    assert verdict in result.stderr


def test_a_peg_that_draws_is_driven(tmp_path):
    at = pegged(tmp_path, "16.5")
    assert run("close", "tenon", "--pegged", at=at).exit_code == 0


def test_several_that_could_be_wrong_are_named_together(tmp_path):
    """By hand: 10 and 12 of the same board cannot both be; either may be the wrong one."""
    rows = SAID.format(wide="10.2") + "reading,board.left,board.right,12,caliper,\n"
    result = run("close", "dado", "--glued", at=folder_of(tmp_path / "b", DADO, rows))
    assert result.exit_code == 1
    assert "warning: not all of #1 and #3 are to be believed" in result.stderr


def test_a_part_that_waits_is_not_glued_unasked(tmp_path):
    # 40 3/32 between legs that two other readings put 41 apart: the apron waits, and nothing was advised for it.
    at = folder_of(tmp_path / "b", BENCH, FRAMES.replace("41 3/32", "40 3/32"))
    before = rows_on_disk(at)
    result = run("close", "dado", "leg.l", "--glued", at=at)
    assert result.exit_code == 1
    assert "no size was advised for apron" in result.stderr
    assert "Nothing was written. Closed so all the same?" in result.stderr
    assert rows_on_disk(at) == before
    assert "closed, glued" in run("close", "dado", "leg.l", "--glued", "--sure", at=at).stdout
    assert run("undo", at=at).exit_code == 0
    assert "closed, dry" in run("close", "dado", "leg.l", "--dry", at=at).stdout
