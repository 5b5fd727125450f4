"""Drawings: they are to scale, errors as large as they say, loops as they close, nothing in the way of anything."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pypdfium2
import pytest
from cli_folder import FRAMES, PLAN, folder_of, run
from paper_builds import EXAMPLES, HARD, head, run_of
from test_paper_has_room import clear, found_in

from fitsolve.build.folder import load_build
from fitsolve.drawing.assembled import SIGNS, assembled_page, sign_shapes
from fitsolve.drawing.assembledwords import assembled_drawing
from fitsolve.drawing.cutlines import cut_lines
from fitsolve.drawing.dimensions import exaggeration
from fitsolve.drawing.gaps import _round_step
from fitsolve.drawing.loops import loops_page
from fitsolve.drawing.loopwords import loops_drawing
from fitsolve.drawing.partdraw import part_page
from fitsolve.drawing.partwords import part_drawing
from fitsolve.drawing.shapes import Circle, Page, Text, hatching
from fitsolve.drawing.shapes import Path as Lines
from fitsolve.drawing.svg import svg_text
from fitsolve.drawing.symbols import hole_sign
from fitsolve.findings.edges import edges
from fitsolve.findings.ways import ways_round
from fitsolve.reconciliation import reconcile

TABLE, CHEST = EXAMPLES / "wedging-table", EXAMPLES / "drawer-case"


def words_on(page: Page) -> list[str]:
    return [shape.words for shape in page.shapes if isinstance(shape, Text)]


class TestRoom:
    """Nothing runs into anything else, or off the page."""

    @pytest.mark.parametrize("name", [name for name in HARD if name != "nothing"])
    def test_parts(self, tmp_path, name):
        found = found_in(folder_of(tmp_path / "b", HARD[name]))
        for part in found.assembly.parts:
            clear(part_page(part_drawing(found, part, "0-0000")), 0.0)

    @pytest.mark.parametrize("name", list(HARD))
    def test_the_whole(self, tmp_path, name):
        found = found_in(folder_of(tmp_path / "b", HARD[name]))
        clear(assembled_page(assembled_drawing(found, "0-0000")), 0.0)
        clear(loops_page(loops_drawing(found, "0-0000")), 0.0)

    @pytest.mark.parametrize("folder", [TABLE, CHEST])
    def test_the_examples(self, folder):
        found = found_in(folder)
        for part in found.assembly.parts:
            clear(part_page(part_drawing(found, part, "0-0000")), 0.0)
        clear(assembled_page(assembled_drawing(found, "0-0000")), 0.0)
        clear(loops_page(loops_drawing(found, "0-0000")), 0.0)


def arrow_tips(page: Page, fill: str = "#000000") -> list[tuple[float, float]]:
    """Where filled heads of three corners point: their first corner."""
    heads = [s for s in page.shapes if isinstance(s, Lines) and s.closed and len(s.points) == 3 and s.fill == fill]
    return [head.points[0] for head in heads]


PLACES = [0.0, 100.0, 130.0, 400.0, 777.0, 900.0]
RAIL = '[part.rail]\nx = "' + run_of([f"m{k}" for k in range(6)], PLACES) + '"\n'


class TestPart:
    """A part stands on paper to scale, its errors larger by the factor that is said."""

    def test_running_dimensions_are_to_scale(self, tmp_path):
        page = part_page(part_drawing(found_in(folder_of(tmp_path / "b", head() + RAIL)), "rail", "0-0000"))
        [start] = [s for s in page.shapes if isinstance(s, Circle)]
        tips = sorted(x for x, y in arrow_tips(page) if abs(y - start.y) < 1e-9)
        assert len(tips) == 5, "an arrow for each mark but the one that all are measured from"
        scale = (tips[-1] - start.x) / 900.0
        assert [start.x + scale * place for place in PLACES[1:]] == pytest.approx(tips)

    def test_errors_are_as_large_as_is_said(self, tmp_path):
        # By hand: m2 reads 1 mm more than plan, so its arrow is 1 mm times the scale times the factor long.
        at = folder_of(tmp_path / "b", head() + RAIL, "reading,rail.m0,rail.m2,131,caliper,\n")
        page = part_page(part_drawing(found_in(at), "rail", "0-0000"))
        [start] = [s for s in page.shapes if isinstance(s, Circle)]
        said = next(word for word in words_on(page) if word.startswith("errors drawn"))
        times = int(said.split()[2])
        tips = sorted(x for x, y in arrow_tips(page) if abs(y - start.y) < 1e-9)
        scale = (tips[1] - start.x) / 131.0
        errors = [x for x, _ in arrow_tips(page, "#0072b2")]
        assert min(abs(x - (start.x + 130 * scale + 1 * scale * times)) for x in errors) < 1e-6
        assert said.endswith(f"0.5 mm is {0.5 * scale * times:.1f} mm here")
        assert "1 more" in words_on(page)

    def test_a_thirty_second_can_be_seen(self):
        # However long the part: the finest line is 2.5 mm or more on paper, and less than 2.5 times that.
        for factor in (0.02, 0.1, 0.137, 1.0):
            long = 25.4 / 32 * factor * exaggeration(25.4 / 32, factor)
            assert 2.5 <= long < 2.5 * 2.5

    def test_an_error_too_long_for_the_paper_is_cut_off(self, tmp_path):
        at = folder_of(tmp_path / "b", head() + RAIL, "reading,rail.m0,rail.m2,160,caliper,\n")
        page = part_page(part_drawing(found_in(at), "rail", "0-0000"))
        clear(page, 0.0)
        assert "30 more" in words_on(page)

    def test_words_lie_where_they_have_room(self, tmp_path):
        page = part_page(part_drawing(found_in(folder_of(tmp_path / "b", head() + RAIL)), "rail", "0-0000"))
        names = [s for s in page.shapes if isinstance(s, Text) and s.words.startswith("CUT m")]
        assert len(names) == 5
        assert not any(name.upright for name in names)
        many = part_page(part_drawing(found_in(folder_of(tmp_path / "c", HARD["40 marks"])), "rack", "0-0000"))
        names = [s for s in many.shapes if isinstance(s, Text) and s.words.startswith("CUT m")]
        assert len(names) == 39
        assert all(name.upright for name in names)

    def test_how_large_a_view_is_drawn(self, tmp_path):
        # By hand: 900 mm in 250 - 2 * 8 - 16 = 218 mm of paper is 1 : 4.1.
        assert "1 : 4.1" in words_on(part_page(part_drawing(found_in(folder_of(tmp_path / "b", head() + RAIL)), "rail", "0-0000")))

    def test_which_way_is_up(self):
        words = words_on(part_page(part_drawing(found_in(TABLE), "apron.front", "0-0000")))
        for name in ("show", "back", "low", "top", "up"):
            assert name in words

    def test_waste_is_hatched_between_the_walls_of_a_dado(self, tmp_path):
        page = part_page(part_drawing(found_in(folder_of(tmp_path / "b", rows=FRAMES)), "apron", "0-0000"))
        slanted = [
            s.points for s in page.shapes
            if isinstance(s, Lines) and not s.closed and len(s.points) == 2 and s.pen and s.pen.width_mm == 0.1
            and abs(abs(s.points[0][0] - s.points[1][0]) - abs(s.points[0][1] - s.points[1][1])) < 1e-6
            and s.points[0][0] != s.points[1][0]
        ]  # fmt: skip
        assert len(slanted) > 10

    def test_hatching_stays_in_its_area(self):
        # A trapezoid with its slanted side from (10, 5) to (16, 12): a point lies to the right of it.
        for line in hatching(((10.0, 5.0), (31.0, 5.0), (31.0, 12.0), (16.0, 12.0))):
            for x, y in line.points:
                assert 10 + 6 * (y - 5) / 7 - 1e-9 <= x <= 31 + 1e-9
                assert 5 - 1e-9 <= y <= 12 + 1e-9
        assert len(hatching(((0.0, 0.0), (16.0, 0.0), (16.0, 8.0), (0.0, 8.0)))) == 14  # x + y up to 24, each 1.6


class TestAssembled:
    """The whole in elevation and plan; a verdict told by its shape."""

    def test_three_views_of_a_base_and_all_its_gaps(self):
        drawing = assembled_drawing(found_in(TABLE), "0-0000")
        assert [view.title for view in drawing.views] == ["front", "from the right", "from above"]
        # 4 laps of 3 contacts and 4 dados of 3, none of them closed.
        assert len(drawing.gaps) == 24
        front = {one.part: one for one in drawing.views[0].outlines}
        assert front["leg.fl"].depth > front["leg.rl"].depth, "seen from the front, the front leg is nearer"
        side = {one.part: one for one in drawing.views[1].outlines}
        assert side["leg.fr"].depth > side["leg.fl"].depth
        above = {one.part: one for one in drawing.views[2].outlines}
        assert above["apron.front"].depth > above["rail.left-low"].depth

    def test_verdicts_are_told_by_shape_without_colour(self):
        drawn = {}
        for verdict, sign in SIGNS.items():
            drawn.setdefault(sign.shape, []).append(verdict)
            assert sign_shapes(verdict, 0, 0)
        assert drawn == {
            "circle": ["fits"], "up": ["tight", "proud"], "down": ["loose", "open"], "diamond": ["can't tell"],
            "square": ["closed"],
        }  # fmt: skip
        outlines = [
            tuple(s.points if isinstance(s, Lines) else (s.radius,) for s in sign_shapes(verdict, 0, 0))
            for verdict in ("fits", "tight", "loose", "can't tell", "closed")
        ]
        assert len(set(outlines)) == 5

    def test_a_plan_without_a_log_stands_as_drawn(self, tmp_path):
        (tmp_path / "plan.toml").write_bytes((TABLE / "plan.toml").read_bytes())
        drawing = assembled_drawing(found_in(tmp_path), "0-0000")
        leg = next(one for one in drawing.views[0].outlines if one.part == "leg.fl")
        assert leg.plan[2] - leg.plan[0] == pytest.approx(4 * 25.4, abs=1e-6)
        assert leg.plan[3] - leg.plan[1] == pytest.approx(32 * 25.4, abs=1e-6)
        assert not leg.made

    def test_errors_are_enlarged_by_the_factor_that_is_said(self, tmp_path):
        # By hand: leg l reads 3.531 in wide, 0.031 more than plan.
        drawing = assembled_drawing(found_in(folder_of(tmp_path / "b", PLAN_XZ, FRAMES)), "0-0000")
        leg = next(one for one in drawing.views[0].outlines if one.part == "leg.l")
        wider = (leg.box[2] - leg.box[0]) - (leg.plan[2] - leg.plan[0])
        assert leg.plan[2] - leg.plan[0] == pytest.approx(3.5 * 25.4)
        assert wider == pytest.approx(0.031 * 25.4 * drawing.times, rel=0.02)


PLAN_XZ = PLAN.replace('x = "left 3 1/2 right"', 'x = "left 3 1/2 right"\nz = "foot 20 head"')


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.1 defines it (from memory)."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_everything_stands_out_from_white_paper_without_colour(tmp_path):
    # WCAG 2.1, 1.4.3 and 1.4.11: text 4.5 to 1, what is drawn 3 to 1 (from memory).
    wrong = found_in(folder_of(tmp_path / "b", rows=FRAMES.replace("41 3/32", "40 3/32")))
    pages = [loops_page(loops_drawing(wrong, "0-0000"))]
    for found in (found_in(TABLE), wrong):
        pages.append(assembled_page(assembled_drawing(found, "0-0000")))
        pages += [part_page(part_drawing(found, part, "0-0000")) for part in found.assembly.parts]
    for shape in (shape for page in pages for shape in page.shapes):
        least, colour = (4.5, shape.colour) if isinstance(shape, Text) else (3.0, shape.pen.colour if shape.pen else "#000000")
        assert 1.05 / (luminance(colour) + 0.05) >= least, shape


def test_drawing_the_whole_leaves_the_findings_as_they_are(tmp_path):
    # Legs that nothing ties along y stand beside each other on paper, and there alone.
    plan = 'unit = "mm"\n[part.leg]\ncopies = ["l", "r"]\nx = "left 70 right"\ny = "face 60 back"\n'
    found = found_in(folder_of(tmp_path / "b", plan))
    before = found.solved.positions_mm.copy()
    drawing = assembled_drawing(found, "0-0000")
    assert np.array_equal(found.solved.positions_mm, before)
    assert assembled_drawing(found, "0-0000") == drawing


def test_a_sheet_of_marks_that_a_wrong_reading_turns_around(tmp_path):
    # The legs, each 50 wide, lie in one place by the overall reading: the second dado comes before the first.
    plan = """\
unit = "mm"
give = 1
[part.leg]
copies = ["l", "r"]
x = "a 50 b"
[part.apron]
x = "e 60 a 50 b 100 c 50 d 60 f"
[joint.dado]
meet = ["leg.l.a/b in apron.a/b, slip", "leg.r.a/b in apron.c/d, slip"]
"""
    rows = "reading,leg.l.a,leg.l.b,50,caliper,\nreading,leg.r.a,leg.r.b,50,caliper,\nreading,leg.l.a,leg.r.b,50,tape,\n"
    at = folder_of(tmp_path / "b", plan, rows)
    for kind in ("html", "pdf"):
        result = run("sheet", "--output", str(tmp_path / f"a.{kind}"), at=at)
        assert result.exit_code == 1, result.output
        assert (tmp_path / f"a.{kind}").stat().st_size > 1000


class TestLoops:
    """Loops close as the readings in them add up."""

    def test_a_loop_by_hand(self, tmp_path):
        # 3.531 + 41 3/32 + 3.488 = 48.11275; the overall reading is 48 1/8, 0.01225 more. Tape: U = 1/32 +
        # 0.0005 r, so 0.0518 and 0.0553; caliper 0.002 twice. Root of the sum of squares: 0.0758.
        [way] = ways_round(found_in(folder_of(tmp_path / "b", rows=FRAMES)).solved)
        assert abs(way.misclosure_mm) == pytest.approx(0.01225 * 25.4, abs=1e-9)
        tape = [1 / 32 + 0.0005 * r for r in (41 + 3 / 32, 48.125)]
        assert way.expanded_mm == pytest.approx(25.4 * (tape[0] ** 2 + tape[1] ** 2 + 2 * 0.002**2) ** 0.5, rel=1e-6)
        assert sorted(step.number for step in way.steps) == [1, 2, 3, 4]
        for step, after in zip(way.steps, (*way.steps[1:], way.steps[0])):
            assert step.end == after.start

    def test_what_a_tape_is_off_by_counts_once_each_way(self, tmp_path):
        # By hand: the tape's zero adds the same to the inside and to the overall reading, gone opposite ways: it
        # cancels. Its scale of 0.001 (k = 2) counts over their difference, 48 1/8 - 41 3/32 = 7 1/32.
        plan = PLAN.replace("per_length = 0.0005", 'per_length = 0.0005\nzero = "1/16"\nscale = 0.001')
        [way] = ways_round(found_in(folder_of(tmp_path / "b", plan, FRAMES)).solved)
        tape = [1 / 32 + 0.0005 * r for r in (41 + 3 / 32, 48.125)]
        expected = (tape[0] ** 2 + tape[1] ** 2 + 2 * 0.002**2 + (0.001 * 7.03125) ** 2) ** 0.5
        assert way.expanded_mm == pytest.approx(25.4 * expected, rel=1e-6)

    @pytest.mark.parametrize("folder", [TABLE, CHEST])
    def test_as_many_as_rows_beyond_those_that_settle_anything(self, folder):
        solved = found_in(folder).solved
        rows = solved.graph.network.measured
        matrix = rows.dense(len(solved.assembly.marks))
        # A centred tongue ties four marks by one row; as an edge it stands between two of them.
        edges = []
        for terms in rows.terms():
            row = np.zeros(matrix.shape[1])
            (a, _), (b, _) = terms[:2]
            row[a], row[b] = 1.0, -1.0
            edges.append(row)
        assert len(ways_round(solved)) == len(edges) - np.linalg.matrix_rank(np.array(edges))

    def test_a_tail_with_two_slanted_sides_stands_in_the_middle_of_its_notch(self, tmp_path):
        # By hand: the tail is 3 longer than its lap is deep, and so 2 * 3 / 6 wider at its end than at the lap's
        # outer face. In the middle of the notch, 90.2 wide there, its high side of 91 lies (90.2 + 91) / 2 from the
        # notch's low wall. Read so, nothing is missed.
        tail = """
unit = "mm"
finest = "0.5"
give = 1
[part.rail]
x = "end 90 shoulder 500 middle"
z = "lower 60 upper"
slopes = ["lower@shoulder..lower@end 1:6 down", "upper@shoulder..upper@end 1:6 up"]
[part.leg]
x = "outer 90 inner"
z = "foot 100 bottom 60 top"
slopes = ["bottom@inner..bottom@outer 1:6 down", "top@inner..top@outer 1:6 up"]
[joint.tail]
meet = ["rail.shoulder against leg.inner, tight-up",
        "rail.lower@shoulder/upper@shoulder in leg.bottom@inner/top@inner, slip",
        "rail.lower@end/upper@end in leg.bottom@outer/top@outer, slip"]
"""
        rows = """close,tail,,,,dry
reading,rail.end,rail.shoulder,93,caliper,
reading,leg.outer,leg.inner,90,caliper,
reading,rail.lower@end,rail.upper@end,91,caliper,
reading,leg.bottom@outer,leg.top@outer,90.2,caliper,
reading,leg.bottom@outer,rail.upper@end,90.6,caliper,
"""
        [way] = [
            way for way in ways_round(found_in(folder_of(tmp_path / "b", tail, rows)).solved)
            if {4, 6} <= {step.number for step in way.steps if step.kind == "reading"}
        ]  # fmt: skip
        assert any(step.kind == "contact" for step in way.steps)
        assert way.misclosure_mm == pytest.approx(0.0, abs=1e-6)

    def test_a_wrong_reading_opens_its_loop(self, tmp_path):
        found = found_in(folder_of(tmp_path / "b", rows=FRAMES.replace("41 3/32", "40 3/32")))
        [loop] = loops_drawing(found, "0-0000").loops
        assert loop.open
        assert loop.said.startswith("misses by 1.012 in")

    def test_what_is_in_no_loop_is_called_by_its_name(self, tmp_path):
        rows = FRAMES + "compare,leg.l.left..leg.l.right,leg.r.left..leg.r.right,0.043,caliper,\n"
        assert loops_drawing(found_in(folder_of(tmp_path / "b", rows=rows)), "0-0000").note == (
            "1 row of more than two marks left out: comparisons."
        )

    def test_no_loop_is_said(self, tmp_path):
        words = words_on(loops_page(loops_drawing(found_in(folder_of(tmp_path / "b")), "0-0000")))
        assert "No loop: nothing that was read checks anything else." in words


@pytest.mark.parametrize("what", [("apron.front",), ("--assembled",), ("--loops",)])
def test_svg_and_pdf_say_the_same(tmp_path, what):
    svg, pdf = tmp_path / "a.svg", tmp_path / "a.pdf"
    for path in (svg, pdf):
        result = run("draw", *what, "--output", str(path), at=TABLE)
        assert result.exit_code in (0, 1), result.output
    root = ET.fromstring(svg.read_text(encoding="utf-8"))
    in_svg = {e.text for e in root.iter("{http://www.w3.org/2000/svg}text")}
    document = pypdfium2.PdfDocument(pdf)
    in_pdf = " ".join(document[0].get_textpage().get_text_bounded().split())
    assert document[0].get_size()[0] * 25.4 / 72 == pytest.approx(float(root.get("width")[:-2]), abs=0.01)
    document.close()
    missing = [words for words in in_svg if words and not all(word in in_pdf for word in words.split())]
    assert missing == []


def test_the_same_build_gives_the_same_bytes():
    found = found_in(TABLE)
    first, second = (svg_text(assembled_page(assembled_drawing(found, "0-0000"))) for _ in range(2))
    assert first == second
    assert "201" not in first.split("<svg")[0]


@pytest.mark.parametrize("title", ["Hobel & Söhne <Tisch>", "木工の机", "a\u0007b\u202ec", "x" * 500])
def test_any_title_is_drawn(tmp_path, title):
    plan = head("%TITLE%").replace("%TITLE%", "".join(f"\\u{ord(c):04x}" if ord(c) < 32 else c for c in title)) + RAIL
    at = folder_of(tmp_path / "b", plan)
    for name in ("a.svg", "a.pdf"):
        assert run("draw", "rail", "--output", str(tmp_path / name), at=at).exit_code in (0, 1)
    ET.fromstring((tmp_path / "a.svg").read_text(encoding="utf-8"))


def test_a_blank_that_does_not_break_is_a_blank(tmp_path):
    at = folder_of(tmp_path / "b", head("Tisch\u00a01") + RAIL)
    run("draw", "rail", "--output", str(tmp_path / "a.svg"), at=at)
    assert "Tisch\u00a01" in (tmp_path / "a.svg").read_text(encoding="utf-8")


def test_an_open_loop_and_a_part_that_waits_are_said(tmp_path):
    at = folder_of(tmp_path / "b", rows=FRAMES.replace("41 3/32", "40 3/32"))
    result = run("draw", "--loops", "--output", str(tmp_path / "a.svg"), at=at)
    assert (result.exit_code, result.stdout.split(", in ")[0]) == (1, "1 loop, 1 open")
    result = run("draw", "apron", "--output", str(tmp_path / "b.svg"), at=at)
    assert result.exit_code == 1
    assert result.stdout.startswith("apron: 1 view; wait for #")


class TestErrors:
    """What cannot be drawn is said, with status 2."""

    @pytest.mark.parametrize("args", [
        (), ("--assembled", "--loops"), ("apron", "--loops"), ("no-such",), ("apron", "--output", "a.png"),
    ])  # fmt: skip
    def test_said(self, tmp_path: Path, args, monkeypatch):
        monkeypatch.chdir(tmp_path)
        at = folder_of(tmp_path / "b", rows=FRAMES)
        output = () if "--output" in args else ("--output", "a.svg")
        result = run("draw", *args, *output, at=at)
        assert result.exit_code == 2
        assert "Traceback" not in result.output
        assert not list(tmp_path.glob("a.*"))


@pytest.mark.parametrize("toward", [1, -1])
def test_a_drawbored_hole_points_to_its_shoulder(toward):
    # The tenon's hole lies nearer to the shoulder: common practice, no source.
    page = Page(50, 50, tuple(hole_sign(20, 20, toward)))
    [(x, y)] = arrow_tips(page)
    assert y == 20
    assert (x - 20) * toward > 3
    assert arrow_tips(Page(50, 50, tuple(hole_sign(20, 20, 0)))) == []


def test_the_tenons_hole_of_a_peg_points_to_its_shoulder(tmp_path):
    # By the trestle's drawing: l.pin lies in the left tenon, left of l.shoulder; r.pin right of r.shoulder.
    found = reconcile(load_build(EXAMPLES / "trestle"))
    [edge] = [one for one in edges(found.solved, ["rail"]) if one.axis == "x"]
    [lines] = cut_lines(found, [edge])
    told = {line.name: (line.hole, line.toward, line.word) for line in lines if line.hole}
    assert told == {"l.pin": (True, 1, "BORE"), "r.pin": (True, -1, "made")}
    page = part_page(part_drawing(found, "rail", "1-0000"))
    assert any("shoulder that its peg draws home" in getattr(shape, "words", "") for shape in page.shapes)
    circles = [shape for shape in page.shapes if isinstance(shape, Circle) and shape.radius > 1]
    assert len(circles) == 2


class TestOutlines:
    """Sides that slant or lean are drawn so; what nothing ties is said to stand apart."""

    SPLAYED = 'unit = "mm"\n[part.leg]\nx = "outer 60 inner"\nz = "foot 600 head"\n'
    SPLAYED += 'slopes = ["outer@head..outer@foot 1:10 left", "inner@head..inner@foot 1:10 left"]\n'

    def corners(self, at):
        (front,) = assembled_drawing(found_in(at), "0-0000").views
        (leg,) = front.outlines
        left = leg.corners[3][0]
        low = leg.corners[0][1]
        return [(x - left, y - low) for x, y in leg.corners], front

    def test_a_splayed_leg(self, tmp_path):
        # By hand: 600 at 1:10 is 60 to the left at its foot; as wide there as at its head.
        corners, front = self.corners(folder_of(tmp_path / "b", self.SPLAYED))
        assert corners == [pytest.approx(at, abs=1e-6) for at in ((-60, 0), (0, 0), (60, 600), (0, 600))]
        assert front.slants == (), "the outline has them"

    def test_an_end_cut_at_an_angle(self, tmp_path):
        # By hand: 45 degrees over 50 moves the top corner of the left end 50 to the right; the right end is square.
        plan = 'unit = "mm"\n[part.rail]\nx = "end@low 400 stop"\nz = "low 50 top"\nslopes = "end@low..end@top 45° right"\n'
        (front,) = assembled_drawing(found_in(folder_of(tmp_path / "b", plan)), "0-0000").views
        (rail,) = front.outlines
        (x, y), *others = rail.corners
        assert others == [pytest.approx((x + dx, y + dy), abs=1e-6) for dx, dy in ((400, 0), (400, 50), (50, 50))]

    def test_a_leg_that_leans(self, tmp_path):
        # By hand: read 10 mm farther from the other at its foot than at its head, and drawn so much times larger.
        plan = 'unit = "mm"\n[part.leg]\ncopies = ["l", "r"]\nx = "outer 60 inner"\nz = "foot 600 head"\n'
        plan += '[part.rail]\nx = "l 400 r"\nz = "under 80 over"\n[joint.end]\nmeet = ["rail.l against leg.l.inner, tight-up, '
        plan += 'leg.l below", "rail.r against leg.r.outer, tight-up, leg.r above"]\n[check]\nplumb = "leg.r.outer@foot..leg.r.outer@head = 0, within 1"\n'
        rows = "reading,leg.r.outer@foot,leg.l.inner,410,rod,\nreading,leg.r.outer@head,leg.l.inner,400,rod,\n"
        found = found_in(folder_of(tmp_path / "b", plan, rows))
        drawing = assembled_drawing(found, "0-0000")
        leg = next(one for one in drawing.views[0].outlines if one.part == "leg.r")
        assert leg.corners[0][0] - leg.corners[3][0] == pytest.approx(10 * drawing.times, rel=0.02)
        assert leg.corners[1][0] == pytest.approx(leg.corners[2][0]), "of its other side nothing was read"

    def test_what_nothing_ties_is_said(self, tmp_path):
        plan = 'unit = "mm"\n[part.leg]\ncopies = ["l", "r"]\nx = "outer 60 inner"\nz = "foot 600 head"\n'
        drawing = assembled_drawing(found_in(folder_of(tmp_path / "b", plan)), "0-0000")
        assert drawing.apart == (
            "Nothing ties these to each other from left to right, so there they stand side by side: leg.l; leg.r",
            "Nothing ties these to each other up and down, so there they stand side by side: leg.l; leg.r",
        )
        said = words_on(assembled_page(drawing))
        assert drawing.apart[0] in said
        assert "All is as planned. Full: made. Dashes: to be cut. Pale dashes: the plan." in said
        assert assembled_drawing(found_in(TABLE), "0-0000").apart == ()

    @pytest.mark.parametrize(("least", "step"), [(0.7, 1.0), (0.011, 0.02), (0.2, 0.2), (3.0, 5.0), (6.0, 10.0)])
    def test_ticks_are_round(self, least, step):
        assert _round_step(least)[0] == pytest.approx(step)

    def test_no_part_is_drawn_much_larger_or_smaller_than_it_is(self, tmp_path):
        # A leg of 40 reads 2 less; 2000 apart, a thirtieth of the whole would be 30 times that, the leg gone. A third of
        # 40 is 13.3, so 5 times.
        plan = 'unit = "mm"\n[part.leg]\ncopies = ["l", "r"]\nx = "outer 40 inner"\nz = "foot 600 head"\n'
        plan += '[part.rail]\nx = "l 2000 r"\nz = "under 80 over"\n[joint.end]\nmeet = ["rail.l against leg.l.inner, tight-up, '
        plan += 'leg.l below", "rail.r against leg.r.outer, tight-up, leg.r above"]\n'
        drawing = assembled_drawing(found_in(folder_of(tmp_path / "b", plan, "reading,leg.l.outer,leg.l.inner,38,caliper,\n")), "0")
        assert drawing.times == 5
