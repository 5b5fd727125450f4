"""Doubts in words: what does not agree, what it would have to be, what it moves, what else it may be.

    STOP  #23 leg.fl to leg.fr, 40 3/32 by tape: 1 in short of what the others say. Would be 41 3/32.
          Just 1 in: was the tape held at its 1? Read it again.
          It could as well be one of these: ...
          Without it the other 14 agree.

Nothing is left out for good: what is said of the rest without a reading is for the maker to judge by.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from fitsolve.findings.solved import Terms
from fitsolve.findings.values import ALIKE, Doubt, Suspect, Suspicion, ToolError, ToolScatter
from fitsolve.light import replace
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures, off_plan
from fitsolve.report.naming import counted, rows_listed, span_named, words_of

_SHOWN_MOST = 8
_TOLD_MOST = 3


def suspects(found: Reconciliation) -> tuple[Doubt, ...]:
    """The readings not to be believed, the worst first."""
    doubtful = [doubt for doubt in found.doubts if doubt.suspect]
    return tuple(sorted(doubtful, key=lambda doubt: -round(abs(doubt.standardised or 1e9), ALIKE)))


def doubt_text(found: Reconciliation, doubt: Doubt) -> str:
    """What is wrong with a reading, and what it would have to be.

    `#23 leg.fl.inner..leg.fr.inner, 40 3/32 by tape: 1 in short of what the others say. Would be
    41 3/32. Read it again.`
    """
    measures = Measures.of(found.assembly)
    name = span_named(found.assembly, doubt.start, doubt.end)
    lead = f"#{doubt.row} {name}, {measures.exact(doubt.reading_mm)} by {doubt.tool}: "
    should = doubt.would_be_mm
    if should is None:
        should = _plan_of(found, doubt)
        if should is None:
            return f"{lead}nothing else checks it, and it is far off. Read it again."
        off = _off_plan(doubt.reading_mm - should, measures)
        hidden = doubt.redundancy > 0.0 and _swap_guess(found, doubt, should, measures)
        told = f"{lead}{off}, and {'what checks it would not show that' if hidden else 'nothing else checks it'}."
    else:
        off = _off(doubt.reading_mm - should, measures, "more than the others say", "short of what the others say")
        told = f"{lead}{off}. Would be {_would_be(should, measures)}."
    guess = _swap_guess(found, doubt, should, measures) or _slip_guess(found, doubt, should, measures)
    return f"{told}{f' {guess}' if guess else ''} Read it again."


def _swap_guess(found: Reconciliation, doubt: Doubt, should_mm: float, measures: Measures) -> str:
    """Whether it is what another doubted reading should be, and that what this should be, as a question: left was
    written for right, or one of two neighbours for the other."""
    near = max(float(measures.step_mm), 2 * found.assembly.workmanship_mm)
    for other in suspects(found) if abs(doubt.reading_mm - should_mm) > 2 * near else ():
        meant = other.would_be_mm if other.would_be_mm is not None else _plan_of(found, other)
        same = {other.start, other.end} == {doubt.start, doubt.end}
        if meant is None or same or abs(other.reading_mm - should_mm) > near:
            continue
        if any({doubt.row, other.row} <= _named_rows(one) for one in found.suspicions):
            continue  # either of the two explains it alone: then the other is right
        if abs(doubt.reading_mm - meant) <= near:
            name = span_named(found.assembly, other.start, other.end)
            return f"#{other.row} {name} is just what this should be, and this what that should: were the two swapped?"
    return ""


def _named_rows(one: Suspicion) -> set[int]:
    """The readings of which any one explains a misfit."""
    return {who.number for who in (one.worst, *one.equals) if who.kind == "reading"}


def _slip_guess(found: Reconciliation, doubt: Doubt, should_mm: float, measures: Measures) -> str:
    """The slip that a reading looks like, where it should be that, as a question."""
    from fitsolve.report.slipwords import slip_guess, tool_kind

    if should_mm < 0.0:  # only a comparison's: its two spans lie the other way round in the plan
        near = max(float(measures.step_mm), 2 * found.assembly.workmanship_mm)
        return "Were the two taken the other way round?" if abs(doubt.reading_mm + should_mm) <= near else ""
    return slip_guess(doubt.reading_mm, should_mm, measures, tool_kind(doubt.tool), _written(found, doubt))


def _written(found: Reconciliation, doubt: Doubt) -> str:
    """A reading as the maker wrote it."""
    return next((one.text for one in found.state.readings if one.no == doubt.row), "")


def _off_plan(mm: float, measures: Measures) -> str:
    """What a reading is off plan, as exactly as both were said: `0.7 mm less than plan`, `1/16 in more than plan`."""
    amount, _, way = off_plan(mm, measures.unit).rpartition(" ")
    return f"{amount} {measures.unit} {way} than plan" if way in ("more", "less") else f"{amount} {way}".strip()


def _off(mm: float, measures: Measures, over: str, under: str) -> str:
    amount = abs(mm)
    if amount >= measures.step_mm:
        text = f"{measures.size(amount)} {measures.unit}" if measures.marks_unit else measures.size(amount)
    else:
        text = measures.clearance(amount)
    return f"{text} {over if mm > 0 else under}"


def _would_be(mm: float, measures: Measures) -> str:
    """What a reading would have to be; it is entered without a sign, so the side is said."""
    text = measures.size(abs(mm))
    return f"{text} the other way round" if mm < 0 and text.strip("0.") else text


def _plan_of(found: Reconciliation, doubt: Doubt) -> float | None:
    """What the plan says of a reading, mm, as a length; of a comparison by how much its first is the longer."""
    reading = next((one for one in found.state.readings if one.no == doubt.row), None)
    if reading is None:
        return None
    marks = found.assembly.marks
    plan_mm = sum(coef * marks[mark].plan_mm for mark, coef in reading.terms)
    return plan_mm if reading.event == "compare" else abs(plan_mm)  # the first may be the shorter in the plan


def moves_text(found: Reconciliation, group: Sequence[Doubt]) -> str:
    """Which parts still to be cut some suspect readings move, and which none of them does."""
    from fitsolve.findings.moved import moved_by

    moved = [moved_by(found.solved, doubt) for doubt in group]
    parts = dict.fromkeys(part for one in moved for part in one.parts)
    return moves_parts(parts, dict.fromkeys(part for one in moved for part in one.others if part not in parts))


def moves_parts(parts: Iterable[str], others: Iterable[str]) -> str:
    """Which parts something moves, and which it does not: `It moves leg.l and apron. Not top.`"""
    parts, others = list(parts), list(others)
    if not parts:
        return "It moves nothing that is still to be cut." if others else "Nothing is left to be cut."
    text = f"It moves {_parts(parts)}."
    return f"{text} Not {_parts(others)}." if others else text


def _parts(parts: Sequence[str]) -> str:
    if len(parts) > _SHOWN_MOST:
        return f"{', '.join(parts[:_SHOWN_MOST])} and {len(parts) - _SHOWN_MOST} more"
    return words_of(parts)


def waiting(found: Reconciliation) -> dict[str, list[int]]:
    """The parts that must wait, each with the suspect readings, and sizes said of cuts, that move it."""
    waits: dict[str, list[int]] = defaultdict(list)
    for cut in found.odd_cuts:
        for part in cut.moved:
            waits[part].append(cut.row)
    doubted = doubted_readings(found)
    if not doubted:
        return waits
    from fitsolve.findings.moved import moved_by

    for doubt in doubted:
        for part in moved_by(found.solved, doubt).parts:
            waits[part].append(doubt.row)
    return waits


# -- what hangs together ----------------------------------------------------------------------


def suspect_groups(found: Reconciliation) -> list[list[Doubt]]:
    """The suspect readings, those that explain one misfit in one group, the worst of each first.

    What nothing else checks is suspect by itself; where very many are suspect, the last group is those
    for which no explanation was sought. A group whose worst is a closed contact may have
    no reading in it.
    """
    groups = [_readings_of(found, one) for one in found.suspicions]
    left = _unexplained(found)
    return [*groups, *([doubt] for doubt in _unchecked_suspects(found)), *([left] if left else [])]


def _unexplained(found: Reconciliation) -> list[Doubt]:
    """The readings that others speak against and no explanation was sought for."""
    named = {doubt.row for one in found.suspicions for doubt in _readings_of(found, one)}
    return [doubt for doubt in suspects(found) if doubt.standardised is not None and doubt.row not in named]


def _unchecked_suspects(found: Reconciliation) -> list[Doubt]:
    return [doubt for doubt in suspects(found) if doubt.standardised is None]


def doubted_readings(found: Reconciliation) -> list[Doubt]:
    """The readings not to be believed, and those that explain a misfit as well, the worst first."""
    named = {doubt.row: doubt for one in found.suspicions for doubt in _readings_of(found, one)}
    return list({doubt.row: doubt for doubt in (*suspects(found), *named.values())}.values())


def _readings_of(found: Reconciliation, one: Suspicion) -> list[Doubt]:
    by_row = {doubt.row: doubt for doubt in found.doubts}
    members = [one.worst, *one.equals, *one.because]
    return [_as_found(by_row[who.number], who) for who in members if who.kind == "reading"]


def _as_found(doubt: Doubt, who: Suspect) -> Doubt:
    """The doubt as it looks once those found before it are left out."""
    return replace(doubt, standardised=who.standardised, would_be_mm=doubt.reading_mm - who.error_mm)


def stop_texts(found: Reconciliation) -> list[list[str]]:
    """What must be settled first: for each thing its sentence, and what more there is to say of it."""
    said = []
    for one in found.suspicions:
        group = _readings_of(found, one)
        lead = _after_text(found, one) + suspect_text(found, one.worst)
        more = (culprits_text(found, one), moves_text(found, group) if group else "", rest_text(one))
        said.append([lead, *(text for text in more if text)])
    for doubt in _unchecked_suspects(found):
        said.append([doubt_text(found, doubt), moves_text(found, [doubt])])
    for number, text in follow_texts(found).items():
        if number < len(said):
            said[number].append(text)
    for group in suspect_groups(found)[len(said) :]:
        rows = rows_listed(sorted(doubt.row for doubt in group))
        said.append([f"{rows}: these do not agree with the others either. Read them again."])
    return said


def follow_texts(found: Reconciliation) -> dict[int, str]:
    """How many CONFLICTs follow from something to be settled first, by its place among them: `8 CONFLICTs follow from
    #127, and are gone or small without.`"""
    texts = {}
    for one in found.following:
        count, several = len(one.contradictions), len(one.suspects) > 1
        worst = [found.doubted_worst[k] for k in one.suspects]
        source = "those above together" if several else "that"
        if all(who.kind in ("reading", "cut") for who in worst):
            source = rows_listed(sorted(who.number for who in worst)) + (" together" if several else "")
        verbs = ("follows", "is") if count == 1 else ("follow", "are")
        told = f"{counted(count, 'CONFLICT')} {verbs[0]} from {source}, and {verbs[1]} gone or small without."
        texts[one.suspects[-1]] = told
    return texts


def stops_between(found: Reconciliation, start: int, end: int) -> list[str]:
    """What is not to be believed and moves the distance of two marks: the sentence of each."""
    if not found.suspicions and not found.odd_cuts and not any(doubt.suspect for doubt in found.doubts):
        return []
    from fitsolve.findings.moved import MOVED_SHARE, moves_mm

    least = MOVED_SHARE * found.assembly.finest_mm
    terms = [(end, 1.0), (start, -1.0)]
    said = []
    for one in found.suspicions:
        if any(moves_mm(found.solved, who, terms) > least for who in (one.worst, *one.equals, *one.because)):
            said.append(_after_text(found, one) + suspect_text(found, one.worst))
    for doubt in _unchecked_suspects(found):
        who = Suspect("reading", doubt.row, 0.0, doubt.off_plan_mm or 0.0)
        if moves_mm(found.solved, who, terms) > least:
            said.append(doubt_text(found, doubt))
    for doubt in _unexplained(found):
        who = Suspect("reading", doubt.row, 0.0, doubt.reading_mm - (doubt.would_be_mm or 0.0))
        if moves_mm(found.solved, who, terms) > least:
            said.append(doubt_text(found, doubt))
    for cut in found.odd_cuts:
        if moves_mm(found.solved, Suspect("cut", cut.row, 0.0, 0.0), terms) > least:
            from fitsolve.report.oddwords import odd_cut_texts

            said.append(" ".join(odd_cut_texts(found, cut)[:2]))
    return said


def rests_on(found: Reconciliation, terms: Terms) -> str:
    """`#133`, where a sum moves with a reading that others speak against: what would be done about it waits for that.
    Of what else could be wrong instead it is not asked: nearly everything would rest on that. Empty for none."""
    return _moved_by(found, terms, [one.worst for one in found.suspicions if one.worst.kind == "reading"])


def read_again_first(found: Reconciliation, terms: Terms, text: str) -> str:
    """What is to be done about a sum, behind its sentence of what is wrong: where it rests on a reading that is far off
    plan and that nothing checks, once that is read again."""
    alone = [Suspect("reading", one.row, 0.0, one.off_plan_mm or 0.0) for one in _unchecked_suspects(found)]
    rows = _moved_by(found, terms, alone)
    wrong, dot, remedy = text.partition(". ")
    if not rows or not dot:
        return text
    if remedy.startswith("No piece"):  # and asks for itself whether a reading is wrong
        return f"{wrong}. Read {rows} again first, see STOP. {remedy}"
    return f"{wrong}. Read {rows} again first, see STOP. If it is so, {remedy[:1].lower()}{remedy[1:]}"


def _moved_by(found: Reconciliation, terms: Terms, doubted: Sequence[Suspect]) -> str:
    """The rows of those that move a sum."""
    if not doubted:
        return ""
    from fitsolve.findings.moved import MOVED_SHARE, moves_mm

    least = MOVED_SHARE * found.assembly.finest_mm
    return rows_listed([who.number for who in doubted if moves_mm(found.solved, who, terms) > least])


def _after_text(found: Reconciliation, one: Suspicion) -> str:
    """What was left out before this stood out; nothing where it stood out from the beginning."""
    rows = {doubt.row for doubt in found.doubts if doubt.suspect}
    if not one.after or (one.worst.kind == "reading" and one.worst.number in rows):
        return ""
    before = [f"#{who.number}" if who.kind == "reading" else f"the {who.kind} above" for who in one.after]
    return f"Once {words_of(before)} is left out: "


def suspect_text(found: Reconciliation, who: Suspect) -> str:
    """What is wrong with something that stands out."""
    if who.kind == "reading":
        doubt = next(doubt for doubt in found.doubts if doubt.row == who.number)
        return doubt_text(found, _as_found(doubt, who))
    measures = Measures.of(found.assembly)
    if who.kind == "tool":
        shared = found.solved.graph.shared[who.number]
        return f"{shared.tool}: its {shared.term} lies further out than the plan gives it. Check the tool."
    contact = found.assembly.contacts[who.number]
    joint = found.assembly.joints[contact.joint].name
    amount = measures.clearance(abs(who.error_mm))
    if contact.kind == "butt" or contact.rests:
        return (
            f"{joint}, closed: by what the readings say its parts stand {amount} off where they should "
            f"meet along {contact.axis}. Look whether the joint is home, or read the gap."
        )
    return (
        f"{joint}, closed: by what the readings say it lies {amount} out of the "
        f"middle along {contact.axis}. Read its gaps."
    )


def culprits_text(found: Reconciliation, one: Suspicion | Sequence[Doubt]) -> str:
    """Where several things could be wrong: which others it may be, and what they would be then."""
    if not isinstance(one, Suspicion):
        suspicion = next((s for s in found.suspicions if one and _names(s, one[0])), None)
        return culprits_text(found, suspicion) if suspicion else ""
    from fitsolve.report.askewwords import askew_text, doubted_askew

    said = []
    askew = doubted_askew(found, one)
    if askew is not None:
        said.append(f"Or nothing is misread: {askew_text(found, askew)}.")
    if one.equals:
        alike = _or_else(found, one.equals)
        if one.by_plan:
            said.append(f"Of all that could be wrong it alone is far off plan. If not: {alike}.")
        else:
            said.append(f"It could as well be one of these: {alike}.")
    if one.because:
        others = "; or ".join(_instead(found, who) for who in one.because[:_SHOWN_MOST])
        more = len(one.because) - _SHOWN_MOST
        name = f"#{one.worst.number} is right" if one.worst.kind == "reading" else "that is well"
        said.append(f"If {name} after all: {others}{f'; or {more} more' if more > 0 else ''}.")
    return " ".join(said)


def _or_else(found: Reconciliation, equals: Sequence[Suspect]) -> str:
    """What could be wrong as well: where that is much, the first of it in full, the rest by its numbers."""
    shown = equals if len(equals) <= _TOLD_MOST + 1 else equals[:_TOLD_MOST]
    rest = equals[len(shown) :]
    said = [_instead(found, who) for who in (*shown, *(who for who in rest if who.kind == "tool"))]
    rows = [who.number for who in rest if who.kind == "reading"]
    joints = sum(who.kind == "contact" for who in rest)
    if rows:
        said.append(f"one of {rows_listed(rows)}" if len(rows) > 1 else rows_listed(rows))
    if joints:
        said.append(f"one of {counted(joints, 'closed joint')}" if joints > 1 else "a closed joint")
    return "; or ".join(said)


def _names(one: Suspicion, doubt: Doubt) -> bool:
    return one.worst.kind == "reading" and one.worst.number == doubt.row


def _instead(found: Reconciliation, who: Suspect) -> str:
    """Something else that may be wrong, and what it would be: `#2 leg.l left..right would be 3 1/2, not 3`."""
    measures = Measures.of(found.assembly)
    if who.kind == "tool":
        shared = found.solved.graph.shared[who.number]
        return f"the {shared.term} of the {shared.tool} lies further out than the plan gives it"
    if who.kind != "reading":
        contact = found.assembly.contacts[who.number]
        joint = found.assembly.joints[contact.joint].name
        return f"{joint} is {measures.clearance(abs(who.error_mm))} off along {contact.axis}"
    doubt = _as_found(next(doubt for doubt in found.doubts if doubt.row == who.number), who)
    name, should = span_named(found.assembly, doubt.start, doubt.end), doubt.would_be_mm or 0.0
    told = f"#{doubt.row} {name} would be {_would_be(should, measures)}, not {measures.exact(doubt.reading_mm)}"
    guess = _slip_guess(found, doubt, should, measures)
    return f"{told} ({guess[0].lower()}{guess[1:-1]}?)" if guess else told


def rest_text(one: Suspicion) -> str:
    """Whether the others agree when it is left out, for the question only."""
    if one.others < 1:
        return ""
    if one.rest_agrees:
        return f"Without it the other {one.others} that are checked agree." if one.others > 1 else ""
    return f"Without it the other {one.others} that are checked still do not agree."


# -- whether the whole agrees -------------------------------------------------------------------


def agreement_texts(found: Reconciliation) -> list[str]:
    """What to say of how far readings scatter, where they clearly scatter further or less than stated."""
    said = [_scatter_text(found, one) for one in found.agreement.tools if one.verdict != "as stated"]
    if not found.agreement.agrees and not found.suspicions and not said:
        factor = (found.agreement.chi_square / found.agreement.freedom) ** 0.5
        said.append(
            f"Taken together the readings do not agree, though none stands out: they scatter {factor:.1f} "
            "times as far as their tools are said to be good to."
        )
    return said


def _scatter_text(found: Reconciliation, one: ToolScatter) -> str:
    checked = f"{counted(one.readings, 'reading')} by {one.tool} that others check"
    scatter = "scatters" if one.readings == 1 else "scatter"
    if one.verdict == "further":
        return (
            f"{checked} {scatter} {one.factor:.1f} times as far as it is said to be good to: give {one.tool} "
            f"a good_to {one.factor:.1f} times as large, or read with more care."
        )
    return (
        f"{checked} {scatter} at most {max(one.factor_most, 0.01):.2f} times as far as it is said to be good to, as "
        f"finely as they are written: its good_to could be smaller, unless one reading was written down more than once."
    )


def tool_texts(found: Reconciliation) -> list[str]:
    """What the readings tell of their tools: `The tape reads 0.8 mm long, ± 0.2.`"""
    shared = found.solved.graph.shared
    doubted = {
        (shared[who.number].tool, shared[who.number].term)
        for one in found.suspicions
        for who in (one.worst, *one.equals)
        if who.kind == "tool"
    }
    return [_tool_text(found, one, (one.tool, one.term) in doubted) for one in found.tools if one.told]


def _tool_text(found: Reconciliation, one: ToolError, doubted: bool) -> str:
    """One that is itself in doubt may come of a reading not to be believed: it is not told as a fact."""
    measures = Measures.of(found.assembly)
    way = "long" if one.error > 0 else "short"
    if one.term == "zero":
        error = f"{measures.clearance(abs(one.error))} {way}, {measures.u(one.expanded)}, wherever it is used"
    else:
        error = f"{abs(one.error):.2f} mm in a metre {way}, ± {one.expanded:.2f}"
    if doubted:
        return f"The {one.tool} would read {error}, more than it should: see STOP. The sizes still allow for it."
    return f"The {one.tool} reads {error}. The sizes allow for it."


# -- what nothing checks ------------------------------------------------------------------------


def unchecked(found: Reconciliation) -> list[Doubt]:
    """The readings that nothing checks, the furthest off plan first."""
    alone = [doubt for doubt in found.doubts if doubt.standardised is None]
    return sorted(alone, key=lambda doubt: -abs(doubt.off_plan_mm or 0.0))


def unchecked_text(found: Reconciliation, doubt: Doubt) -> str:
    """`#5 leg.fl outer..inner, 3 17/32 by caliper: 15/32 less than plan`."""
    measures = Measures.of(found.assembly)
    lead = f"#{doubt.row} {span_named(found.assembly, doubt.start, doubt.end)}, "
    lead += f"{measures.exact(doubt.reading_mm)} by {doubt.tool}"
    off = doubt.off_plan_mm
    if off is None:
        return f"{lead}: the plan does not say how far that is"
    if abs(off) < 1e-6:
        return f"{lead}: as planned"
    told = f"{lead}: {_off_plan(off, measures)}"
    should = doubt.reading_mm - off
    guess = _slip_guess(found, doubt, should, measures)
    return f"{told}. {guess}" if guess and abs(off) > measures.step_mm else told
