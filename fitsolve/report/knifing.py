"""Knifing, in words: what a mark that has no line is knifed off, and what gives it the play of its fit.

Knifed off a leg and nothing else, a dado is as wide as that leg: it has no play at all. So a shim as thick as the
clearance that is wanted goes in with it:

    knife it off leg.fl and a 0.010 shim       a socket, or a shoulder that is to stand clear: leg and shim beside
                                               each other, knifed along both
    knife it off rail less a 0.010 shim        a tongue: the shim lies in the socket, and what is left is copied
    knife it off leg.fl, 0.004 tighter         where the fit is to be pressed in

Of several parts that are met there the one with the least clearance rules: what goes on that one goes on the others.

Not here: which marks have no line (findings.lines), how one is said to be knifed (cli.knifed).
"""

from __future__ import annotations

from fitsolve.build.assembly import Contact
from fitsolve.build.history import MarkState
from fitsolve.graph import clearance_terms, merged
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures
from fitsolve.report.naming import inside, words_of

ALIKE_MM = 0.01
"""Parts that leave clearances no further apart than this are knifed off alike."""


@dataclass(frozen=True, slots=True)
class Knifing:
    """A mark that is knifed off `parts`, `shim_mm` wider, or narrower where it is a wall of a `tongue`. None where
    nothing fixes how wide; a shoulder that bears has none."""

    parts: tuple[str, ...]
    shim_mm: float | None
    tongue: bool
    housed: bool

    def text(self, measures: Measures) -> str:
        """What a maker does: `knife it off leg.fl and a 0.010 shim`."""
        if not self.parts:
            return "fit it by trial"
        off = f"knife it off {words_of(self.parts)}"
        shim = self.shim(measures)
        if not shim:
            return off
        if shim.startswith("-"):  # pressed in: no shim is thinner than none
            return f"{off}, {shim[1:]} tighter"
        return f"{off} {'less' if self.tongue else 'and'} a {shim} shim"

    def shim(self, measures: Measures) -> str:
        """How thick the shim is, as it is said; empty for none."""
        text = "" if self.shim_mm is None else measures.bare(self.shim_mm)
        return text if text.strip("-0.") else ""


def knifing(found: Reconciliation, mark: int) -> Knifing:
    """Return what a mark without a line is knifed off."""
    met = [(_wanted_mm(found, contact), contact) for contact in _met(found, mark)]
    if not met:
        return Knifing((), None, False, False)
    known = [wanted for wanted, _ in met if wanted is not None]
    least = min(known, default=None)
    near = [one for wanted, one in met if least is None or (wanted is not None and wanted <= least + ALIKE_MM)]
    first = near[0]
    parts = tuple(dict.fromkeys(_other_part(found, mark, one) for one in near))
    housed = first.kind == "housing"
    shim = least if housed or first.least_mm > 0 else None
    return Knifing(parts, shim, housed and mark in first.marks[:2], housed)


def knifed_off(found: Reconciliation, mark: int) -> list[str]:
    """The parts that a mark can be knifed off: those it meets in open joints there that are made."""
    return list(dict.fromkeys(_other_part(found, mark, one) for one in _met(found, mark)))


def instead(found: Reconciliation, mark: int) -> str:
    """What a maker does with a mark that has no line: `knife it off leg.fl and a 0.010 shim`."""
    return knifing(found, mark).text(Measures.of(found.assembly))


def once_knifed(found: Reconciliation, mark: int) -> str:
    """What to type when a wall has been knifed off: `fitsolve made apron.front l.dado-i 0.010 --from leg.fl`; empty
    where a single line was, for a width is copied by two."""
    how = knifing(found, mark)
    if not how.parts or not how.housed or (how.shim_mm is not None and how.shim_mm < 0):
        return ""
    one = found.assembly.marks[mark]
    shim = how.shim(Measures.of(found.assembly))
    return " ".join(filter(None, ("fitsolve made", one.part, inside(one), shim, "--from", how.parts[0])))


def _met(found: Reconciliation, mark: int) -> list[Contact]:
    """The open contacts at a mark whose other side is made; rooms are none."""
    assembly, states = found.assembly, found.state.marks
    own = assembly.marks[mark].part
    met = []
    for contact in (assembly.contacts[number] for number in assembly.contacts_of[own]):
        if mark not in contact.marks or contact.joint in found.state.closed or contact.kind == "room":
            continue
        others = [other for other in contact.marks if assembly.marks[other].part != own]
        if all(states[other] == MarkState.MADE for other in others):
            met.append(contact)
    return met


def _other_part(found: Reconciliation, mark: int, contact: Contact) -> str:
    marks = found.assembly.marks
    return next(marks[other].part for other in contact.marks if marks[other].part != marks[mark].part)


def _wanted_mm(found: Reconciliation, contact: Contact) -> float | None:
    """The clearance of a contact with every size as wanted; None where nothing fixes it."""
    terms = merged(clearance_terms(contact))
    piece = found.solved.piece(terms)
    if piece is None or not piece.fixed(found.solved.inside(terms)):
        return None
    return found.solved.value_mm(terms)
