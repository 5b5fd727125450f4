"""What readings share, eliminated beforehand, comes to the same as unknowns among the marks.

A second way to the same numbers, for whole builds with wood still to be cut: the shared errors are
put into the network as marks of their own (plan 0, made, a reading of them that says 0), so that
pieces hang together by them and nothing is eliminated. Sizes, both uncertainties and the outlook of
every distance and clearance must agree; dense and sparse too.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import event, given, settings
from hypothesis import strategies as st
from pytest import approx
from test_sparse_and_dense_agree import assert_agree

from fitsolve.findings.solved import rows_of
from fitsolve.graph import clearance_terms, distance_terms, make_graph, merged
from fitsolve.rows import Cuts, Network, RowList
from fitsolve.solve.pieces import solve_pieces
from tests.builds import Case, benches


@st.composite
def with_tools(draw, troubled=False):
    """A bench of which some readings were taken with a tool that has a zero, some with one that has a scale."""
    case = draw(benches(trouble=troubled))
    said = []
    for reading in case.state.readings:
        tool = draw(st.sampled_from(["plain", "worn", "stretched"]))
        zero = 0.4 if tool == "worn" else 0.0
        scale = 0.002 if tool == "stretched" else 0.0
        said.append(replace(reading, tool=tool, zero_u_mm=zero, scale_u=scale))
    return Case(case.assembly, replace(case.state, readings=tuple(said)))


def as_marks(network: Network) -> Network:
    """The network with what is shared as marks behind its own."""
    shared = network.shared
    if shared is None:
        return network
    n, k = len(network), len(shared.u)
    added = {}
    for row, column, coef in zip(shared.row.tolist(), shared.column.tolist(), shared.coef.tolist(), strict=True):
        added.setdefault(row, []).append((n + column, coef))
    rows, old = RowList(), network.measured
    for row, terms in enumerate(old.terms()):
        rows.add([*terms, *added.get(row, [])], float(old.value[row]), float(old.scale[row]))
    for column, u in enumerate(shared.u.tolist()):
        rows.add([(n + column, 1.0)], 0.0, u)
    cuts = network.cuts
    behind = Cuts(
        np.append(cuts.group, np.full(k, -1)),
        np.append(cuts.side, np.zeros(k)),
        np.append(cuts.reference, n + np.arange(k)),
        cuts.u_location_mm,
        cuts.u_width_mm,
    )
    return replace(
        network,
        plan_mm=np.append(network.plan_mm, np.zeros(k)),
        uncut=np.append(network.uncut, np.zeros(k, bool)),
        measured=rows.rows(),
        cuts=behind,
        shared=None,
    )


def told(network: Network, sums):
    """For each sum that something fixes: its value, and the standard uncertainties of advice and outlook."""
    found = {}
    for piece in solve_pieces(network):
        number = {mark: k for k, mark in enumerate(piece.marks.tolist())}
        for k, terms in enumerate(sums):
            if not all(mark in number for mark, _ in terms):
                continue
            inside = [(number[mark], coef) for mark, coef in terms]
            if piece.fixed(inside):
                rows = rows_of([inside])
                value = sum(coef * float(piece.x[mark]) for mark, coef in inside)
                u = (piece.advice.variance(rows), piece.outlook.errors.variance(rows))
                found[k] = (value, *(float(np.sqrt(one[0])) for one in u))
    return found


@given(with_tools())
@settings(max_examples=30)
def test_sizes_and_uncertainties_are_those_of_one_whole(case):
    network = make_graph(case.assembly, case.state).network
    sums = [distance_terms(one) for one in case.assembly.distances]
    sums += [merged(clearance_terms(one)) for one in case.assembly.contacts]
    event(f"{0 if network.shared is None else len(network.shared.u)} errors shared, {bool(network.uncut.any())} uncut")
    ours, whole = told(network, sums), told(as_marks(network), sums)
    assert ours.keys() == whole.keys()
    for k, numbers in ours.items():
        assert numbers == approx(whole[k], abs=1e-6)


@given(with_tools(troubled=True))
@settings(max_examples=12)
def test_dense_and_sparse_agree(case):
    assert_agree(case.assembly, case.state)
