"""The marks of a part along an axis: which side the wood is on, and where a rough mark is now."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_folder import FRAMES, PLAN, folder_of

from fitsolve.build.folder import load_build
from fitsolve.findings.edges import Edge, edges
from fitsolve.reconciliation import reconcile

EXAMPLES = Path(__file__).parent.parent / "examples"


def edge_of(folder: Path, part: str, axis: str) -> tuple[Edge, dict[str, object]]:
    found = reconcile(load_build(folder))
    [edge] = [one for one in edges(found.solved, [part]) if one.axis == axis]
    names = {found.assembly.marks[one.mark].name[len(part) + 1 :]: one for one in edge.marks}
    return edge, names


def wood(folder: Path, part: str, axis: str) -> dict[str, int]:
    return {name: one.wood for name, one in edge_of(folder, part, axis)[1].items()}


def test_wood_is_outside_a_dado_and_inside_a_tongue(tmp_path):
    # By the trade: what lies between the walls of a dado is cut away; beyond an end there is nothing.
    at = folder_of(tmp_path / "b")
    assert wood(at, "apron", "x") == {"l.end": 1, "l.left": -1, "l.right": 1, "r.left": -1, "r.right": 1, "r.end": -1}
    assert wood(at, "leg.l", "x") == {"left": 1, "right": -1}


def test_sides_turn_with_a_handed_copy_so_that_figures_and_sides_agree():
    table = EXAMPLES / "wedging-table"
    for part in ("leg.fl", "leg.fr", "leg.rl", "leg.rr"):
        assert wood(table, part, "x")["outer"] == 1
        assert wood(table, part, "x")["low.cheek-o"] == -1, "a mortise is air between its cheeks"
        assert wood(table, part, "y")["low.floor"] == -1, "the floor of a mortise has its wood toward the face"
    # The stretcher is notched from below, the apron stepped from below: the wood is above.
    assert wood(table, "stretcher.front", "z")["notch-top"] == 1
    assert wood(table, "apron.rear", "z")["l.step"] == 1
    assert wood(table, "rail.left-low", "y") == {
        "f.end": 1, "f.shoulder": 1, "f.lap-o": -1, "f.lap-i": 1, "r.lap-i": -1, "r.lap-o": 1,
        "r.shoulder": -1, "r.end": -1,
    }  # fmt: skip


def test_figures_run_from_the_reference_end_whatever_is_made(tmp_path):
    at = folder_of(tmp_path / "b", rows=FRAMES)
    edge, marks = edge_of(at, "leg.l", "x")
    assert marks["left"].figure_mm == 0.0
    assert marks["right"].figure_mm == pytest.approx(3.531 * 25.4, abs=0.05)
    assert not edge.to_cut
    assert edge_of(at, "apron", "x")[0].to_cut


def test_a_rough_mark_is_where_its_row_says(tmp_path):
    at = folder_of(tmp_path / "b", rows="rough,apron.l.end,apron.r.end,61 1/2,tape,\n")
    _, marks = edge_of(at, "apron", "x")
    assert marks["r.end"].now_mm == pytest.approx(61.5 * 25.4, abs=1e-6)
    assert marks["l.end"].now_mm is None, "what is over counts once"


def test_a_mark_that_nothing_tells_of_has_no_side(tmp_path):
    plan = PLAN.replace('x = "left 3 1/2 right"', 'x = "left 1 line 2 1/2 right"')
    assert wood(folder_of(tmp_path / "b", plan), "leg.l", "x")["line"] == 0


def test_crosses_and_hatching_lie_on_the_side_that_is_cut_away(tmp_path):
    # By the trade: between the walls of the dado, and beyond the end.
    from fitsolve.drawing.bar import bar_shapes
    from fitsolve.drawing.cutlines import cut_lines
    from fitsolve.drawing.papers import STRIPS
    from fitsolve.drawing.shapes import Path as Lines
    from fitsolve.drawing.strip import StripPlan, strip_pages

    found = reconcile(load_build(folder_of(tmp_path / "b")))
    [edge] = edges(found.solved, ["apron"])
    [lines] = cut_lines(found, [edge])

    def crosses(shapes) -> list[float]:
        slanted = [s.points for s in shapes if isinstance(s, Lines) and len(s.points) == 2 and not s.closed
                   and abs(abs(s.points[0][0] - s.points[1][0]) - abs(s.points[0][1] - s.points[1][1])) < 1e-9
                   and s.points[0][0] != s.points[1][0]]  # fmt: skip
        return sorted({round((a[0] + b[0]) / 2, 3) for a, b in slanted})

    at = {line.name: line.at_mm for line in lines}
    [page] = strip_pages(StripPlan("apron", "x", "l.end", lines, "0-0", "", True), STRIPS["roll"])
    zero = STRIPS["roll"].margin_mm + 8.0
    found_at = crosses(page.shapes)
    assert len(found_at) == 5
    for name, side in (("l.left", 1), ("l.right", -1), ("r.left", 1), ("r.right", -1), ("r.end", 1)):
        assert any(0 < (x - zero - at[name]) * side < 4 for x in found_at), name
    bar = bar_shapes(lines, (0.0, 0.0, 200.0, 20.0))
    scale = (200.0 - 8.0) / at["r.end"]
    for name, side in (("l.left", 1), ("l.right", -1), ("r.left", 1), ("r.right", -1), ("r.end", 1)):
        assert any(0 < (x - 4.0 - at[name] * scale) * side < 3 for x in crosses(bar)), name
