"""A gross error planted in a reading by lot: named rightly, among equals, wrongly, or not at all.

    python tests/benchmarks/planted_errors.py [TRIALS]

Prints the tables that stand in docs/doubts.md.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from planted import READINGS, alarms, planted

OUTCOMES = ("right", "among equals", "wrong", "can't tell")
SIZES = [
    ("the smallest that is found", 0.0, True),
    ("and 4 u of the reading more", 4.0, False),
    ("and 4 u / sqrt r more", 4.0, True),
]


ALARMS_TIMES = 5
"""Builds with nothing planted, for each with an error: false alarms are rare."""


def main(trials: int) -> None:
    """Print both tables."""
    print(f"| build | error planted | {' | '.join(OUTCOMES)} | named |")
    print("| --- | --- |" + " ---: |" * 5)
    together = {words: Counter[str]() for words, _, _ in SIZES}
    for name in READINGS:
        for words, sigmas, seen in SIZES:
            counts = planted(name, trials, seed=11, sigmas_above=sigmas, seen=seen)
            together[words] += counts
            print(row(name, words, counts), flush=True)
    for words, counts in together.items():
        print(row("all of them", words, counts))
    print("\n| build | readings | called suspect | stated | builds | said not to agree | stated |")
    print("| --- | ---: | ---: | ---: | ---: | ---: | ---: |")
    whole = Counter[str]()
    for k, name in enumerate(READINGS):
        suspect, checked, disagree = alarms(name, ALARMS_TIMES * trials, seed=12 + k)
        one = Counter({"checked": checked, "suspect": suspect, "builds": ALARMS_TIMES * trials, "disagree": disagree})
        whole += one
        print(alarm_row(name, one), flush=True)
    print(alarm_row("all of them", whole))


def row(name: str, words: str, counts: Counter[str]) -> str:
    """One line of the first table, in per cent."""
    trials = counts.total()
    shown = " | ".join(f"{100 * counts[one] / trials:.1f}" for one in OUTCOMES)
    return f"| {name} | {words} | {shown} | {100 * (counts['right'] + counts['among equals']) / trials:.1f} % |"


def alarm_row(name: str, one: Counter[str]) -> str:
    """One line of the second table; alpha is 0.001 for a reading and for the whole."""
    readings = f"{one['checked']} | {one['suspect']} | {one['checked'] / 1000:.1f}"
    return f"| {name} | {readings} | {one['builds']} | {one['disagree']} | {one['builds'] / 1000:.1f} |"


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
