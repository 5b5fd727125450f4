"""The answer of `sizes` on a terminal: doubts first, then what to cut, then how it goes together.

    title  STOP  TOOLS  CONFLICT  SHAPE  CUT NOW  WAIT  JOINTS  PEGS  SEATS  FRAME  UNCHECKED  ASSUMED

A size that a doubtful reading moves never stands there: its part waits.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from fitsolve.findings.values import Assumption
from fitsolve.light import replace
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.conflicts import conflict_blocks
from fitsolve.report.cutting import AxisSizes, PartSizes, part_sizes
from fitsolve.report.doubtwords import (
    agreement_texts,
    stop_texts,
    tool_texts,
    unchecked,
    unchecked_text,
)
from fitsolve.report.linewords import stopped_text
from fitsolve.report.naming import counted, rows_listed, words_of
from fitsolve.report.oddwords import odd_stop_texts
from fitsolve.report.remedies import extent_mm
from fitsolve.report.screen import TAG_WIDTH, Block, Line, Table, show
from fitsolve.report.together import check_rows, headed, joint_blocks, seat_blocks, summed
from fitsolve.report.told import Told
from fitsolve.report.turnedwords import turned_texts
from fitsolve.report.waits import held_up, reading_waits
from fitsolve.report.words import (
    assumed_text,
    check_rests_on,
    coarse_texts,
    footing,
    title_text,
    waiting,
)

ASSUMED_MOST = 3
"""So many sizes that were never read are told; of more only the first, which an open joint is nearest to."""
OFF_MOST = 6
"""Of so many checks that are beyond it is told why."""
HEAVY_MM = 1500.0
HEAVY = "Long parts are heavy: try them dry with help. Strength is not judged here: follow your local codes."


def show_sizes(found: Reconciliation, *, all_assumed: bool = False, only: str = "") -> None:
    """Print the answer of `sizes`, of one part alone where `only` names it."""
    show(sizes_blocks(found, all_assumed=all_assumed, only=only))


def sizes_blocks(found: Reconciliation, *, all_assumed: bool = False, only: str = "") -> list[Block]:
    """The answer of `sizes` as blocks. What is to be settled is said whole, whichever part is asked for."""
    waits = waiting(found)
    parts = part_sizes(found, only, set(), waits)
    blocks = [Block("", (Line(title_text(found), style="bold"),))]
    blocks += _stop(found) + _tools(found)
    blocks += conflict_blocks(found)
    blocks += [Block("CONFLICT", (Line(text, hang=0),), "bold red") for text in turned_texts(found)]
    blocks += _bent(found)
    if not found.proven:
        unproven = "Some sizes keep every limit, but are not proven to be the best there are."
        blocks.append(Block("UNPROVEN", (Line(unproven, hang=0),), "bold yellow"))
    if found.laid_out.nearer_mm > 0.0:
        blocks.append(Block("UNPROVEN", (Line(stopped_text(found), hang=0),), "bold yellow"))
    held = held_up(found)
    unread = reading_waits(found, [one.part for one in parts if one.part not in waits and one.part not in held])
    held |= {part: f"{what}. With {'them' if ' and ' in what else 'it'} as drawn:" for part, what in unread.items()}
    now = [one for one in parts if one.part not in waits and one.part not in held]
    blocks += [Block("CUT NOW", tuple(_part_lines(one)), "bold green") for one in _alike(now) if one.axes]
    if not parts:
        nothing = f"Nothing: {only} is made." if only else "Nothing: everything is made."
        if not found.assembly.parts:
            nothing = "Nothing: the plan has no part yet. A worked one to begin from: fitsolve new FOLDER."
        blocks.append(Block("CUT NOW", (Line(nothing),), "bold green"))
    blocks += [
        Block("WAIT", (*_part_lines(one, held[one.part]),), "bold yellow")
        for one in parts
        if one.part in held and one.part not in waits and one.axes
    ]
    blocks += [
        Block("WAIT", (Line(f"{one.part}: needs {rows_listed(waits[one.part])}"),), "bold yellow")
        for one in parts
        if one.part in waits
    ]
    if only:
        found = found.of_part(only)
    told = Told(found)
    blocks += joint_blocks(found, told) + _pegs(found, told) + seat_blocks(found, told) + _frame(found, told)
    blocks += _unchecked(found, all_assumed) + _assumed(found, all_assumed)
    last = footing(found)
    if now:
        last += " Faces, sides of the waste and what to leave on: fitsolve layout PART."
    return [*blocks, Block("", (Line(last, hang=0, style="dim"),))]


def _bent(found: Reconciliation) -> list[Block]:
    """One block for each reading at a station that does not go with its plain marks."""
    if not found.bent:
        return []
    from fitsolve.report.bentwords import bent_text

    return [Block("SHAPE", (Line(bent_text(found, one), hang=0),), "bold yellow") for one in found.bent]


def _stop(found: Reconciliation) -> list[Block]:
    """One block for each thing not to be believed."""
    blocks = []
    for lead, *more in (*stop_texts(found), *odd_stop_texts(found)):
        lines = [Line(text, TAG_WIDTH, 0) for text in more]
        blocks.append(Block("STOP", (Line(lead, hang=0), *lines), "bold red"))
    return blocks


def _tools(found: Reconciliation) -> list[Block]:
    """What the readings tell of the tools they were taken with."""
    texts = [*tool_texts(found), *agreement_texts(found)]
    return [Block("TOOLS", (Line(text, hang=0),), "bold yellow") for text in texts]


def _unchecked(found: Reconciliation, whole: bool) -> list[Block]:
    """The readings that nothing checks: a slip in one of them would not show."""
    alone = unchecked(found)
    if not alone:
        return []
    told = f"{len(alone)} of {counted(len(found.doubts), 'reading')}: a slip in one of them would not show"
    lines = [Line(unchecked_text(found, doubt), 3) for doubt in (alone if whole else [])]
    more: list[Line | Table] = []
    if not whole:
        off = abs(alone[0].off_plan_mm or 0.0)
        furthest = [unchecked_text(found, alone[0])] if off > found.assembly.workmanship_mm else []
        more += [Line(f"the furthest off plan: {text}", 3) for text in furthest]
        more.append(Line("which: fitsolve sizes --assumed", 3, style="dim"))
    return [Block("UNCHECKED", (Line(told), *lines, *more))]


def _alike(parts: Sequence[PartSizes]) -> list[PartSizes]:
    """The same with those of one drawing that are all to be cut to plan named together."""
    together: dict[object, list[PartSizes]] = {}
    for one in parts:
        key = one.part if one.off_plan or one.note else one.axes
        together.setdefault(key, []).append(one)
    return [replace(own[0], part=words_of([one.part for one in own])) for own in together.values()]


def _part_lines(one: PartSizes, wait: str = "") -> list[Line | Table]:
    """A part with its axes."""
    note = f": {wait}" if wait else f"   {one.note}" if one.note else ""
    lines: list[Line | Table] = [Line(f"{one.part}{note}", hang=0) if wait else Line(f"{one.part}{note}")]
    for axis in one.axes:
        lines += _axis_lines(axis)
    return lines


def _axis_lines(axis: AxisSizes) -> list[Line | Table]:
    lead = f"{axis.axis} from {axis.start}"
    lines: list[Line | Table] = []
    if not axis.rows:
        planned = f"{lead}: {axis.as_planned}, as planned" if axis.as_planned else lead
        if axis.as_planned or not axis.rough:
            lines.append(Line(planned, 1))
    else:
        lines += [Line(lead, 1), Table(axis.rows, 3)]
        if axis.as_planned:
            lines.append(Line(f"{axis.as_planned}, as planned", 3))
    lines += [Line(f"{text}{', as planned' if text in axis.slopes_as_planned else ''}", 3) for text in axis.slopes]
    lines += [Line(text, 3) for text in axis.rough]
    lines += [Line(text, 3, style="dim") for text in (*axis.why, *axis.room)]
    return lines


def _pegs(found: Reconciliation, told: Told) -> list[Block]:
    """Each peg with where its tenon's hole goes and what it comes to."""
    if not found.pegs:
        return []
    from fitsolve.report.pegwords import IN_PLURAL, judged, peg_name, peg_said

    lines: list[Line | Table] = []
    counts = dict.fromkeys(IN_PLURAL, 0)
    for peg in found.pegs:
        counts[judged(peg)] += 1
        lines += headed(peg_name(found, peg), judged(peg), peg_said(found, peg, told))
    words = (f"{number} {IN_PLURAL[word] if number > 1 else word}" for word, number in counts.items() if number)
    return [Block("PEGS", (Line(", ".join(words)), *lines))]


def _frame(found: Reconciliation, told: Told) -> list[Block]:
    counts: dict[str, int] = defaultdict(int)
    for check in found.checks:
        counts[check.verdict] += 1
    rows = check_rows(found, told)
    lines: list[Line | Table] = [Line(summed(counts)), Table(rows, 3)] if rows else []
    lines += _off(found)
    if _heavy(found):
        lines.append(Line(HEAVY, 3 if rows else 0, 0, style="dim"))
    return [Block("FRAME", tuple(lines))] if lines else []


def _off(found: Reconciliation) -> list[Line | Table]:
    """Of each check that is beyond what was chosen: which way, where it comes from, what would bring it in."""
    beyond = [one for one in found.checks if one.verdict == "beyond" and not check_rests_on(found, one)]
    if not beyond:
        return []
    from fitsolve.report.wherewords import LIFT, check_texts, shims

    told = {check.number: check_texts(found, check.number) for check in beyond[:OFF_MOST]}
    lines: list[Line | Table] = [
        Line(f"{check.name}: {'; '.join(told[check.number])}.", 3) for check in beyond[:OFF_MOST] if told[check.number]
    ]
    if len(beyond) > OFF_MOST:
        lines.append(Line(f"{len(beyond) - OFF_MOST} more are beyond: fitsolve grounds CHECK tells why", 3))
    if any(shims(found, check.number) for check in beyond[:OFF_MOST]):
        lines.append(Line(LIFT, 3, 0, style="dim"))
    return lines


def _heavy(found: Reconciliation) -> bool:
    """Whether a long part has still to be put on."""
    return any(extent_mm(found.assembly, seat.part) >= HEAVY_MM for seat in found.seats)


def _nearest_joint_first(found: Reconciliation) -> list[Assumption]:
    """What is assumed: first where an open joint meets."""
    index = found.assembly.index
    meets = {
        mark for contact in found.assembly.contacts if contact.joint not in found.state.closed for mark in contact.marks
    }
    return sorted(found.assumed, key=lambda one: not {index[one.start], index[one.end]} & meets)


def _assumed(found: Reconciliation, whole: bool) -> list[Block]:
    told = _nearest_joint_first(found)
    shown = told if whole or len(told) <= ASSUMED_MOST else told[:1]
    lines: list[Line | Table] = []
    if told:
        lines.append(Line(f"{counted(len(told), 'size')} of made wood never read, known only as well as cuts land"))
    lines += [Line(assumed_text(found, one), 3) for one in shown]
    rest = len(found.assumed) - len(shown)
    if rest > 0:
        lines.append(Line(f"{rest} more: fitsolve sizes --assumed", 3))
    lines += [Line(text, 3) for text in coarse_texts(found)]
    return [Block("ASSUMED", tuple(lines))] if lines else []
