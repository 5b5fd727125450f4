"""Terms: rows as the (mark, coefficient) pairs they are made of, added up."""

from __future__ import annotations

Terms = list[tuple[int, float]]


def merged(*parts: Terms) -> Terms:
    """Rows added up, marks that cancel left out.

    Slopes that differ stay apart: 1/8 + 1/6 in floats is no longer the sum of what they stand for.
    """
    terms = [term for part in parts for term in part]
    if len(dict(terms)) == len(terms):  # nothing to add up
        return [term for term in terms if term[1]]
    total: dict[int, list[float]] = {}
    for mark, coef in terms:
        known = total.setdefault(mark, [])
        if -coef in known:
            known.remove(-coef)
        elif known and _whole(coef) and _whole(known[-1]):
            known[-1] += coef
        elif coef:
            known.append(coef)
    return [(mark, coef) for mark, coefs in total.items() for coef in coefs if coef]


def _whole(coef: float) -> bool:
    """Whether a coefficient counts whole or half marks, as all do but those of slopes."""
    return 2 * coef == int(2 * coef)
