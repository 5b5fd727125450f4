"""Covariances agree with a general-purpose library of uncertainties to 1e-9.

The library (uncertainties 3, `import uncertainties`) knows nothing of networks: each reading is a
number with an error of its own, plus what its tool shares, and it carries these through the two
stages written out with pseudo-inverses. What it says of the results is held against the program.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from builds import benches, findings
from hypothesis import assume, given, settings
from uncertainties import covariance_matrix, ufloat

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.graph import clearance_terms, merged
from fitsolve.rows import RowList

PLAN = """
format = 1
unit = "mm"
finest = 0.5
workmanship = 0.6
[tool.caliper]
good_to = 0.1
[tool.rod]
good_to = 0.2
zero = 1
[tool.tape]
class = "II"
[part.leg]
copies = ["a", "b"]
x = "left 90 right"
[part.apron]
x = "l.end 50 l.low 90 l.high 720 r.low 90 r.high 50 r.end"
z = "under 200 top"
[joint.dado]
each = \"\"\"
e leg
l a
r b
\"\"\"
meet = "leg.{leg}.left/right in apron.{e}.low/high, slip"
"""
ROWS = [
    ("made", "apron", "", "", ""),
    ("reading", "leg.a.left", "leg.a.right", "90.4", "caliper"),
    ("reading", "leg.b.left", "leg.b.right", "90.9", "rod"),
    ("reading", "leg.a.right", "leg.b.left", "720.9", "rod"),
    ("reading", "leg.a.left", "leg.b.right", "901.2", "tape"),
    ("reading", "leg.a.left", "leg.b.left", "810.7", "tape"),
    ("reading", "apron.l.low", "apron.l.high", "90.6", "caliper"),
    ("reading", "apron.l.end", "apron.r.end", "1000.4", "tape"),
    ("reading", "apron.under", "apron.top", "200.6", "rod"),
    ("compare", "apron.l.low..apron.l.high", "leg.a.left..leg.a.right", "0.2", "rod"),
]


def solved():
    time = "2025-11-25T14:10:00+00:00"
    rows = [
        fitsolve.Row(time=time, event=event, start=a, end=b, reading=length, tool=tool)
        for event, a, b, length, tool in ROWS
    ]
    return fitsolve.reconcile(fitsolve.Build(plan=read_plan(PLAN), log=rows)).solved


def by_library(whole):
    """Positions (n,) as numbers of the library, from readings and the plan as numbers of the library.

    A reading carries its own error and what its tool shares; that what is shared is about 0 is one row
    more, exactly 0. Two stages by pseudo-inverses; in exact arithmetic ranks are judged at 1e-9.
    """
    network, shared = whole.graph.network, whole.graph.network.shared
    n, m = len(network), len(network.measured)
    k = 0 if shared is None else len(shared.u)
    first = np.zeros((m + k, n + k))
    for row, terms in enumerate(network.measured.terms()):
        for mark, coef in terms:
            first[row, mark] += coef
    readings = [ufloat(v, u) for v, u in zip(network.measured.value, network.measured.scale, strict=True)]
    u = network.measured.scale
    if shared is not None:
        common = [ufloat(0.0, one) for one in shared.u]
        for row, column, coef in zip(shared.row, shared.column, shared.coef, strict=True):
            first[row, n + column] += coef
            readings[row] = readings[row] + coef * common[column]
        first[m:, n:] = np.eye(k)
        u = np.concatenate([u, shared.u])
    inverse = np.linalg.pinv(first / u[:, None], rcond=1e-11) / u
    size, across = np.linalg.svd(first / u[:, None])[1:]
    free = across[int((size > 1e-9 * size[0]).sum()) :].T
    y = inverse.dot(np.array([*readings, *[0.0] * k]))
    if len(network.planned) == 0:
        return y[:n]
    second = np.zeros((len(network.planned), n + k))
    for row, terms in enumerate(network.planned.terms()):
        for mark, coef in terms:
            second[row, mark] += coef / network.planned.scale[row]
    at_plan = [ufloat(v, s) / s for v, s in zip(network.planned.value, network.planned.scale, strict=True)]
    over = second @ free
    over[np.abs(over) < 1e-9] = 0.0  # where the first stage settles everything it is rounding alone
    left = np.linalg.pinv(over, rcond=1e-9)
    return (y + (free @ left).dot(np.array(at_plan) - second.dot(y)))[:n]


def sums_asked(whole, piece):
    """Sums that facts settle, inside one piece: distances of made marks, and clearances of contacts."""
    members = piece.marks.tolist()
    sums = [[(b, 1.0), (a, -1.0)] for a, b in combinations(members, 2)]
    contacts = [merged(clearance_terms(contact)) for contact in whole.assembly.contacts]
    sums += [terms for terms in contacts if all(mark in members for mark, _ in terms)]
    return [terms for terms in sums if piece.estimate.freedom.settled(whole.inside(terms))]


def agrees(whole):
    """Whether values and covariances agree, piece by piece; how many sums were compared."""
    x, compared = by_library(whole), 0
    for piece in whole.pieces:
        sums = sums_asked(whole, piece)
        if not sums:
            continue
        rows = RowList()
        for terms in sums:
            rows.add(whole.inside(terms), 0.0, 1.0)
        (ours,) = piece.facts.covariances(rows.rows(), [np.arange(len(sums))])
        library = [sum(coef * x[mark] for mark, coef in terms) for terms in sums]
        assert ours == pytest.approx(np.array(covariance_matrix(library)), abs=1e-9)
        values = [one.nominal_value for one in library]
        assert rows.rows().of(piece.estimate.x) == pytest.approx(values, abs=1e-8)
        compared += len(sums)
    return compared


def test_what_tools_share_is_carried_into_every_difference():
    whole = solved()
    assert {(one.tool, one.term) for one in whole.graph.shared} == {
        ("rod", "zero"), ("tape", "zero"), ("tape", "scale"),
    }  # fmt: skip
    # 6 distances of the legs, which a reading ties, 15 of the apron, 1 upward, and 2 clearances.
    assert agrees(whole) == 24


@given(benches(trouble=False))
@settings(max_examples=20)
def test_any_bench_has_the_covariances_the_library_has(case):
    assume(len(case.state.readings) > 1)
    agrees(findings(case, seats=False).solved)
