"""How long the lines that can be cut take: runs of bays, and the same before anything is made.

    python tests/benchmarks/lines.py [MARKS ...]

Processor seconds for the whole reconciliation and for the lines after it, and their ratio, each size once; how
many lines were given up. Where legs are made every apron is a programme by itself; where nothing is, all
hang together. It asserts that every answer is proven, nothing about time.
"""

from __future__ import annotations

import sys
import time

SIZES = (100, 1_000, 10_000)


def once(marks: int, made: bool) -> None:
    """Print one line of the table."""
    from bays import bays_for, log_text, plan_text

    from fitsolve import Build, reconcile
    from fitsolve.build.plan import read_plan
    from fitsolve.build.shoplog import parse_log

    bays = bays_for(marks)
    log = log_text(bays) if made else log_text(bays).splitlines()[0] + "\n"
    begin = time.process_time()
    found = reconcile(Build(plan=read_plan(plan_text(bays)), log=parse_log(log.encode())))
    middle = time.process_time()
    laid = found.laid_out
    end = time.process_time()
    assert laid.proven
    lost = sum(line.line_mm is None for line in laid.lines.values())
    first, second = middle - begin, end - middle
    print(
        f"{len(found.assembly.marks):8,} {'legs made' if made else 'nothing made':>13} {len(laid.lines):7,} {lost:6} "
        f"{first:10.2f} {second:8.2f} {second / first:6.1f}",
        flush=True,
    )


def main(sizes: tuple[int, ...]) -> None:
    """Print the table."""
    from scipy.optimize import milp  # noqa: F401  (its import is not what is measured)

    print(f"{'marks':>8} {'':>13} {'lines':>7} {'none':>6} {'reconcile':>10} {'lines':>8} {'ratio':>6}")
    for size in sizes:
        for made in (True, False):
            once(size, made)


if __name__ == "__main__":
    main(tuple(int(word) for word in sys.argv[1:]) or SIZES)
