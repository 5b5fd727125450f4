"""Readings that are no single span: comparisons, gaps, diagonals, stacks; and spans wherever two marks are named."""

from __future__ import annotations

import pytest
from cli_folder import FRAMES, folder_of, rows_on_disk, run

FRAME = """\
unit = "in"
finest = "1/32"
[part.leg]
copies = ["a", "b"]
x = "outer 4 back"
y = "low 1 1/2 up.m-o 1 up.m-i 1 1/2 high"
[part.rail]
x = "l.end 2 l.shoulder 14 r.shoulder 2 r.end"
y = "low 1 1/2 t-o 1 t-i 1 1/2 high"
[joint.tenon]
meet = ["rail.l.shoulder against leg.a.back, tight-up", "rail.t-o/t-i in leg.a.up.m-o/m-i, glue"]
[joint.far]
meet = ["rail.r.shoulder against leg.b.outer, tight-up"]
"""


@pytest.fixture
def frame(tmp_path):
    return folder_of(tmp_path / "frame", plan=FRAME)


class TestCompare:
    """The first span is longer than the second; the part is named once."""

    @pytest.mark.parametrize("words", [
        ("leg.a", "outer..back", "leg.b", "outer..back"), ("leg.a.outer..back", "leg.b.outer..back"),
        ("leg.a.o..b", "leg.b", "o..b"),
    ])  # fmt: skip
    def test_two_parts(self, frame, words):
        result = run("compare", *words, "1/32", "--tool", "rod", at=frame)
        assert result.stdout == "#1 leg.a outer..back longer than leg.b outer..back by 1/32 in rod, plan 0: 1/32 more\n"
        assert rows_on_disk(frame) == ["compare,leg.a.outer..leg.a.back,leg.b.outer..leg.b.back,1/32,rod,"]

    def test_two_spans_of_one_part(self, frame):
        run("compare", "rail", "l.end..shoulder", "r.shoulder..end", "0.01", "--tool", "caliper", at=frame)
        assert rows_on_disk(frame) == [
            "compare,rail.l.end..rail.l.shoulder,rail.r.shoulder..rail.r.end,0.01,caliper,"]  # fmt: skip

    @pytest.mark.parametrize(("words", "said"), [
        (("leg.a", "outer..back", "1/32"), "two spans are compared"),
        (("leg.a", "outer..back", "leg.b", "outer..back"), "the reading is missing"),
        (("leg.a", "outer..back", "leg.c", "outer..back", "1"), 'no part "leg.c"'),
        (("leg.a", "outer..back", "outer..back", "1"), "the two spans are one and the same"),
    ])  # fmt: skip
    def test_what_cannot_be_is_refused(self, frame, words, said):
        result = run("compare", *words, "--tool", "rod", at=frame)
        assert (result.exit_code, rows_on_disk(frame)) == (2, [])
        assert said in result.stderr


class TestGap:
    """A gap is named by its joint: its one shoulder, else by a mark beside it."""

    def test_the_shoulder(self, frame):
        result = run("gap", "tenon", "0.004", "--tool", "feeler", at=frame)
        assert result.exit_code == 0
        assert result.stdout.startswith("#1 leg.a.back..rail.l.shoulder 0.004 in feeler")
        assert rows_on_disk(frame) == ["reading,leg.a.back,rail.l.shoulder,0.004,feeler,"]

    def test_beside_a_cheek(self, frame):
        assert run("gap", "tenon", "0.003", "--at", "t-i", "--tool", "feeler", at=frame).exit_code == 0
        (row,) = rows_on_disk(frame)
        assert set(row.split(",")[1:3]) == {"rail.t-i", "leg.a.up.m-i"}

    @pytest.mark.parametrize(("words", "said"), [
        (("tenon", "0.004", "--at", "t"), "has 2 gaps that it could be"),
        (("tenon", "0.004", "--at", "high"), "has no gap at high"),
        (("rail", "0.004"), "could be 2 joints"),
        (("tenon",), "the reading is missing"),
    ])  # fmt: skip
    def test_what_cannot_be_is_refused(self, frame, words, said):
        result = run("gap", *words, "--tool", "feeler", at=frame)
        assert (result.exit_code, rows_on_disk(frame)) == (2, [])
        assert said in result.stderr


class TestDiagonal:
    """From corner to corner: a point is two marks of two axes, or one."""

    def test_two_points(self, frame):
        result = run("diagonal", "leg.a", "outer+low", "leg.b", "back+high", "22-3/8", "--tool", "tape", at=frame)
        assert result.stdout == (
            "#1 diagonal leg.a.outer/low to leg.b.back/high 22 3/8 in tape, not tied by the plan\n")  # fmt: skip
        assert rows_on_disk(frame) == [
            "diagonal,leg.a.outer + leg.a.low,leg.b.back + leg.b.high,22-3/8,tape,"]  # fmt: skip

    @pytest.mark.parametrize("words", [
        ("jaw", "screw-l", "jaw", "screw-r"), ("jaw.screw-l", "jaw.screw-r"), ("j", "screw-l", "jaw.screw-r"),
    ])  # fmt: skip
    def test_between_two_holes(self, tmp_path, words):
        # By hand: 500 less 50 at both ends, both 60 from the top: 400 apart.
        plan = (
            'unit = "mm"\n[part.jaw]\nx = "left 500 right"\nz = "under 200 over"\n'
            'holes = { screw-l = ["50 from left", "60 from over"], screw-r = ["50 from right", "60 from over"] }\n'
        )
        at = folder_of(tmp_path / "b", plan=plan)
        result = run("diagonal", *words, "402", "--tool", "rule", "--sure", at=at)
        assert result.stdout == "#1 diagonal jaw.screw-l to jaw.screw-r 402 mm rule, plan 400.00: 2 more\n"
        assert rows_on_disk(at) == ["diagonal,jaw.screw-l,jaw.screw-r,402,rule,"]
        assert run("diagonal", "jaw", "screw-r", "jaw", "left/under", "471.27", at=at).exit_code == 0

    def test_the_beginning_of_a_part_is_not_its_only_hole(self, tmp_path):
        plan = 'unit = "mm"\n[part.jaw]\nx = "left 500 right"\nz = "under 200 over"\n'
        plan += 'holes = { screw = ["50 from left", "60 from over"] }\n'
        at = folder_of(tmp_path / "b", plan=plan)
        run("diagonal", "j", "left/over", "j", "sc", "78", "--tool", "rule", at=at)
        assert rows_on_disk(at) == ["diagonal,jaw.left + jaw.over,jaw.screw,78,rule,"]

    def test_whole_names(self, frame):
        run("diagonal", "leg.a.outer+low", "leg.b.back+high", "22", "3/8", "--tool", "tape", at=frame)
        assert rows_on_disk(frame) == [
            "diagonal,leg.a.outer + leg.a.low,leg.b.back + leg.b.high,22 3/8,tape,"]  # fmt: skip

    @pytest.mark.parametrize("words", [
        ("leg.a", "outer+low", "22"), ("leg.a", "outer+nose", "leg.b", "back+high", "22"),
        ("leg.a", "outer+low", "leg.b", "back+high"), ("22",),
    ])  # fmt: skip
    def test_what_cannot_be_is_refused(self, frame, words):
        result = run("diagonal", *words, "--tool", "tape", at=frame)
        assert (result.exit_code, rows_on_disk(frame)) == (2, [])


class TestStack:
    def test_all_copies(self, frame):
        result = run("read", "leg.*.outer..back", "8-1/32", "--tool", "rule", at=frame)
        assert result.exit_code == 0
        assert rows_on_disk(frame) == ["gang,leg.*.outer..back,,8-1/32,rule,"]

    @pytest.mark.parametrize("words", [
        "leg.a.outer..back+leg.b.outer..back 8-1/32", "leg.a.outer..back + leg.b.outer..back 8-1/32",
        "leg.a outer..back + leg.b outer..back 8-1/32", "leg.a outer back + leg.b.outer..back 8-1/32",
    ])  # fmt: skip
    def test_pieces_that_are_named(self, frame, words):
        result = run("read", *words.split(), "--tool", "rule", at=frame)
        assert result.exit_code == 0
        assert rows_on_disk(frame) == ["gang,leg.a.outer..leg.a.back+leg.b.outer..leg.b.back,,8-1/32,rule,"]

    @pytest.mark.parametrize(("words", "said"), [
        ("leg.a outer..back 4 + leg.b outer..back 4", "a + joins two spans"),
        ("leg.a outer..back + leg.b outer..bcak 8", 'leg.b has no mark "bcak"'),
        ("leg.a outer..back + leg.b outer..back", "the reading is missing"),
        ("leg.a outer back 4+1/8", "it is one number"),
    ])  # fmt: skip
    def test_what_cannot_be_is_refused(self, frame, words, said):
        result = run("read", *words.split(), "--tool", "rule", at=frame)
        assert (result.exit_code, rows_on_disk(frame)) == (2, [])
        assert said in result.output


class TestSpans:
    """FROM..TO stands wherever two marks are named, and the part is named once."""

    @pytest.mark.parametrize("words", [
        ("leg.l.left", "right"), ("leg.l.left..right",), ("leg.l", "left..right"), ("leg.l", "left", "right"),
        ("leg.l", "l..r"),
    ])  # fmt: skip
    def test_between(self, tmp_path, words):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        assert run("between", *words, at=at).stdout.startswith("leg.l left..right   3 17/32")

    @pytest.mark.parametrize("words", [("leg.l",), ("leg.l", "left", "right", "left"), ("leg.l", "left.."), ("..", "a")])
    def test_what_is_no_pair(self, tmp_path, words):
        assert run("between", *words, at=folder_of(tmp_path / "b", rows=FRAMES)).exit_code == 2


def test_what_was_knifed_off_is_no_tool_to_go_on_with(tmp_path):
    at = folder_of(tmp_path / "b", rows=FRAMES)
    run("made", "apron", "l.left", "l.right", "--from", "leg.l", at=at)
    assert run("read", "leg.r", "left", "right", "3.49", at=at).stdout.split(",")[0].endswith("3.49 in tape")


class TestARememberedTool:
    """The last tool is taken for a reading only where it spans it, for a diagonal and a stack as for a single span."""

    @pytest.mark.parametrize("words", [
        ("diagonal", "leg.a", "outer+low", "leg.b", "back+high", "22-3/8"),
        ("read", "leg.a.outer..back+leg.b.outer..back+rail.l.shoulder..r.shoulder", "22"),
    ])  # fmt: skip
    def test_a_caliper_does_not_span_22_in(self, frame, words):
        run("read", "leg.a", "outer", "back", "4", "--tool", "caliper", at=frame)
        result = run(*words, at=frame)
        assert (result.exit_code, len(rows_on_disk(frame))) == (2, 1)
        assert f"the last tool was caliper, which hardly spans {words[-1]}" in result.stderr
        assert run(*words, "--tool", "tape", at=frame).exit_code in (0, 1)
        assert len(rows_on_disk(frame)) == 2
