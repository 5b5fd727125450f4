"""Frame words: what checks of the whole frame are about, and what their values say.

Not here: how they are laid out on a screen (terminal), what a check stands on (groundwords).
"""

from __future__ import annotations

from fitsolve.build.assembly import Assembly, Rule
from fitsolve.report.naming import words_of


def frame_text(assembly: Assembly, rule: Rule) -> str:
    """A check of the frame as the plan has it: `wind of leg.fl.head, leg.fr.head, ...`."""
    frame = rule.frame
    assert frame is not None, "asked for only of a check of the frame"
    names = words_of([assembly.marks[mark].name for mark in frame.marks])
    over = words_of([assembly.marks[mark].name for mark in frame.base])
    return f"{rule.kind} of {names}" + (f", over {over}" if over else "")
