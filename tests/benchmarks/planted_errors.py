"""A gross error planted in a reading by lot: named rightly, among equals, wrongly, or not at all.

    python tests/benchmarks/planted_errors.py [TRIALS]

Prints the tables that stand in docs/doubts.md.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from planted import READINGS, alarms, planted

OUTCOMES = ("right", "among equals", "wrong", "can't tell")
SIZES = [
    ("the smallest that is found", 0.0, True),
    ("and 4 u of the reading more", 4.0, False),
    ("and 4 u / sqrt r more", 4.0, True),
]


def main(trials: int) -> None:
    """Print both tables."""
    print(f"| build | error planted | {' | '.join(OUTCOMES)} | named |")
    print("| --- | --- |" + " ---: |" * 5)
    for name in READINGS:
        for words, sigmas, seen in SIZES:
            counts = planted(name, trials, seed=11, sigmas_above=sigmas, seen=seen)
            shown = " | ".join(f"{100 * counts[one] / trials:.1f}" for one in OUTCOMES)
            named = 100 * (counts["right"] + counts["among equals"]) / trials
            print(f"| {name} | {words} | {shown} | {named:.1f} % |", flush=True)
    print("\n| build | readings | called suspect | stated | builds | said not to agree |")
    print("| --- | ---: | ---: | ---: | ---: | ---: |")
    for name in READINGS:
        suspect, checked, disagree = alarms(name, trials, seed=12)
        print(f"| {name} | {checked} | {suspect} | {checked / 1000:.1f} | {trials} | {disagree} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
