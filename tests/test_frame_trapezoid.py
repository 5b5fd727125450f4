"""Wind, level and rock of four legs that stand at the corners of no rectangle. Against numpy; the build is invented, in mm."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from fitsolve.report.wherewords import check_texts
from tests.test_frame_set_anew import build

CORNERS = {"a": (60, 60), "b": (940, 60), "c": (210, 560), "d": (730, 560)}
PLACES = np.array([(x + 25.0, y + 25.0) for x, y in CORNERS.values()])
ALL = " + ".join(f"{leg}.{{}}" for leg in CORNERS)
MEET = ", ".join(
    f'"{leg}.l/r in base.{leg}.l/{leg}.r, wide", "{leg}.f/k in base.{leg}.f/{leg}.k, wide", "{leg}.foot against base.over, shoulder"'
    for leg in CORNERS
)
PLAN = (
    "".join(f"\n[part.{leg}]\nx = 'l 50 r'\ny = 'f 50 k'\nz = 'foot 700 head'" for leg in CORNERS)
    + "\n[part.base]\nx = [" + ", ".join(f"'o {x} {leg}.l 50 {leg}.r'" for leg, (x, _) in CORNERS.items())
    + "]\ny = [" + ", ".join(f"'p {y} {leg}.f 50 {leg}.k'" for leg, (_, y) in CORNERS.items())
    + f"]\nz = 'under 40 over'\n[joint.stand]\nmeet = [{MEET}]\n[check]\n"
    + f"wind = '{ALL.format(*['head'] * 4)}, within 1'\n".replace("wind = '", "wind = 'wind ")
    + f"level = 'level {ALL.format(*['head'] * 4)} over {ALL.format(*['foot'] * 4)}, within 1'\n"
    + f"rock = 'rock {ALL.format(*['foot'] * 4)}, within 0.1'\n"
)  # fmt: skip


def by_numpy(head, foot):
    """What one head stands off the plane of the other three at most; highest less lowest over the best plane of the
    feet; of every three feet that all others are over: what stands off them, and whether their middle is among them."""
    X = np.column_stack([np.ones(4), PLACES])
    off = [head[k] - X[k] @ np.linalg.solve(np.delete(X, k, 0), np.delete(head, k)) for k in range(4)]
    over = head - X @ np.linalg.lstsq(X, foot, rcond=None)[0]
    stances = {}
    for three in combinations(range(4), 3):
        high = foot - X @ np.linalg.solve(X[list(three)], foot[list(three)])
        if high.min() > -1e-9:
            inside = np.linalg.solve(X[list(three)].T, X.mean(axis=0))
            stances[float(high.max())] = (inside.min() >= 0, "abcd"[int(high.argmax())])
    return max(map(abs, off)), float(np.ptp(over)), stances


@pytest.mark.parametrize("seed", [0, 3])
def test_numbers_of_a_crooked_frame(seed):
    rng = np.random.default_rng(seed)
    long, high = 700 + rng.normal(0, 2, 4).round(2), np.append(0, rng.normal(0, 2, 3).round(2))
    rows = [f"reading {leg}.foot {leg}.head {mm:.2f} exact -" for leg, mm in zip(CORNERS, long, strict=True)]
    rows += [
        f"reading a.head {leg}.head {abs(mm):.2f} exact proud {leg if mm > 0 else 'a'}.head"
        for leg, mm in zip("bcd", high[1:], strict=True)
    ]
    found = build(PLAN, *rows)
    wind, level, stances = by_numpy(high, high - long)
    assert [abs(check.value_mm) for check in found.checks] == pytest.approx([wind, level, max(stances)], abs=1e-6)
    rests, loose = stances[max(stances)]
    said = check_texts(found, 2)[0]
    assert said.startswith("on a flat floor it stands on " if rests else "on a flat floor it can be rocked onto ")
    assert f": {loose}.foot " in said

