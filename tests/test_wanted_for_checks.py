"""What a check of the frame needs is asked for: diagonals with a tag, heights and leans by the command that takes them."""

from __future__ import annotations

from math import hypot

import pytest
from cli_folder import run

from fitsolve.build.logtext import HEADER

POSTS = """
unit = "mm"
workmanship = 1
[part.post]
copies = { fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }
x = "outer 60 inner"
y = "face 60 back"
z = "foot 700 head"
[part.side]
copies = { f = "as drawn", r = "front for rear" }
x = "l.end 800 r.end"
y = "show 60 hid"
[part.end]
copies = { l = "as drawn", r = "left for right" }
y = "f.end 500 r.end"
x = "show 60 hid"
[joint.long]
meet = ["side.f.l.end against post.fl.inner, glue", "side.f.r.end against post.fr.inner, glue",
        "side.r.l.end against post.rl.inner, glue", "side.r.r.end against post.rr.inner, glue",
        "side.f.show/hid in post.fl.face/back, glue", "side.f.show/hid in post.fr.face/back, glue",
        "side.r.show/hid in post.rl.face/back, glue", "side.r.show/hid in post.rr.face/back, glue"]
[joint.short]
meet = ["end.l.f.end against post.fl.back, glue", "end.l.r.end against post.rl.back, glue",
        "end.r.f.end against post.fr.back, glue", "end.r.r.end against post.rr.back, glue",
        "end.l.show/hid in post.fl.outer/inner, glue", "end.l.show/hid in post.rl.outer/inner, glue",
        "end.r.show/hid in post.fr.outer/inner, glue", "end.r.show/hid in post.rr.outer/inner, glue"]
[check]
"""
SQUARE = "square = 'corners post.*.outer/face at head, within 2'\n"
DIAGONAL = hypot(60 + 800 + 60, 60 + 500 + 60)  # 1109.41: by Pythagoras from the plan, outer to outer and face to face
ONE = "diagonal post.fl.outer/face@head to post.rr.outer/face@head"
OTHER = "diagonal post.fr.outer/face@head to post.rl.outer/face@head"
MADE = "".join(f"{no},2026-05-04T09:00:00+00:00,made,{part},,,,\n" for no, part in enumerate(
    ("post.fl", "post.fr", "post.rl", "post.rr", "side.f", "side.r", "end.l", "end.r"), 1))  # fmt: skip


def closed(ends, first):
    joints = [f"{block} {one} post.{post}" for block, one, post in (
        ("long", "side.f", "fl"), ("long", "side.f", "fr"), ("long", "side.r", "rl"), ("long", "side.r", "rr"),
        ("short", "end.l", "fl"), ("short", "end.l", "rl"), ("short", "end.r", "fr"), ("short", "end.r", "rr"),
    )]  # fmt: skip
    return "".join(f"{no},2026-05-04T10:00:00+00:00,close,{joint},,,,glued\n" for no, joint in enumerate(joints[:ends], first))


def stand(at, check=SQUARE, rows=MADE + closed(8, 9)):
    (at / "plan.toml").write_text(POSTS + check)
    (at / "log.csv").write_text(f"{HEADER}\n{rows}")
    return at


def tag_of(listed, words):
    line = next(line for line in listed.splitlines() if words in line)
    return line.split()[0]


def test_both_diagonals_are_wanted_once_the_frame_stands(tmp_path):
    listed = run("wanted", at=stand(tmp_path)).stdout
    assert f"{ONE} plan {DIAGONAL:.2f} tape" in " ".join(listed.split())
    assert tag_of(listed, OTHER).startswith("w")
    assert "diagonal" not in run("wanted", at=stand(tmp_path, rows=MADE)).stdout  # the posts stand about loose
    assert "diagonal" not in run("wanted", at=stand(tmp_path, check="")).stdout


def test_a_tag_takes_the_diagonal_and_it_is_wanted_no_more(tmp_path):
    at = stand(tmp_path)
    tag = tag_of(run("wanted", at=at).stdout, ONE)
    kept = run("read", tag, "1110.4", "--tool", "tape", at=at)
    assert kept.stdout == f"#17 {ONE} 1110.4 mm tape, plan 1109.41: 0.99 more\n"
    assert (at / "log.csv").read_text().splitlines()[-1].split(",", 2)[2] == (
        "diagonal,post.fl.outer/face@head,post.rr.outer/face@head,1110.4,tape,"
    )
    listed = run("wanted", at=at).stdout
    assert ONE not in listed
    assert OTHER in listed


def test_a_sheet_brings_it_too(tmp_path):
    at = stand(tmp_path)
    listed = run("wanted", at=at).stdout
    number = listed.splitlines()[0].split()[-1]
    (at / "paper").write_text(f"list {number}\ntape\n{tag_of(listed, OTHER)} 1109\n")
    sheet = ("read", "--sheet", str(at / "paper"))
    assert f"{OTHER} 1109 mm tape" in run(*sheet, at=at).stdout
    again = run(*sheet, at=at)
    assert again.exit_code == 2
    assert "all of it is in the log already" in again.stderr


def test_a_diagonal_far_off_is_told_of(tmp_path):
    at = stand(tmp_path)
    far = run("diagonal", "post.fl", "outer+face", "post.rr", "outer+face", "1009.4", "--tool", "tape", at=at)
    assert far.exit_code == 1
    assert "100.01 less than plan" in far.stderr
    sure = run("diagonal", "post.fl", "outer+face", "post.rr", "outer+face", "1009.4", "--tool", "tape", "--sure", at=at)
    assert (sure.exit_code, sure.stderr) == (0, "")


@pytest.mark.parametrize(("check", "said"), [
    ("wind = 'post.*.head, within 2'",
     "fitsolve wind post.fl.head post.fr.head post.rl.head post.rr.head GAP --stick LENGTH --width LENGTH --proud MARK"),
    ("level = 'post.*.head, within 2'", "fitsolve read post.fl.head..post.fr.head READING --proud MARK"),
])  # fmt: skip
def test_heights_are_asked_for_by_the_command_that_takes_them(tmp_path, check, said):
    listed = run("wanted", at=stand(tmp_path, check)).stdout
    name = check.split(" ")[0]
    assert f"for the check {name} {said}" in " ".join(listed.split())
    assert name not in run("wanted", at=stand(tmp_path, check, "")).stdout.split("for the check")[-1].splitlines()[0]


def test_the_command_that_is_told_does_what_the_check_needs(tmp_path):
    at = stand(tmp_path, "wind = 'post.*.head, within 2'")
    assert "?" in run("sizes", at=at).stdout.split("FRAME")[1].splitlines()[1]
    words = ("post.fl.head", "post.fr.head", "post.rl.head", "post.rr.head", "1")
    run("wind", *words, "--stick", "900", "--width", "860", "--proud", "post.fl.head", "--tool", "rule", at=at)
    assert "for the check wind" not in run("wanted", at=at).stdout


def test_leans_come_with_lean_and_proud(tmp_path):
    check = "square = 'corners post.*.outer/face at foot and at head, within 2'"
    listed = " ".join(run("wanted", at=stand(tmp_path, check)).stdout.split())
    assert "for the check square twist fitsolve read post.fl outer@foot..outer@head READING --lean --proud MARK" in listed


def test_as_long_as_nothing_is_made_nothing_is_wanted_and_it_says_so(tmp_path):
    head = run("wanted", at=stand(tmp_path, rows="")).stdout.splitlines()[0]
    assert "nothing is made yet; " in head
    assert "wanted" not in head
    sheet = run("sheet", "--output", str(tmp_path / "sheet.html"), at=tmp_path).stdout
    assert "0 readings wanted" in sheet
    made = run("wanted", at=stand(tmp_path, rows=MADE)).stdout.splitlines()[0]
    count = made.split(" wanted")[0].split("   ")[-1]
    assert f"{count} wanted" in run("sheet", "--output", str(tmp_path / "2.html"), at=tmp_path).stdout


def test_the_holes_of_a_peg_are_wanted_until_it_is_driven(tmp_path):
    plan = """
unit = "mm"
[part.post]
x = "outer 60 inner"
z = ["foot 700 head", "foot 300 low 80 up"]
holes = { pin = ["18 from inner", "340 from foot"] }
[part.rail]
x = "end 42 shoulder 700 far"
z = "low 80 up"
[joint.tenon]
meet = ["rail.far against post.outer, glue", "rail.low/up in post.low/up, slip", "peg post.pin 10, draw 1.5"]
"""
    (tmp_path / "plan.toml").write_text(plan)

    def listed(rows):
        (tmp_path / "log.csv").write_text(f"{HEADER}\n{rows}")
        return run("wanted", at=tmp_path).stdout

    post = "1,2026-05-04T09:00:00+00:00,made,post,,,,\n2,2026-05-04T09:00:00+00:00,made,rail,,,,\n"
    bored = "3,2026-05-04T09:10:00+00:00,made,rail.pin,rail.far,16.5,,\n"
    assert "outer..pin.x" in listed(post)
    assert "far..pin" not in listed(post)
    assert "far..pin" in listed(post + bored)
    pegged = listed(post + bored + '4,2026-05-04T09:20:00+00:00,close,tenon rail post,,,,"glued, pegged"\n')
    assert "pin" not in pegged


def test_a_plan_without_a_part_says_so(tmp_path):
    (tmp_path / "plan.toml").write_text('unit = "mm"\n')
    assert "the plan has no part yet" in run("wanted", at=tmp_path).stdout
