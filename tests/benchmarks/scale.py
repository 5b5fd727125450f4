"""How time and memory grow with the piece: 100 to 100,000 marks, every uncertainty worked out.

    python tests/benchmarks/scale.py [MARKS ...]

Each size runs in a process of its own, so that its peak of memory is its own. Prints the table
that stands in docs/scale.md; the growth exponent is the slope of log(time) over log(marks).
"""

from __future__ import annotations

import math
import os
import resource
import subprocess
import sys
import time

SIZES = (100, 300, 1_000, 3_000, 10_000, 30_000, 100_000)


def once(marks: int) -> None:
    """Reconcile one run of bays and print marks, seconds and the peak of memory in MiB."""
    from bays import bays_for, log_text, plan_text
    from speed import all_found

    from fitsolve import Build, reconcile
    from fitsolve.build.plan import read_plan
    from fitsolve.build.shoplog import parse_log

    bays = bays_for(marks)
    plan, log = plan_text(bays), log_text(bays).encode()
    reconcile(Build(plan=read_plan(plan_text(1)), log=parse_log(log_text(1).encode())))
    begin = time.perf_counter()
    found = reconcile(Build(plan=read_plan(plan), log=parse_log(log)))
    all_found(found)
    seconds = time.perf_counter() - begin
    assert found.proven
    assert all(one.outcome_expanded_mm is not None for one in found.distances)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(len(found.assembly.marks), seconds, peak)


def main(sizes: tuple[int, ...]) -> None:
    """Run every size and print the table."""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    table = []
    print(f"{'marks':>8} {'seconds':>9} {'ms a mark':>10} {'peak MiB':>9}")
    for size in sizes:
        ran = subprocess.run(
            [sys.executable, __file__, "--once", str(size)],
            capture_output=True, text=True, check=True, env=environment,
        )
        marks, seconds, peak = (float(word) for word in ran.stdout.split())
        table.append((marks, seconds))
        print(f"{marks:8,.0f} {seconds:9.3f} {1000 * seconds / marks:10.3f} {peak:9.0f}", flush=True)
    x, y = [math.log(m) for m, _ in table], [math.log(s) for _, s in table]
    mx, my = sum(x) / len(x), sum(y) / len(y)
    slope = sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sum((a - mx) ** 2 for a in x)
    print(f"growth exponent, all sizes: {slope:.2f}")
    if len(table) > 2:
        (m1, s1), (m2, s2) = table[-3], table[-1]
        print(f"growth exponent, {m1:,.0f} to {m2:,.0f} marks: {math.log(s2 / s1) / math.log(m2 / m1):.2f}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--once"]:
        once(int(sys.argv[2]))
    else:
        main(tuple(int(word) for word in sys.argv[1:]) or SIZES)
