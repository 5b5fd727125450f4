"""Slips in words: what a strange reading looks like, as a question. Brings in no numbers."""

from __future__ import annotations

from fitsolve.findings.slips import Slip, slips
from fitsolve.report.measures import Measures


def slip_guess(reading_mm: float, should_mm: float, measures: Measures, tool: str = "other", text: str = "") -> str:
    """Return the slip of the hand that a reading, written as `text`, looks like, as a question; empty where like
    none."""
    found = slips(reading_mm, should_mm, measures.unit, float(measures.step_mm), tool, text)
    return slip_text(found[0], measures) if found else ""


def tool_kind(tool: str) -> str:
    """What kind of tool a name means, as far as slips have to do with it."""
    return next((kind for kind in ("caliper", "tape") if kind in tool.lower()), "other")


def slip_text(slip: Slip, measures: Measures) -> str:
    """A slip as a question: `Just 1 in: was the tape held at its 1?`."""
    by = abs(slip.by_mm)
    if slip.kind == "held":
        amount = measures.exact(25.4 if measures.unit == "in" else 100.0 if by > 50 else 10.0)
        return f"Just {amount} {measures.unit}: was the tape held at its {amount}?"
    if slip.kind == "whole":
        return "Just 1 in: was a whole inch misread?"
    if slip.kind == "unit":
        return "25.4 times off: was one unit taken for the other?"
    if slip.kind == "ten":
        cm = "read in cm, or " if measures.unit == "mm" and slip.by_mm < 0 else ""
        return f"Ten times off: was it {measures.exact(slip.would_be_mm)}, {cm}its point misplaced?"
    if slip.kind == "digits":
        if slip.whole is None:
            return f"{slip.text} with two digits swapped?"
        read, meant = slip.whole
        return f"{read} for {meant}: were two digits swapped?"
    if slip.kind == "fraction":
        return f"Was it {measures.exact(slip.would_be_mm)}, another row of lines on the rule?"
    if slip.kind == "jaws":
        return "Just 10 mm: the inside jaws of a caliper, read with the scale for the outside?"
    if slip.kind == "hook":
        return "About what the hook of a tape moves: pushed or pulled the wrong way?"
    return "Just a saw kerf: was it counted in?"
