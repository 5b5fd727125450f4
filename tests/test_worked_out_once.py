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
