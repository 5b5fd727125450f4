"""How fast the commands answer, as ratios measured in one run; and how long a maker waits between two readings.

    python tests/benchmarks/commands.py [TIMES]

1. Each command as a whole process, on a copy of the wedging table, against a bare Python process
   that imports the same third-party modules: processor time, user and system, which is moved less by
   whatever else is running. The least of TIMES interleaved runs each (default 9).
2. From Enter behind a reading to the next prompt, in a pseudo-terminal: the median and the worst,
   with the log of the example and with 2,000 rows more.

Nothing else should be running.
"""

from __future__ import annotations

import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

os.environ["OPENBLAS_NUM_THREADS"] = "1"

TABLE = Path(__file__).parents[2] / "examples" / "wedging-table"
READ = ("read", "leg.fl", "outer", "inner", "4", "--tool", "caliper")
COMMANDS = (
    (), ("plan",), ("wanted",), READ, ("made", "top"), ("made", "apron.front", "l.dado", "6-5/32"),
    ("trim", "leg.fl", "outer"), ("remake", "top"), ("close", "dado", "front", "fl", "--dry"), ("apart",), ("undo",),
    ("strike", "3"), ("log",), ("sizes",), ("layout", "apron.front"), ("between", "leg.fl", "outer..inner"),
)  # fmt: skip
NAMES = """
import sys
sys.argv = ["fitsolve", *{words!r}]
from fitsolve.cli.main import cli
try:
    cli(prog_name="fitsolve")
except SystemExit:
    pass
own = set(sys.stdlib_module_names) | {{"fitsolve", "__main__", "_virtualenv", "_distutils_hack"}}
print("\\n@@" + " ".join(m for m in sys.modules if m.split(".")[0] not in own and not m.startswith("__editable__")))
"""


def bench() -> Path:
    """A copy of the wedging table that may be written to."""
    at = Path(tempfile.mkdtemp()) / "table"
    shutil.copytree(TABLE, at)
    return at


def spent() -> float:
    """The processor time of all child processes so far, in seconds."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def process(code: list[str], at: Path) -> float:
    begin = spent()
    subprocess.run([sys.executable, *code], cwd=at, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                   stderr=subprocess.DEVNULL, check=False)  # fmt: skip
    return spent() - begin


def ratio(words: tuple[str, ...], times: int) -> None:
    """One line: a command against its bare imports."""
    listed = subprocess.run([sys.executable, "-c", NAMES.format(words=list(words))], cwd=bench(),
                            stdin=subprocess.DEVNULL, capture_output=True, text=True, check=True)  # fmt: skip
    modules = listed.stdout.rsplit("@@", 1)[1].split()
    loop = f"for m in {modules!r}:\n    try: importlib.import_module(m)\n    except ImportError: pass"
    bare, ours = [], []
    process(["-m", "fitsolve", *words], bench())
    for _ in range(times):
        bare.append(process(["-c", f"import importlib\n{loop}"], TABLE))
        ours.append(process(["-m", "fitsolve", *words], bench()))
    name = " ".join(words[:1]) or "(bare)"
    print(f"{name:10} {1000 * min(ours):6.0f} ms   imports {1000 * min(bare):6.0f} ms   ratio {min(ours) / min(bare):.2f}")


def waits(more_rows: int) -> None:
    """How long it takes from a reading to the next prompt."""
    from at_the_bench import Terminal

    at = bench()
    with (at / "log.csv").open("a") as log:
        for no in range(56, 56 + more_rows):
            log.write(f"{no},2025-11-25T14:10:00+00:00,reading,leg.fl.outer,leg.fl.inner,4,caliper,\n")
        log.write(f"{56 + more_rows},2025-11-25T14:10:00+00:00,made,apron.front,,,,\n")
        log.write(f"{57 + more_rows},2025-11-25T14:10:00+00:00,made,apron.rear,,,,\n")
    terminal = Terminal("read", "--tool", "caliper", at=at)
    terminal.until("[caliper]: ")
    times = []
    for _ in range(8):
        time.sleep(0.9)  # the same number at once would be taken for one sent twice
        asked = terminal.text.rsplit("\n", 1)[-1].split("plan ")
        if len(asked) < 2:
            break
        begin = time.perf_counter()
        terminal.type(asked[1].split("  [")[0] + "\n")
        try:
            terminal.until("[caliper]: ")
        except AssertionError:
            break
        times.append(time.perf_counter() - begin)
    terminal.kill()
    print(f"{55 + more_rows} rows: next prompt after {1000 * statistics.median(times):.0f} ms (median of "
          f"{len(times)}), {1000 * max(times):.0f} ms at worst, storing the row on disk among it")  # fmt: skip


if __name__ == "__main__":
    for words in COMMANDS:
        ratio(words, int(sys.argv[1]) if len(sys.argv) > 1 else 9)
    for more in (0, 2000):
        waits(more)
