"""How fast the main job is on the wedging table, as ratios measured in one run.

    python tests/benchmarks/speed.py

1. `sizes` as a whole process against a bare Python process that imports the same third-party
   packages.
2. The numbers in process (rows to findings) against the same programme, of the same size, in a
   general-purpose convex modelling package (cvxpy) with its default solver: the allocation
   alone, without uncertainties and seats, stated row by row as one would write it down, and
   stated in matrices, which is the least work for it.
Best of several interleaved runs each; nothing else should be running.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

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
from fitsolve.cli.main import cli
try:
    cli(prog_name="fitsolve")
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
    numbers = best(lambda: all_found(findings_of(assembly, state)), 50)
    everything = best(lambda: all_found(reconcile(build)), 30)
    print(f"numbers in process {1000 * numbers:7.1f} ms    reconcile {1000 * everything:7.1f} ms")
    programme = best(ours_alone(assembly, state), 20)
    print(f"  of that, the allocation alone {1000 * programme:7.1f} ms")
    for how, stated in (("row by row", by_rows), ("in matrices", in_matrices)):
        modelled = best(modelled_allocation(assembly, state, stated), 5)
        print(
            f"allocation in cvxpy, stated {how:<11} {1000 * modelled:7.1f} ms    "
            f"{modelled / numbers:5.1f} times all numbers, {modelled / programme:5.1f} times our allocation"
        )


def all_found(found: Any) -> None:
    """Ask for all findings: each is worked out when it is first asked for."""
    for name in ("distances", "joints", "seats", "checks", "pegs", "doubts", "suspicions", "agreement", "tools"):
        getattr(found, name)
    assert isinstance(found.contradictions + found.assumed + found.problems, tuple)
    assert isinstance(found.following + found.bent + found.odd_cuts, tuple)
    assert found.proven


def ours_alone(assembly: object, state: object) -> Callable[[], object]:
    """The allocation of the three axes, by us, given the estimate."""
    from fitsolve.graph import make_graph
    from fitsolve.solve.allocate import allocate
    from fitsolve.solve.parts import split, taken_out
    from fitsolve.solve.staged import Staged
    from fitsolve.solve.wanted import Wanted

    network = make_graph(assembly, state).network  # type: ignore[arg-type]
    asked = []
    for own in taken_out(network, split(network)):
        bounds = own.bounds
        limits = (bounds.rows, bounds.low, bounds.high, bounds.hard, bounds.relaxable)
        estimate = Staged.start(len(own)).add(own.measured).add(own.planned)
        asked.append((estimate, Wanted(own.wishes, own.late, own.holds, *limits)))
    return lambda: [allocate(*one) for one in asked]


def modelled_allocation(
    assembly: object, state: object, stated: Callable[..., object]
) -> Callable[[], object]:
    """The three axes' allocation, stated and solved in cvxpy with its default solver."""
    import numpy as np

    from fitsolve.graph import make_graph

    network = make_graph(assembly, state).network  # type: ignore[arg-type]
    n = len(network)
    bounds = network.bounds

    facts = [network.measured, network.planned]
    held = np.vstack([rows.dense(n) for rows in facts])
    scale = np.concatenate([rows.scale for rows in facts])
    value = np.concatenate([rows.value for rows in facts])
    at = np.linalg.lstsq(held / scale[:, None], value / scale, rcond=None)[0]
    return lambda: stated(network, bounds, held, held @ at)


def in_matrices(network: Any, bounds: Any, held: Any, at: Any) -> object:
    import cvxpy
    import numpy as np

    n = len(network)
    x = cvxpy.Variable(n)
    wishes = network.wishes.dense(n) / network.wishes.scale[:, None]
    rows = bounds.rows.dense(n)
    low, high = np.isfinite(bounds.low), np.isfinite(bounds.high)
    limits = [rows[low] @ x >= bounds.low[low], rows[high] @ x <= bounds.high[high]]
    kept = [held @ x == at, network.holds.dense(n) @ x == network.holds.value]
    aim = cvxpy.Minimize(cvxpy.sum_squares(wishes @ x - network.wishes.value / network.wishes.scale))
    return cvxpy.Problem(aim, [*kept, *limits]).solve()


def by_rows(network: Any, bounds: Any, held: Any, at: Any) -> object:
    import cvxpy

    x = cvxpy.Variable(len(network))

    def of(rows: Any) -> list[Any]:
        return [sum(coef * x[mark] for mark, coef in terms) for terms in rows.terms()]

    wishes, wanted = of(network.wishes), zip(network.wishes.value, network.wishes.scale, strict=True)
    aim = sum(cvxpy.square((wish - value) / scale) for wish, (value, scale) in zip(wishes, wanted, strict=True))
    kept = [row @ x == value for row, value in zip(held, at, strict=True)]
    kept += [hold == value for hold, value in zip(of(network.holds), network.holds.value, strict=True)]
    for row, low, high in zip(of(bounds.rows), bounds.low, bounds.high, strict=True):
        kept += [row >= low] if low > -float("inf") else []
        kept += [row <= high] if high < float("inf") else []
    return cvxpy.Problem(cvxpy.Minimize(aim), kept).solve()


if __name__ == "__main__":
    whole_process()
    in_process()
