"""What takes all pairs of a part's gaps is worked out once, however many joints are told of."""

from __future__ import annotations

from collections import Counter

from cli_folder import FRAMES, folder_of, run

from fitsolve.findings import causes

JAMS = f"{FRAMES}reading,apron.l.left,apron.l.right,3.400,caliper,\nreading,apron.r.left,apron.r.right,3.400,caliper,\n"


def test_the_tightest_pair_of_gaps(tmp_path, monkeypatch):
    asked: Counter[str] = Counter()
    really = causes._squeeze

    def counted(solved, part):
        asked[part] += 1
        return really(solved, part)

    monkeypatch.setattr(causes, "_squeeze", counted)
    result = run("sizes", at=folder_of(tmp_path / "b", rows=JAMS))
    assert "jams" in result.output
    assert asked
    assert set(asked.values()) == {1}


def test_where_every_part_is_laid_out_for_all_that_stands_on_a_sheet(tmp_path, monkeypatch):
    from fitsolve.findings import leaving
    from fitsolve.report import leavewords

    asked: Counter[str] = Counter()
    for module, name in ((leaving, "layouts"), (leaving, "edges")):
        monkeypatch.setattr(module, name, lambda *_, name=name: asked.update([name]))
    really = leavewords.leave_texts
    told: list[str] = []
    monkeypatch.setattr(
        "fitsolve.drawing.sheetwords.leave_texts", lambda found, part, own: told.append(part) or really(found, part, own)
    )
    result = run("sheet", "--output", str(tmp_path / "s.html"), at=folder_of(tmp_path / "b", rows=FRAMES))
    assert result.exit_code in (0, 1), result.output
    assert told
    assert not asked, "they are known when it is asked what wood to leave on"
