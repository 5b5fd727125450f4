"""Quiet: the standard output kept clear of what a solver's own code prints there.

HiGHS (as scipy 1.17 has it) writes a line of its own to the C library's standard output now and then,
whatever it is told; between the figures of `--json` that would break the answer.
"""

from __future__ import annotations

import ctypes
import os
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def quiet() -> Iterator[None]:
    """Send what C code prints meanwhile nowhere; where that can't be done, leave it as it is."""
    try:
        flush = ctypes.CDLL(None).fflush
        flush(None)
        kept = os.dup(1)
    except (OSError, TypeError, AttributeError):
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        flush(None)
        os.dup2(kept, 1)
        os.close(nowhere)
        os.close(kept)
