"""Blocks of a graph, held against networkx, a general-purpose library."""

from __future__ import annotations

import networkx
from hypothesis import given, settings
from hypothesis import strategies as st

from fitsolve.solve.blocks import blocks

EDGES = st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)).filter(lambda edge: edge[0] != edge[1]), max_size=22)


@given(EDGES)
@settings(max_examples=150, deadline=None)
def test_the_same_edges_lie_together_as_in_networkx(edges):
    found = blocks(edges)
    groups: dict[int, set] = {}
    for edge, number in found.items():
        groups.setdefault(number, set()).add(edge)
    expected = networkx.biconnected_component_edges(networkx.Graph(edges))
    assert {frozenset(group) for group in groups.values()} == {frozenset(map(frozenset, group)) for group in expected}


def test_a_very_long_chain_with_a_loop_at_its_end():
    """By hand: each link of a chain is a block of its own, the triangle is one."""
    found = blocks([*((k, k + 1) for k in range(20_000)), (20_000, 20_001), (20_001, 19_999)])
    assert len(set(found.values())) == 20_000
    assert found[frozenset((19_999, 20_000))] == found[frozenset((20_000, 20_001))] == found[frozenset((20_001, 19_999))]
