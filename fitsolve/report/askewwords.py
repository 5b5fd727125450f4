"""What lies askew, in words: which part could take up a misfit by standing out of square, and what it costs."""

from __future__ import annotations

from fitsolve.build.assembly import Contact
from fitsolve.findings.askew import Askew, taken_up
from fitsolve.findings.values import ContradictionFinding, Suspicion
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures
from fitsolve.report.naming import words_of

_WIDTH = {"in": (1.0, "each inch"), "mm": (100.0, "every 100 mm")}


def askew_of(found: Reconciliation, one: ContradictionFinding) -> Askew | None:
    """Which parts could take up what made wood is at odds by; None where none could, or where more than joints is
    in it."""
    if not one.facts or any(demand.kind not in ("contact", "gap") for demand in one.demands):
        return None
    return taken_up(found.assembly, [demand.number for demand in one.demands], one.excess_mm or 0.0)


def askew_text(found: Reconciliation, askew: Askew) -> str:
    """`shelf.2 askew by 0.80 mm over 774 mm takes it up: its faces then stand off by 0.10 mm for every 100 mm of
    their width`."""
    measures = Measures.of(found.assembly)
    amount, apart = measures.clearance(askew.off_mm), measures.size(askew.apart_mm)
    width, each = _WIDTH[measures.unit]
    off = askew.slope * width * measures.unit_mm
    stands = "hardly stand off at all" if not measures.bare(off).strip("0.") else (
        f"stand off by {measures.clearance(off)} for {each} of their width"
    )  # fmt: skip
    return f"{_or(askew.parts)} askew by {amount} over {apart} takes it up: its faces then {stands}"


def _or(parts: tuple[str, ...]) -> str:
    return words_of(parts).replace(" and ", " or ") if len(parts) < 4 else f"{parts[0]} or another of its like"


def doubted_askew(found: Reconciliation, one: Suspicion) -> Askew | None:
    """Which parts could take up a misfit of readings where closed joints at both their ends may be behind it."""
    contacts = [who for who in (one.worst, *one.equals, *one.because) if who.kind == "contact"]
    if not contacts:
        return None
    assembly = found.assembly
    off_mm = min(abs(who.error_mm) / _rows_worth(assembly.contacts[who.number]) for who in contacts)
    return taken_up(assembly, [who.number for who in contacts], off_mm)


def _rows_worth(contact: Contact) -> float:
    """What the row of a closed contact is off where its piece is off by 1: a housing's gaps differ by twice as much."""
    return 2.0 if contact.kind == "housing" and not contact.rests else 1.0
