"""Lines in words: the whole steps that each mark is laid out at, and what to do where no line will do.

    a line        `6 3/16`, a multiple of the mark's finest: nothing finer than can be cut
    exact         how far the size wanted is off that line, `exact - 0.016`, where a joint meets at
                  the mark, or where it is not the nearest line
    the chain     the difference of two lines; from a made mark the real distance; none from a mark
                  that has no line
    no line       which joint no multiple keeps, the next finer step that would do where it can be laid out at
                  all, and what a maker does instead (knifing)
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from fitsolve.build.history import MarkState
from fitsolve.graph import Source
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.knifing import instead, knifed_off, knifing
from fitsolve.report.measures import Measures, off_plan
from fitsolve.report.naming import inside, words_of

if TYPE_CHECKING:
    from fitsolve.findings.lines import Line

NEAR_MM = 1e-6
NO_SPREAD_MM = 1e-6
OTHER_WAY = " the other way"
AS_PLANNED = "as planned"
_NAMED_MOST = 2
FINEST_SAID_MM = {"in": 25.4 / 128, "mm": 0.1}
"""No line finer than this is offered: a knife line is about that wide (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Laid:
    """A mark still to be cut, as it is laid out: `line_mm` from its reference, None where no multiple
    will do; `exact_mm` where the size wanted is; `plan_mm` likewise, negative on the other side.
    `fitted` where an open joint meets at it."""

    line_mm: float | None
    exact_mm: float
    plan_mm: float
    fitted: bool

    @property
    def way(self) -> int:
        """Which way it is counted from the reference."""
        return -1 if self.plan_mm < 0 else 1

    def rest_mm(self) -> float:
        """How much more the size wanted is than the line, counted the way of the plan."""
        return 0.0 if self.line_mm is None else self.way * (self.exact_mm - self.line_mm)

    def figure(self, own: Measures) -> str:
        """The line; empty where there is none."""
        if self.line_mm is None:
            return ""
        text = sided(Fraction(self.line_mm), self.plan_mm, own.size)
        return text + OTHER_WAY if self.plan_mm < 0 else text

    def off(self, own: Measures) -> str:
        """What the line is off that of the plan; of the exact size where there is no line."""
        if self.line_mm is None:
            return own.off_plan(self.way * (self.exact_mm - self.plan_mm))
        if abs(self.line_mm - float(own.laid_out(self.plan_mm))) < NEAR_MM:
            return AS_PLANNED  # a plan between two lines
        return off_plan(self.way * (self.line_mm - self.plan_mm), own.unit)

    def as_planned(self, own: Measures) -> bool:
        """Whether the line is that of the plan, and nothing of note is left out where a joint meets."""
        if self.line_mm is None or (self.fitted and own.bare(self.rest_mm()).strip("-0.")):
            return False
        return abs(self.line_mm - float(own.laid_out(self.plan_mm))) < NEAR_MM

    def exact(self, own: Measures) -> str:
        """`exact - 0.016`; empty where the line is the nearest and no joint asks, or where it is exact."""
        if self.line_mm is None:
            return f"exact {sided(Fraction(self.exact_mm), self.plan_mm, own.full)}"
        rest = self.rest_mm()
        nearest = abs(float(own.laid_out(self.exact_mm)) - self.line_mm) < NEAR_MM
        text = own.bare(abs(rest))
        if (nearest and not self.fitted) or not text.strip("0."):
            return ""
        return f"exact {'+' if rest > 0 else '-'} {text}"


def beside_text(laid: Laid, own: Measures, expanded_mm: float | None) -> str:
    """What a line leaves out and ± U of the advice: `exact - 0.016, ± 0.002`."""
    spread = own.u(expanded_mm) if expanded_mm is not None and expanded_mm > NO_SPREAD_MM else ""
    return ", ".join(piece for piece in (laid.exact(own), spread) if piece)


def laid_of(found: Reconciliation, mark: int, exact_mm: float, plan_mm: float, fitted: bool) -> Laid:
    """How a mark still to be cut is laid out."""
    return Laid(line_mm(found, mark), exact_mm, plan_mm, fitted)


def line_mm(found: Reconciliation, mark: int) -> float | None:
    """Where a mark is laid out, mm from where its figures start; None where it has no line. Where none keeps joints
    of which neither side is made, it is the nearest: the side cut later is fitted to this one."""
    line = found.laid_out.lines.get(mark)
    if line is None or line.line_mm is not None or not _ahead(found, line):
        return None if line is None else line.line_mm
    return float(Measures.of(found.assembly).stepped(line.step_mm).laid_out(line.figure_mm))


def _ahead(found: Reconciliation, line: Line) -> bool:
    """Whether a mark has no line for the sake of joints alone whose other sides are still to be cut."""
    assembly, states = found.assembly, found.state.marks
    own = assembly.marks[line.mark].part
    for source in line.because:
        if source.kind not in ("contact", "gap"):
            return False
        others = [mark for mark in assembly.contacts[source.number].marks if assembly.marks[mark].part != own]
        if not any(states[mark] != MarkState.MADE for mark in others):
            return False
    return bool(line.because)


def ahead_text(found: Reconciliation, marks: Sequence[int]) -> str:
    """What is to be said of marks of one axis that are cut before what they meet; empty where there are none."""
    lines = [found.laid_out.lines[mark] for mark in marks if mark in found.laid_out.lines]
    lines = [line for line in lines if line.line_mm is None and _ahead(found, line)]
    if not lines:
        return ""
    names = words_of([inside(found.assembly.marks[line.mark]) for line in lines])
    joints = list(dict.fromkeys(name for line in lines for name in because_names(found, line)))
    step = step_text(Measures.of(found.assembly), lines[0].step_mm)
    more = f" and {len(joints) - _NAMED_MOST} more" if len(joints) > _NAMED_MOST else ""
    told = f"{', '.join(joints[:_NAMED_MOST])}{more}" if more else words_of(joints)
    return f"{names}: no {step} keeps {told} yet; read the side cut first, and cut the other to it"


def no_room_text(found: Reconciliation, marks: Sequence[int]) -> str:
    """What is to be said of marks of one axis whose lines leave a joint no room; empty where there are none."""
    names = [inside(found.assembly.marks[mark]) for mark in marks if mark in found.laid_out.without_room]
    lines = "this line" if len(names) == 1 else "these lines"
    return f"no room to miss at {lines}: {words_of(names)}; aim at exact" if names else ""


def stopped_text(found: Reconciliation) -> str:
    """What is said where the search for the nearest lines was stopped: how much nearer others could be."""
    nearer = found.laid_out.nearer_mm
    if nearer == float("inf"):
        return "The search for lines was stopped: those given keep every joint, but fewer may have to be knifed."
    by = Measures.of(found.assembly).clearance(nearer)
    said = "The search for lines was stopped: those given keep every joint"
    return f"{said}, and none are nearer by more than {by} in all."


def sided(mm: Fraction, plan_mm: float, write: Callable[[Fraction], str]) -> str:
    """Return a length counted the way of its plan: with a minus where it lies on the other side."""
    length = -mm if plan_mm < 0 else mm
    text = write(abs(length))
    if length >= 0 or not text.strip("0./ "):
        return text
    return f"-({text})" if " + " in text or " - " in text else f"-{text}"


# -- where no line will do ------------------------------------------------------------------------


def in_place_of_line(found: Reconciliation, mark: int) -> str:
    """What stands where a mark has no line: what to do, and how far it is then from a line that is there."""
    from_mark, mm = knifed_from(found, mark)
    line, marks = found.laid_out.lines[mark], found.assembly.marks
    planned = line.way * (marks[mark].plan_mm - marks[from_mark].plan_mm)
    own = Measures.of(found.assembly).stepped(line.step_mm)
    at = sided(Fraction(mm), planned, own.full)
    plan = own.exact(abs(planned))
    return f"{no_line_text(found, mark, marks[mark].part)}. Exact: {at} from {inside(marks[from_mark])}, plan {plan}"


def knifed_from(found: Reconciliation, mark: int) -> tuple[int, float]:
    """From which mark the place of one without a line is known, and how far, mm the way figures run: from the
    other wall of its housing where that has a line, for the width has to fit; else from where figures start."""
    line, x = found.laid_out.lines[mark], found.solved.positions_mm
    mates = [mate for mate in _mates(found, mark) if _has_line(found, mate, line.reference)]
    start = mates[0] if mates else line.reference
    return start, line.way * float(x[mark] - x[start])


def knifed_mm(found: Reconciliation, mark: int) -> float:
    """About where a mark without a line comes, mm from where its figures start."""
    line = found.laid_out.lines[mark]
    start, mm = knifed_from(found, mark)
    at = line_mm(found, start) if start != line.reference else 0.0
    assert at is not None, "one with a line is taken"
    return at + mm


def _has_line(found: Reconciliation, mark: int, reference: int) -> bool:
    return mark == reference or line_mm(found, mark) is not None


def _mates(found: Reconciliation, mark: int) -> list[int]:
    """The other walls of the open housings that a mark of a part is a wall of."""
    assembly = found.assembly
    mates = []
    for contact in (assembly.contacts[number] for number in assembly.contacts_of[assembly.marks[mark].part]):
        if contact.kind == "housing" and mark in contact.marks and contact.joint not in found.state.closed:
            mates.append(contact.marks[contact.marks.index(mark) ^ 1])
    return mates


def no_line_text(found: Reconciliation, mark: int, of: str = "") -> str:
    """`no 1/32 keeps dado leg.fl apron.front: knife it off leg.fl and a 0.010 shim; 1/64 would`. What stands under the
    name of a part, `of`, needs no part of that name in its joints."""
    line, measures = found.laid_out.lines[mark], Measures.of(found.assembly)
    finer = found.laid_out.finer_mm(mark)
    cuttable = finer is not None and finer > FINEST_SAID_MM[measures.unit] - NEAR_MM
    would = f"; {step_text(measures, finer)} would" if finer is not None and cuttable else ""
    kept = because_text(found, line, of)
    return f"no {step_text(measures, line.step_mm)} keeps {kept}: {instead(found, mark)}{would}"


def step_text(measures: Measures, mm: float) -> str:
    """A finest step as it is said: `1/128`, `0.2`."""
    whole = 25.4 / mm
    if measures.unit == "in" and whole > 1.0 and abs(whole - round(whole)) < 1e-6 * whole:
        return f"1/{round(whole)}"
    return measures.exact(mm)


def because_text(found: Reconciliation, line: Line, of: str = "") -> str:
    """What no multiple keeps, by name: `dado leg.fl apron.front`; of the part `of` `dado leg.fl`."""
    names = [" ".join(word for word in name.split(" ") if word != of) for name in because_names(found, line)]
    more = f" and {len(names) - _NAMED_MOST} more" if len(names) > _NAMED_MOST else ""
    return (words_of(names) if not more else ", ".join(names[:_NAMED_MOST]) + more) or "what is asked of it"


def because_names(found: Reconciliation, line: Line) -> list[str]:
    """What no multiple keeps, each once."""
    return list(dict.fromkeys(_named(found, source) for source in line.because))


def no_line_json(found: Reconciliation, line: Line) -> dict[str, object]:
    """A mark without a line for other programs: what no multiple of its finest keeps, the next finer that
    would do, and the parts that it can be knifed off."""
    joints = [_joint_of(found, source) for source in line.because]
    named = set(filter(None, joints))
    return {
        "mark": found.assembly.marks[line.mark].name,
        "finest_mm": line.step_mm,
        "finer_mm": found.laid_out.finer_mm(line.mark),
        "joints": list(dict.fromkeys(filter(None, joints))),
        "others": [name for name in because_names(found, line) if name not in named],
        "knife_off": knifed_off(found, line.mark),
        "shim_mm": knifing(found, line.mark).shim_mm,
    }


def _joint_of(found: Reconciliation, source: Source) -> str:
    """The joint that a row is about; empty where it is about none."""
    assembly = found.assembly
    about = source.kind in ("contact", "gap")
    return assembly.joints[assembly.contacts[source.number].joint].name if about else ""


def _named(found: Reconciliation, source: Source) -> str:
    """What a row that no line keeps is called."""
    assembly = found.assembly
    if joint := _joint_of(found, source):
        return joint
    if source.kind == "distance":
        one = assembly.distances[source.number]
        span = f"{inside(assembly.marks[one.start])}..{inside(assembly.marks[one.end])}"
        return f"{span}, which holds" if one.hold else f"the limits of {span}"
    if source.kind == "keep":
        return assembly.keeps[source.number].name
    if source.kind == "rough":
        return "what is there of rough wood"
    return "its slope" if source.kind == "slope" else "what is asked of it"
