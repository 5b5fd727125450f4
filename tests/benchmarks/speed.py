"""How fast the main job is on the wedging table, as ratios measured in one run.

    python tests/benchmarks/speed.py

1. `sizes` as a whole process against a bare Python process that imports the same third-party
   packages.
2. The numbers in process (rows to findings) against the same programme, of the same size, in a
   general-purpose convex modelling package (cvxpy) with its default solver: the allocation
   alone, without estimate, uncertainties and seats.
Best of several interleaved runs each; nothing else should be running.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

os.environ["OPENBLAS_NUM_THREADS"] = "1"

TABLE = Path(__file__).parents[2] / "examples" / "wedging-table"
SIZES = f"""
import sys, os
os.environ["OPENBLAS_NUM_THREADS"] = "1"
sys.argv = ["fitsolve", "--build", {str(TABLE)!r}, "sizes"]
"""


def third_party() -> list[str]:
    """The third-party modules that `sizes` has imported when it is done."""
    code = SIZES + """
from fitsolve.cli.main import main
try:
    main()
except SystemExit:
    pass
own = set(sys.stdlib_module_names) | {"fitsolve", "__main__", "_virtualenv", "_distutils_hack"}
print("\\n@@" + " ".join(m for m in sys.modules if m.split(".")[0] not in own and not m.startswith("__editable__")))
"""
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return ran.stdout.rsplit("@@", 1)[1].split()


def process(code: list[str]) -> float:
    begin = time.perf_counter()
    subprocess.run([sys.executable, *code], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
    return time.perf_counter() - begin


def best(run: Callable[[], object], times: int) -> float:
    """The least time of so many runs, in seconds."""
    found = float("inf")
    for _ in range(times):
        begin = time.perf_counter()
        run()
        found = min(found, time.perf_counter() - begin)
    return found


def whole_process() -> None:
    modules = third_party()
    loop = f"for m in {modules!r}:\n    try: importlib.import_module(m)\n    except ImportError: pass"
    bare = ["-c", f"import importlib\n{loop}"]
    ours = ["-m", "fitsolve", "--build", str(TABLE), "sizes"]
    times = [(process(bare), process(ours)) for _ in range(15)]
    least_bare, least_ours = min(t[0] for t in times), min(t[1] for t in times)
    print(f"bare imports {1000 * least_bare:7.1f} ms    sizes {1000 * least_ours:7.1f} ms    ratio {least_ours / least_bare:.2f}")


def in_process() -> None:
    from fitsolve.build.folder import load_build
    from fitsolve.build.place import assemble
    from fitsolve.build.state import settle
    from fitsolve.reconciliation import findings_of, reconcile

    build = load_build(TABLE)
    assembly, state = settle(assemble(build.plan), build.log, build.plan.tools())
    numbers = best(lambda: findings_of(assembly, state), 50)
    everything = best(lambda: reconcile(build), 30)
    modelled = best(modelled_allocation(assembly, state), 5)
    print(f"numbers in process {1000 * numbers:7.1f} ms    reconcile {1000 * everything:7.1f} ms")
    print(f"allocation in cvxpy {1000 * modelled:6.1f} ms    that is {modelled / numbers:.1f} times the numbers in process")


def modelled_allocation(assembly: object, state: object) -> Callable[[], object]:
    """The three axes' allocation, stated and solved in cvxpy with its default solver."""
    import cvxpy
    import numpy as np

    from fitsolve.graph import make_graph

    network = make_graph(assembly, state).network  # type: ignore[arg-type]
    n = len(network)
    bounds = network.bounds

    def solve() -> object:
        x = cvxpy.Variable(n)
        facts = [(network.measured.dense(n), network.measured), (network.planned.dense(n), network.planned)]
        held = np.vstack([matrix for matrix, _ in facts])
        at = np.linalg.lstsq(
            np.vstack([m / rows.scale[:, None] for m, rows in facts]),
            np.concatenate([rows.value / rows.scale for _, rows in facts]), rcond=None,
        )[0]
        wishes = network.wishes.dense(n) / network.wishes.scale[:, None]
        rows = bounds.rows.dense(n)
        finite_low, finite_high = np.isfinite(bounds.low), np.isfinite(bounds.high)
        limits = [rows[finite_low] @ x >= bounds.low[finite_low], rows[finite_high] @ x <= bounds.high[finite_high]]
        held_rows = [held @ x == held @ at, network.holds.dense(n) @ x == network.holds.value]
        aim = cvxpy.Minimize(cvxpy.sum_squares(wishes @ x - network.wishes.value / network.wishes.scale))
        return cvxpy.Problem(aim, [*held_rows, *limits]).solve()

    return solve


if __name__ == "__main__":
    whole_process()
    in_process()
