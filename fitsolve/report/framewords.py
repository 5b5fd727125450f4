"""Frame words: what checks of the whole frame are about, and what their values say.

Not here: how they are laid out on a screen (terminal), what a check stands on (groundwords).
"""

from __future__ import annotations

from collections.abc import Iterator

from fitsolve.build.assembly import Assembly, Rule
from fitsolve.build.points import point_name
from fitsolve.findings.values import CheckFinding, MissingReading
from fitsolve.report.naming import span_named, words_of


def frame_text(assembly: Assembly, rule: Rule) -> str:
    """A check of the frame as the plan has it: `wind of leg.fl.head, leg.fr.head, ...`."""
    frame = rule.frame
    assert frame is not None, "asked for only of a check of the frame"
    if rule.kind in ("rack", "taper", "twist"):
        corners = [point_name(assembly, (a, b)) for a, b in zip(frame.marks[:4], frame.marks[4:8], strict=True)]
        then = [point_name(assembly, (a, b)) for a, b in zip(frame.marks[8:12], frame.marks[12:16], strict=True)]
        return f"{rule.kind} of {words_of(corners)}" + (f" to {words_of(then)}" if then else "")
    names = words_of([assembly.marks[mark].name for mark in frame.marks])
    over = words_of([assembly.marks[mark].name for mark in frame.base])
    return f"{rule.kind} of {names}" + (f", over {over}" if over else "")


def missing_text(assembly: Assembly, check: CheckFinding) -> str:
    """Why a check has no number: `missing: the diagonal A to B and the diagonal C to D`."""
    if not check.missing:
        rule = assembly.checks[check.number]
        frame = rule.frame
        untied = list(dict.fromkeys(_untied(assembly, rule)))
        if untied:
            return f"not tied by the plan: once made and set up, read {words_of(untied)}"
        return "nothing of it is read yet" if frame is not None and frame.read else "not fixed by anything yet"
    return f"missing: {words_of([_missing(assembly, one) for one in check.missing])}"


def _untied(assembly: Assembly, rule: Rule) -> Iterator[str]:
    """The spans of a check that the plan does not tie: nothing but a reading can tell how long they are."""
    marks, placed = assembly.marks, assembly.placed
    pairs = [(span.start, span.end) for span in rule.spans]
    if rule.frame is not None:
        first: dict[str, int] = {}
        pairs = [(first.setdefault(marks[mark].axis, mark), mark) for mark in rule.every_mark]
    for start, end in pairs:
        if placed[start] != placed[end]:
            yield span_named(assembly, marks[start].name, marks[end].name)


def _missing(assembly: Assembly, one: MissingReading) -> str:
    if one.event == "diagonal":
        return f"the diagonal {one.start} to {one.end}"
    if one.event == "wind":
        return f"the heights of {one.start} against {one.end} (wind by sticks, or each by itself)"
    if one.event == "lean":
        return f"the lean of {span_named(assembly, one.start, one.end)}"
    return f"a reading of {span_named(assembly, one.start, one.end)}"
