"""The examples in docstrings run."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pytest

HOUSE = Path(__file__).parents[1]
SHOWING = sorted(
    ".".join(path.relative_to(HOUSE).with_suffix("").parts)
    for path in (HOUSE / "fitsolve").rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", SHOWING)
def test_what_is_shown_is_what_comes_back(name):
    result = doctest.testmod(import_module(name))
    assert result.attempted > 0
    assert result.failed == 0
