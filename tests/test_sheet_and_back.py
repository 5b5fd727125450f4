"""The shop sheet: what it says, in HTML and in PDF, and its way back through `read --sheet`."""

from __future__ import annotations

import re
import shutil
from html.parser import HTMLParser
from pathlib import Path

import pypdfium2
import pytest
from cli_folder import FRAMES, folder_of, rows_on_disk, run
from drawn import page_sizes_mm
from paper_builds import EXAMPLES

from fitsolve.build.folder import load_build
from fitsolve.drawing.metrics import box_of
from fitsolve.drawing.shapes import Circle, Text
from fitsolve.drawing.sheet import sheet_pages
from fitsolve.drawing.sheetwords import shop_sheet
from fitsolve.reconciliation import reconcile

TABLE = EXAMPLES / "wedging-table"


class _Words(HTMLParser):
    """The words of an HTML file, line by line, and its tags with their attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        if data.strip():
            self.words.append(data.strip())


def sheet(at: Path, tmp_path: Path, *options: str) -> tuple[str, _Words]:
    out = tmp_path / "sheet.html"
    result = run("sheet", "--output", str(out), "--replace", *options, at=at)
    assert result.exit_code in (0, 1), result.output
    text = out.read_text(encoding="utf-8")
    parsed = _Words()
    parsed.feed(text)
    return text, parsed


def sheet_number(words: list[str]) -> str:
    return next(word.split()[1] for word in words if re.fullmatch(r"sheet \d+-[0-9a-f]{4}", word))


def test_what_stands_on_it(tmp_path):
    _, parsed = sheet(TABLE, tmp_path)
    words = parsed.words
    for said in ("Wedging table", "stretcher.front", "apron.rear", "top", "CUT", "l.dado-o", "JOINTS", "SEATS", "FRAME",
                 "ASSUMED", "1/16 less", "3/32 more", "leg.fl"):  # fmt: skip
        assert said in words, said
    whole = " ".join(words)
    assert "About fit only, never strength." in whole
    assert "from rows 1 to 55 of the log, 39 readings" in whole
    assert "cut to plan it would jam by 0.147 in" in whole
    # A box for each mark still to be cut: 5 + 1 + 2 of each stretcher, 5 + 3 + 3 of each apron, 2 of the top.
    assert {f"c{k}" for k in range(1, 41)} <= set(words)
    assert "c41" not in words


def test_the_figures_are_those_of_sizes(tmp_path):
    _, parsed = sheet(TABLE, tmp_path)
    said = run("sizes", at=TABLE).output
    part = said[said.index("CUT NOW   apron.front") : said.index("CUT NOW   apron.rear")]
    rows = re.findall(r"^   (\S+)  +(\S.*?)  +(?:\S.*?)  +\[(.*?)\]", part, re.M)
    assert len(rows) >= 6
    words = parsed.words
    for name, figure, chain in rows:
        assert name in words
        assert figure in words
        if "dado" in name:
            assert f"[{chain}]" in words


def test_what_no_check_is_about_is_said(tmp_path):
    # The table's plan checks that its frames are parallel (taper); of rack and wind it says nothing.
    whole = " ".join(sheet(TABLE, tmp_path)[1].words)
    assert "rack, wind: no check in the plan is about them; both diagonals tell rack and winding sticks tell wind" in whole


def test_what_is_known_to_be_wrong_stands_first(tmp_path):
    # Counted in the answer of `sizes`, under JOINTS, PEGS and SEATS.
    words = sheet(TABLE.parent / "trestle", tmp_path)[1].words
    said = words[words.index("LOOK") + 1]
    assert said == "3 tight and 1 open under JOINTS; 1 draws too much under PEGS; 2 jam under SEATS. What to do stands there."
    assert words[words.index("SETTLED") + 1] == "No reading is in doubt, no part waits."
    assert "LOOK" not in sheet(TABLE, tmp_path)[1].words


def test_the_name_and_the_verdict_of_a_joint_stand_out(tmp_path):
    text = sheet(TABLE.parent / "trestle", tmp_path)[0]
    bold = re.findall(r'font-weight="bold"[^>]*>([^<]*)<', text)
    assert "tenon rail post.l   open" in bold
    assert "tenon rail post.r   draws too much" in bold


def test_what_no_check_is_about_stands_before_what_is_assumed(tmp_path):
    made = "made,leg.l,,,,\nmade,leg.r,,,,\n"  # a plan without checks
    words = sheet(folder_of(tmp_path / "b", rows=made), tmp_path)[1].words
    assert words.index("SEATS") < words.index("FRAME") < words.index("ASSUMED")


def test_one_file_without_links(tmp_path):
    text, parsed = sheet(TABLE, tmp_path)
    assert "http" not in text
    assert "url(" not in text
    assert not {tag for tag, _ in parsed.tags} & {"a", "link", "script", "img", "image", "iframe", "use", "object"}
    assert not any("href" in attributes or "src" in attributes for _, attributes in parsed.tags)


@pytest.mark.parametrize(("paper", "size"), [("letter", (215.9, 279.4)), ("a4", (210.0, 297.0))])
def test_the_pdf_says_the_same_on_two_pages(tmp_path, paper, size):
    out = tmp_path / "sheet.pdf"
    run("sheet", "--output", str(out), "--paper", paper, at=TABLE)
    pages = page_sizes_mm(out.read_bytes())
    assert len(pages) == 2
    assert all(page == pytest.approx(size, abs=0.01) for page in pages)
    document = pypdfium2.PdfDocument(out)
    text = " ".join(document[k].get_textpage().get_text_bounded() for k in range(2))
    document.close()
    assert sheet_number(sheet(TABLE, tmp_path)[1].words) in text
    for said in ("l.dado-o", "6 3/16", "exact - 0.016", "no 1/32 keeps dado leg.fl: knife it off leg.fl and a 0.010 shim; 1/64 would", "CUT", "About fit only, never strength."):
        assert said in text


class TestTheWayBack:
    """A size as cut comes back under its tag; a sheet that is old is refused."""

    def test_sizes_as_cut_come_in(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        _, parsed = sheet(at, tmp_path)
        words = parsed.words
        number = sheet_number(words)
        tag = {words[words.index(name) - 2]: name for name in ("l.left", "r.end")}
        assert set(tag) <= {f"c{k}" for k in range(1, 6)}
        first, last = tag
        paper = tmp_path / "evening.txt"
        paper.write_text(f"sheet {number}\ntape\n{first} 5 15/16\n{last} 60\n")
        result = run("read", "--sheet", str(paper), at=at)
        assert result.exit_code in (0, 1), result.output
        assert rows_on_disk(at)[-2:] == [
            f"reading,apron.l.end,apron.l.left,5 15/16,tape,list {number}",
            f"reading,apron.l.end,apron.r.end,60,tape,list {number}",
        ]

    def test_the_same_sheet_is_not_entered_twice_unless_it_was_read_twice(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        words = sheet(at, tmp_path)[1].words
        first, last = (words[words.index(name) - 2] for name in ("l.left", "r.end"))
        paper = tmp_path / "evening.txt"
        paper.write_text(f"sheet {sheet_number(words)}\ntape\n{first} 5 15/16\n{last} 60\n")
        assert run("read", "--sheet", str(paper), at=at).exit_code in (0, 1)
        before = rows_on_disk(at)
        twice = run("read", "--sheet", str(paper), at=at)
        assert twice.exit_code == 2
        assert "all of it is in the log already: #5 and #6" in twice.stderr
        assert rows_on_disk(at) == before
        paper.write_text(f"sheet {sheet_number(words)}\ntape\n{first} 5 15/16\n{last} 60 1/32\n")
        assert "1 of its 2 readings is in the log already: #5" in run("read", "--sheet", str(paper), at=at).stderr
        assert run("read", "--sheet", str(paper), "--again", at=at).exit_code in (0, 1)
        assert len(rows_on_disk(at)) == len(before) + 2

    def test_a_sheet_is_undone_as_one(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        words = sheet(at, tmp_path)[1].words
        first, last = (words[words.index(name) - 2] for name in ("l.left", "r.end"))
        paper = tmp_path / "evening.txt"
        paper.write_text(f"sheet {sheet_number(words)}\ntape\n{first} 5 15/16\n{last} 60\n")
        assert run("read", "--sheet", str(paper), at=at).exit_code in (0, 1)
        said = run("undo", at=at).stdout
        assert "struck #6" in said
        assert "struck #5" in said
        assert "struck #4" not in said
        assert run("read", "--sheet", str(paper), at=at).exit_code in (0, 1), "what was taken back may come again"

    def test_an_old_sheet_is_refused(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        number = sheet_number(sheet(at, tmp_path)[1].words)
        assert run("remake", "leg.l", at=at).exit_code == 0
        before = rows_on_disk(at)
        paper = tmp_path / "evening.txt"
        paper.write_text(f"sheet {number}\ntape\nc1 5 15/16\n")
        result = run("read", "--sheet", str(paper), at=at)
        assert len(before) > 4, "something has changed since"
        assert result.exit_code == 2
        assert "is old" in result.output
        assert rows_on_disk(at) == before


def test_what_waits_is_left(tmp_path):
    # The invented bench, with the inside reading 1 in short: one of the readings between the legs is not to be
    # believed, and the apron waits for it.
    at = folder_of(tmp_path / "b", rows=FRAMES.replace("41 3/32", "40 3/32"))
    _, parsed = sheet(at, tmp_path)
    words = parsed.words
    assert "STOP" in words
    assert words.index("STOP") < words.index("apron")
    assert "LEAVE" in words
    assert "CUT" not in words
    assert any("lines: wait for #" in word and word.endswith("Then print another sheet.") for word in words)
    figures = [word for word in words if re.fullmatch(r"\d+( \d+/\d+)?", word)]
    assert figures == [], "a size that may be wrong does not go to the bench"
    assert not any(word.startswith("[") for word in words)


def test_a_made_mark_is_dashed_and_has_no_box(tmp_path):
    at = folder_of(tmp_path / "b", rows=FRAMES + "reading,apron.l.end,apron.l.left,6,tape,\n")
    text, parsed = sheet(at, tmp_path)
    assert "stroke-dasharray" in text
    assert "l.left" not in parsed.words


def test_everything_made(tmp_path):
    at = folder_of(tmp_path / "b", rows=FRAMES + "made,apron,,,,\n")
    _, parsed = sheet(at, tmp_path)
    assert "CUT" not in parsed.words


@pytest.mark.parametrize("args", [("--output", "a.txt"), ("--output", "no/a.pdf"), ()])
def test_what_cannot_be_written_is_said(tmp_path, args, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run("sheet", *args, at=folder_of(tmp_path / "b", rows=FRAMES))
    assert result.exit_code == 2
    assert "Traceback" not in result.output
    assert [path.name for path in tmp_path.iterdir()] == ["b"]


def test_nothing_half_written_is_left(tmp_path, monkeypatch):
    import os

    at = folder_of(tmp_path / "b", rows=FRAMES)
    out = tmp_path / "sheet.pdf"
    out.write_text("before")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    result = run("sheet", "--output", str(out), "--replace", at=at)
    assert result.exit_code == 2
    assert "could not be written: no space left on device" in result.output
    assert out.read_text() == "before"
    assert {path.name for path in tmp_path.iterdir()} == {"b", "sheet.pdf"}


def test_the_example_is_not_written_to(tmp_path):
    at = tmp_path / "b"
    shutil.copytree(TABLE, at)
    before = {path.name: path.read_bytes() for path in at.iterdir()}
    sheet(at, tmp_path)
    assert {path.name: path.read_bytes() for path in at.iterdir()} == before


def test_a_hole_is_bored(tmp_path):
    plan = 'unit = "mm"\nfinest = "0.5"\nworkmanship = "0.5"\n[part.jaw]\nx = "l.end 600 r.end"\nz = "low 150 top"\n' + (
        'holes = { screw = ["200 from l.end", "110 from top"] }\n'
    )
    words = sheet(folder_of(tmp_path / "b", plan), tmp_path)[1].words
    assert words[words.index("screw.x") - 1] == "BORE"
    assert words[words.index("screw.z") + 1] == "40"
    assert words[words.index("r.end") - 1] == "CUT"


def test_where_no_line_will_do_it_is_knifed_off_the_part(tmp_path):
    # By hand: the leg is 3.531 in = 113/32 wide, exactly 112.992/32. A dado may be 0.002 to 0.016 wider, so 113.06/32 to
    # 113.5/32: there is no whole number of 32nds, and the second wall is knifed off the leg itself. The other leg,
    # 3.488 in = 111.616/32, has 112 between 111.68 and 112.13: two lines do.
    at = folder_of(tmp_path / "b", rows=FRAMES)
    words = sheet(at, tmp_path)[1].words
    knifed = [word for word in words if "knife" in word]
    assert len(knifed) == 1
    assert knifed[0].startswith("no 1/32 keeps dado leg.l: knife it off leg.l and a 0.008 shim")


def test_no_figure_is_cut_off_and_no_part_met_lies_on_the_sign_of_the_origin():
    found = reconcile(load_build(EXAMPLES / "trestle"))
    pages = sheet_pages(shop_sheet(found, (), "1-0000", "today"), "letter")
    words = [shape for page in pages for shape in page.shapes if isinstance(shape, Text)]
    assert any(one.words == "31/32 the other way" for one in words)
    circles = [shape for page in pages for shape in page.shapes if isinstance(shape, Circle) and shape.radius < 1]
    assert circles
    for page in pages:
        for circle in (shape for shape in page.shapes if isinstance(shape, Circle) and shape.radius < 1):
            for text in (shape for shape in page.shapes if isinstance(shape, Text) and shape.words):
                left, top, right, bottom = box_of(text)
                clear = left > circle.x + 0.5 or right < circle.x - 0.5 or top > circle.y + 0.5 or bottom < circle.y - 0.5
                assert clear, text.words


def test_paper_is_named_as_it_is_typed(tmp_path):
    from cli_folder import folder_of, run

    at = folder_of(tmp_path / "b")
    for typed in ("A4", "a4", "Letter"):
        result = run("sheet", "--paper", typed, "--output", str(tmp_path / "s.html"), "--replace", at=at)
        assert "Error" not in result.output
        assert f"of {'Letter' if typed == 'Letter' else 'A4'}" in result.stdout
