"""Blocks: the edges of a graph in groups, two in one group where a loop without a crossing goes through both.

Depth first, with the lowest node that what hangs below each one reaches back to; where that is no lower than the
node above, all edges found since are one block (J. Hopcroft, R. Tarjan 1973, from memory).
"""

from __future__ import annotations

from collections.abc import Iterable


def blocks(edges: Iterable[tuple[int, int]]) -> dict[frozenset[int], int]:
    """Return the number of the block of each edge; its two nodes differ."""
    beside: dict[int, dict[int, None]] = {}
    for a, b in edges:
        beside.setdefault(a, {})[b] = None
        beside.setdefault(b, {})[a] = None
    seen: dict[int, int] = {}
    block_of: dict[frozenset[int], int] = {}
    count = 0
    for root in beside:
        if root not in seen:
            for block in _from(root, beside, seen):
                block_of.update(dict.fromkeys(map(frozenset, block), count))
                count += 1
    return block_of


def _from(root: int, beside: dict[int, dict[int, None]], seen: dict[int, int]) -> Iterable[list[tuple[int, int]]]:
    """The blocks of what hangs together with a node; `seen` numbers the nodes in the order they are reached."""
    seen[root] = len(seen)
    low = {root: seen[root]}
    way = [(root, root, iter(beside[root]))]
    open_edges: list[tuple[int, int]] = []
    while way:
        node, above, others = way[-1]
        for other in others:
            if other not in seen:
                seen[other] = low[other] = len(seen)
                open_edges.append((node, other))
                way.append((other, node, iter(beside[other])))
                break
            if other != above and seen[other] < seen[node]:
                low[node] = min(low[node], seen[other])
                open_edges.append((node, other))
        else:
            way.pop()
            if node == root:
                continue
            low[above] = min(low[above], low[node])
            if low[node] >= seen[above]:
                block = [open_edges.pop()]
                while block[-1] != (above, node):
                    block.append(open_edges.pop())
                yield block
