"""Mark state: whether a mark exists, and can still come down. State belongs to the mark, not to its part."""

from __future__ import annotations

from enum import IntEnum

__all__ = ["MarkState"]


class MarkState(IntEnum):
    """Whether a mark exists: not yet; it does and can still come down; it is as it will be."""

    UNCUT = 0
    ROUGH = 1
    MADE = 2
