"""Fractions that stand on no rule: their lower number is a slip, whatever they come to.

A rule of inches is divided by two and two again, down to 1/64, or by ten; a dial has 128ths and thousandths. So
`3-17/23` was meant to be something else, most likely 3-17/32 (common practice, no source).
"""

from __future__ import annotations

from fitsolve.light import pattern

_FRACTION = pattern(r"(\d+)/(\d+)(?!\d)")
_ON_RULES = frozenset({2, 4, 8, 16, 32, 64, 128, 256, 5, 10, 12, 20, 50, 100, 1000, 10_000})


def odd_fraction(text: str) -> str:
    """Return what is odd about the fraction of a reading, and what it may have been; empty where nothing is.

    >>> odd_fraction("3-17/23")
    'No rule has 23rds: 17/32?'
    >>> odd_fraction("3 17/32"), odd_fraction("3 1/6")
    ('', 'No rule has 6ths: 1/16?')
    """
    for over, under in _FRACTION.findall(text):
        if int(under) in _ON_RULES or int(under) < 2:
            continue
        meant = [one for one in (under[::-1], f"1{under}", f"{under}4", f"{under}2", f"{under}6")
                 if int(one) in _ON_RULES and int(over) < int(one)]  # fmt: skip
        guess = f": {over}/{meant[0]}?" if meant else ""
        return f"No rule has {under}{_ending(under)}{guess}"
    return ""


def _ending(number: str) -> str:
    if number[-2:] in ("11", "12", "13"):
        return "ths"
    return {"1": "sts", "2": "nds", "3": "rds"}.get(number[-1], "ths")
