"""Trials: another choice beside the plan's, tried without editing it.

    change  =  "give" span length              how far a distance may drift
            |  "hold" span                     it may not drift at all
            |  "size" span length              it is held at this, not at its plan
            |  "limit" span length "to" length hard limits of a distance
            |  "fit" NAME length "to" length [ "," "aim" length ]      of joints still open
            |  "keep" NAME ( "give" length | "by" length "to" length )
            |  "check" NAME "=" length         held at this: a difference (0 for parallel), or a length
            |  "check" NAME "within" length    another tolerance
    span    =  [ part ] mark ".." mark

`read_change` reads the text alone; whoever knows what was typed for which name makes `Spans` and
`Rules` of it, and `tried` gives the assembly as it would be. Marks stay where the plan has them: a
trial changes what is wished and held of them, nothing of what is there.

A distance that no run has may be given a size, a give or limits all the same: it is one more wish.

Not here: names (cli), what comes of it (reconciliation), words (report).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from fitsolve.build.assembly import Assembly, Distance, Rule
from fitsolve.build.history import MarkState, State
from fitsolve.build.language import Cursor, Misread, Name, did_you_mean
from fitsolve.errors import BuildError, Place, Problem
from fitsolve.lengths import Unit
from fitsolve.light import dataclass, pattern, replace

TRY = "--try"
_PLACE = Place(TRY)
_SPAN_VERBS = ("give", "hold", "size", "limit")
_VERBS = (*_SPAN_VERBS, "fit", "keep", "check")
_FORMS = "There are: give SPAN L; hold SPAN; size SPAN L; limit SPAN L to L; fit NAME L to L; " \
         "keep NAME give L, or by L to L; check NAME = L, or within L."  # fmt: skip
_WORD = pattern(r"[^\s=]+")

How = Literal["", "give", "by", "=", "within"]


@dataclass(frozen=True, slots=True)
class Change:
    """One change as written. `names` are those of the span (part and two marks, or two marks), or of
    a fit, or the words that name a keep or a check. Lengths in mm, exact."""

    text: str
    verb: str
    names: tuple[Name, ...]
    how: How = ""
    length: Fraction | None = None
    limits: tuple[Fraction, Fraction] | None = None
    aim: Fraction | None = None


def misread_change(text: str, misread: Misread) -> BuildError:
    """What is wrong with a change, with a caret under the word; nothing has been computed."""
    place = Place(TRY, None, "", text, misread.column, misread.width)
    return BuildError([Problem(place, misread.what, misread.hint)])


def read_change(text: str, unit: Unit) -> Change:
    """Return a change as written. Raises BuildError."""
    try:
        return _read(" ".join(text.split()), unit)
    except Misread as misread:
        raise misread_change(" ".join(text.split()), misread) from None


def _read(text: str, unit: Unit) -> Change:
    cursor = Cursor(text, unit)
    verb = next((verb for verb in _VERBS if cursor.word(verb)), "")
    if not verb:
        if not cursor.peek():
            raise Misread("a change is missing", 0, 1, _FORMS)
        raise cursor.here("no change begins so", did_you_mean(cursor.piece(), _VERBS) or _FORMS)
    if verb in _SPAN_VERBS:
        change = _of_span(cursor, verb)
    elif verb == "fit":
        change = _of_fit(cursor)
    else:
        change = _of_rule(cursor, verb)
    if cursor.peek():
        raise cursor.here("the end of the change was expected here", "Each further change takes a --try of its own.")
    return change


def _of_span(cursor: Cursor, verb: str) -> Change:
    names = [cursor.name("a part or a mark")]
    if not cursor.literal(".."):
        names.append(cursor.name("the first mark of the span"))
        if not cursor.literal(".."):
            raise cursor.here('".." was expected here', "A span is two marks: apron.front l.end..l.dado-o.")
    names.append(cursor.name("the second mark of the span"))
    if verb == "hold":
        return Change(cursor.text, verb, tuple(names))
    if verb == "limit":
        return Change(cursor.text, verb, tuple(names), limits=cursor.limits())
    cursor.peek()
    at = cursor.at
    length = cursor.length()
    if length <= 0:
        hint = "Write hold for a distance that may not drift at all." if verb == "give" else "A size is more than 0."
        raise Misread(f"a {verb} of 0 can't be used", at, cursor.at - at, hint)
    return Change(cursor.text, verb, tuple(names), length=length)


def _of_fit(cursor: Cursor) -> Change:
    name = cursor.name("a fit")
    cursor.peek()
    at = cursor.at
    limits = cursor.limits()
    aim = None
    if cursor.literal(","):
        if not cursor.word("aim"):
            raise cursor.here('"aim" was expected here', "As in: fit slip 0.002 to 0.022, aim 0.010.")
        aim = cursor.length()
        if not limits[0] <= aim <= limits[1]:
            raise Misread("the aim lies outside the limits", at, cursor.at - at, "It lies from the least to the most.")
    return Change(cursor.text, "fit", (name,), limits=limits, aim=aim)


def _of_rule(cursor: Cursor, verb: str) -> Change:
    known: tuple[How, ...] = ("give", "by") if verb == "keep" else ("=", "within")
    names: list[Name] = []
    how: How | None = None
    start = cursor.at
    while cursor.peek():
        start = start if names else cursor.at
        how = next((one for one in known if (cursor.literal(one) if one == "=" else cursor.word(one))), None)
        if how is not None:
            break
        word = _WORD.match(cursor.text, cursor.at)
        if word is None:
            break
        names.append(Name(word.group(), cursor.at))
        cursor.at = word.end()
    if not names:
        raise Misread(f"the name of a {verb} was expected here", start, 1)
    if how is None:
        expected = "give L, or by L to L" if verb == "keep" else '"= L" or "within L"'
        raise cursor.here(f"{expected} was expected here", "As in: check parallel = 0" if verb == "check" else "")
    if how == "by":
        return Change(cursor.text, verb, tuple(names), how, limits=cursor.limits())
    cursor.peek()
    at = cursor.at
    length = cursor.length()
    if how in ("give", "within") and length <= 0:
        raise Misread(f"a {how} of 0 can't be weighed", at, cursor.at - at, f"As in {how} 1/16.")
    return Change(cursor.text, verb, tuple(names), how, length=length)


# -- what it makes of the assembly -------------------------------------------------------------


def with_span(assembly: Assembly, state: State, change: Change, start: int, end: int) -> Assembly:
    """Return the assembly with a distance of one part changed. Raises BuildError where it is made."""
    marks = assembly.marks
    if start == end:
        raise misread_change(change.text, _at_span(change, "a span has two different marks"))
    if marks[start].part != marks[end].part or marks[start].axis != marks[end].axis:
        what = f"{marks[start].name} and {marks[end].name} lie on no one axis of one part"
        raise misread_change(change.text, _at_span(change, what, "A size is cut on one part, along one axis."))
    if state.marks[start] == state.marks[end] == MarkState.MADE:
        what = f"{marks[start].name} and {marks[end].name} are made: no choice moves them"
        raise misread_change(change.text, _at_span(change, what, "Only what is still to be cut can be chosen."))
    places = [k for k, one in enumerate(assembly.distances) if {one.start, one.end} == {start, end}]
    if not places:
        planned = marks[end].plan_mm - marks[start].plan_mm
        new = Distance(
            marks[start].part, marks[start].axis, start, end, -1 if planned < 0 else 1, abs(planned), None, place=_PLACE
        )
        return replace(assembly, distances=(*assembly.distances, _changed(new, change)))
    distances = list(assembly.distances)
    distances[places[0]] = _changed(distances[places[0]], change)
    return replace(assembly, distances=tuple(distances))


def _at_span(change: Change, what: str, hint: str = "") -> Misread:
    first, last = change.names[0], change.names[-1]
    return Misread(what, first.column, last.column + last.width - first.column, hint)


def _changed(one: Distance, change: Change) -> Distance:
    """A distance as the change has it: what it says outranks what the plan says of the same."""
    if change.verb == "give":
        return replace(one, give_mm=_mm(change.length), hold=False, derived=False, place=_PLACE)
    if change.verb == "limit":
        assert change.limits is not None, "a limit has limits"
        low, high = change.limits
        return replace(one, low_mm=float(low), high_mm=float(high), hold=False, derived=False, place=_PLACE)
    held = replace(one, hold=True, low_mm=None, high_mm=None, derived=False, place=_PLACE)
    return held if change.verb == "hold" else replace(held, size_mm=_mm(change.length))


def _mm(length: Fraction | None) -> float:
    assert length is not None, "the change has a length"
    return float(length)


def with_fit(assembly: Assembly, state: State, change: Change) -> Assembly:
    """Return the assembly with a fit changed in every joint still open. Raises BuildError for no such fit."""
    name = change.names[0]
    known = sorted({one.fit for one in assembly.contacts})
    if name.text not in known:
        hint = did_you_mean(name.text, known) or (f"Joints have: {', '.join(known)}." if known else "")
        raise misread_change(change.text, Misread(f'no joint has the fit "{name.text}"', name.column, name.width, hint))
    assert change.limits is not None, "a fit has limits"
    low, high = map(float, change.limits)
    contacts = tuple(
        replace(one, least_mm=low, most_mm=high, aim_mm=_aim(one.aim_mm, low, high, change.aim), place=_PLACE)
        if one.fit == name.text and (one.joint not in state.closed or one.kind == "room")
        else one
        for one in assembly.contacts
    )
    if contacts == assembly.contacts:
        what = f"all joints with the fit {name.text} are closed: no choice changes them"
        raise misread_change(change.text, Misread(what, name.column, name.width))
    return replace(assembly, contacts=contacts)


def _aim(old_mm: float, low: float, high: float, aim: Fraction | None) -> float:
    """The aim that is said, else the old one where the limits leave it, else their middle."""
    if aim is not None:
        return float(aim)
    return old_mm if low <= old_mm <= high else (low + high) / 2


def with_rule(assembly: Assembly, change: Change) -> Assembly:
    """Return the assembly with keeps or checks changed: the one of this name, or all of this key.
    Raises BuildError for no such name."""
    rules = assembly.keeps if change.verb == "keep" else assembly.checks
    chosen = rules_named(rules, change)
    if change.verb == "keep":
        keeps = tuple(_kept(one, change) if k in chosen else one for k, one in enumerate(rules))
        return replace(assembly, keeps=keeps)
    if change.how == "within":
        within = _mm(change.length)
        checks = tuple(replace(one, within_mm=within) if k in chosen else one for k, one in enumerate(rules))
        return replace(assembly, checks=checks)
    held = tuple(_held(one, change) for k, one in enumerate(rules) if k in chosen)
    return replace(assembly, keeps=(*assembly.keeps, *held))


def _held(check: Rule, change: Change) -> Rule:
    """A check as something that is held: a length at what is said, a difference at it."""
    wanted = _mm(change.length)
    first, last = change.names[0], change.names[-1]
    column, width = first.column, last.column + last.width - first.column
    if check.kind == "length":
        if wanted <= 0:
            what, hint = f"{check.name} is a length, and can't be 0", "Write the length that it shall be."
            raise misread_change(change.text, Misread(what, column, width, hint))
        wanted -= check.length_mm or 0.0
    elif wanted and check.frame is not None:
        what = f"{check.name} is of the whole frame: it can be held true, at 0, and no other way"
        raise misread_change(change.text, Misread(what, column, width, "Or try another within."))
    elif wanted and len(check.spans) > 2:
        what = f"{check.name} compares {len(check.spans)} spans: they can be held equal, at 0, and no other way"
        raise misread_change(change.text, Misread(what, column, width))
    return replace(check, name=f"check {check.name}", within_mm=None, held_mm=wanted, place=_PLACE)


def _kept(keep: Rule, change: Change) -> Rule:
    if change.how == "give":
        return replace(keep, give_mm=_mm(change.length), place=_PLACE)
    assert change.limits is not None, "by has limits"
    low, high = change.limits
    return replace(keep, low_mm=float(low), high_mm=float(high), place=_PLACE)


def rules_named(rules: Sequence[Rule], change: Change) -> set[int]:
    """Return which keeps or checks a change names: one by its whole name, else all that its words begin."""
    words = [name.text for name in change.names]
    exact = {k for k, one in enumerate(rules) if one.name == " ".join(words)}
    if exact:
        return exact
    keyed = {k for k, one in enumerate(rules) if all(word in one.name.split() for word in words)}
    begun = keyed or {
        k for k, one in enumerate(rules)
        if all(any(own.startswith(word) for own in one.name.split()) for word in words)
    }  # fmt: skip
    keys = {one.name.split()[0] for k, one in enumerate(rules) if k in begun}
    first = change.names[0]
    column, width = first.column, change.names[-1].column + change.names[-1].width - first.column
    if len(keys) > 1:
        what = f"this could be {len(keys)} {change.verb}s: {', '.join(sorted(keys))}"
        raise misread_change(change.text, Misread(what, column, width, "Type more of it."))
    if not begun:
        known = list(dict.fromkeys(one.name.split()[0] for one in rules))
        hint = did_you_mean(words[0], known) or (f"There are: {', '.join(known)}." if known else "The plan has none.")
        what = f'the plan has no {change.verb} "{" ".join(words)}"'
        raise misread_change(change.text, Misread(what, column, width, hint))
    return begun
