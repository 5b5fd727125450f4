"""fitsolve: what to cut the parts still unmade to, now that the finished ones came out as they did.

    import fitsolve

    build = fitsolve.load("bench")              # a folder with plan.toml and log.csv
    found = fitsolve.reconcile(build)
    found.between("leg.fl.outer", "leg.fl.inner").distance_mm

A build may also be made without any file, from a `Plan` and rows of a log. Lengths that come
out are millimetres, uncertainties are expanded (k = 2).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fitsolve.build.folder import Build
    from fitsolve.build.folder import load_build as load
    from fitsolve.build.logtext import Row
    from fitsolve.build.plan import Plan
    from fitsolve.errors import BuildError
    from fitsolve.reconciliation import Reconciliation, reconcile

__all__ = ["Build", "BuildError", "Plan", "Reconciliation", "Row", "load", "reconcile"]

__version__ = "0.1.0"

_WHERE = {
    "Build": ("fitsolve.build.folder", "Build"),
    "BuildError": ("fitsolve.errors", "BuildError"),
    "Plan": ("fitsolve.build.plan", "Plan"),
    "Reconciliation": ("fitsolve.reconciliation", "Reconciliation"),
    "Row": ("fitsolve.build.logtext", "Row"),
    "load": ("fitsolve.build.folder", "load_build"),
    "reconcile": ("fitsolve.reconciliation", "reconcile"),
}


def __getattr__(name: str) -> Any:
    """Bring a public name in when it is asked for, so that the import alone costs nothing."""
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    import importlib

    module, own = _WHERE[name]
    return getattr(importlib.import_module(module), own)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
