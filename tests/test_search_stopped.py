"""A search for lines that is stopped says how much nearer any others could be. The bound is the solver's own, in its
terms; that it is turned into millimetres rightly is seen where it is tight: at a proven answer it is what the lines are off.
"""

from __future__ import annotations

import numpy as np
import pytest
from cli_folder import FRAMES, folder_of, run
from hypothesis import given, settings
from test_rounding_exact import groups

from fitsolve.solve import rounding
from fitsolve.solve.rounding import Rounded


@given(group=groups())
@settings(max_examples=25, deadline=None)
@pytest.mark.parametrize("box", [0, 1])
def test_at_a_proven_answer_the_bound_is_what_all_lines_are_off(group, box):
    nothing = np.zeros(len(group.member), dtype=bool)
    rows = rounding._rows(group, nothing)
    found = rounding._in_box(group, rows, ~nothing, box) if rows.possible else None
    if found is not None:
        steps, proven, least = found
        assert proven
        assert least == pytest.approx(Rounded(steps, nothing).off_mm(group), abs=1e-6)


def test_a_stopped_search_tells_how_much_nearer_others_could_be():
    from test_rounding_exact import group_of

    # By hand: of halves 0 and 0.5 the wall at 0.2 may not be 0 (at least 0.1 more than wanted): it is 0.5, off by 0.3.
    group = group_of([0.5], [0.2], [[1.0]], [], [0.0], [1.0])
    solve = rounding._solve

    def stopped(*args):
        x, _, least = solve(*args)
        return x, False, least - 0.2  # in steps of half a millimetre: 0.1 mm

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rounding, "FEW", 0)
        patch.setattr(rounding, "_solve", stopped)
        found = rounding.round_group(group)
    assert found.steps.tolist() == [1]
    assert not found.proven
    assert found.nearer_mm == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("nearer", "said"),
    [
        (0.3, "keep every joint, and none are nearer by more than 0.012 in in all."),  # 0.3 / 25.4
        (float("inf"), "keep every joint, but fewer may have to be knifed."),
        (0.0, ""),
    ],
)
def test_sizes_says_so(tmp_path, monkeypatch, nearer, said):
    from fitsolve.findings.lines import LaidOut

    monkeypatch.setattr(LaidOut, "nearer_mm", property(lambda _: nearer))
    told = " ".join(run("sizes", at=folder_of(tmp_path / "b", rows=FRAMES)).output.split())
    assert ("UNPROVEN" in told) == bool(said)
    assert said in told
