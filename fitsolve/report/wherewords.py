"""Where words: where the error of a check sits, and what would bring it in.

    leg.fl.head and leg.rr.head stand higher than leg.fr.head and leg.rl.head
    From leg.fl foot..head (#1) 1/16, leg.rr foot..head (#4) 1/64
    Nothing still uncut can take it up. Plane 1/16 off leg.fl.head or leg.rr.head

Wood goes one way: what is made can still be pared or planed, and a short leg shimmed. Which is cheap is
common practice, no source.
"""

from __future__ import annotations

from typing import Any

from fitsolve.build.assembly import Rule
from fitsolve.findings.checks import CheckValue, check_values, worst_of
from fitsolve.findings.portions import SLIGHT_MM, SizePortion
from fitsolve.findings.takeup import WORTH, Departure, TakeUp, Whence, part_shares, take_up, whence
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures
from fitsolve.report.naming import counted, span_named, span_of, words_of
from fitsolve.report.remedies import face_to_plane, sides

SHOWN_MOST = 3
PARTS_MOST = 8
PORTIONS_MOST = 6
LIFT = (
    "Before you shim or pare a heavy base: lift it with help, prop it, keep hands from under it. "
    "Follow your local codes."
)
_MORE = {"x": "further right", "y": "further back", "z": "higher"}
_LESS = {"x": "further left", "y": "further forward", "z": "lower"}
_LEANS = {"x": ("left", "right"), "y": ("forward", "back"), "z": ("down", "up")}
_BY_HEIGHT = frozenset({"wind", "rock", "level"})
_SHIMMED = frozenset({"rock", "level"})


def parts_text(found: Reconciliation, number: int) -> str:
    """What each part makes of the value of a check: `by part: leg.fr 0.066, leg.rl 0.004 in`; the sign is that
    of what it adds, nothing where one part alone makes it."""
    worst = worst_of(check_values(found.solved, found.assembly.checks[number]))
    told = None if worst is None else whence(found.solved, worst)
    if worst is None or told is None or not worst.value_mm:
        return ""
    measures, way = Measures.of(found.assembly), 1 if worst.value_mm > 0 else -1
    shares = {part or "between parts": way * adds for part, adds in part_shares(found.solved, told).items()}
    said = [f"{part} {measures.bare(adds)}" for part, adds in shares.items() if measures.bare(abs(adds)).strip("0.")]
    return f"by part: {', '.join(said[:PARTS_MOST])} {measures.unit}" if len(said) > 1 else ""


def as_sentence(text: str) -> str:
    """The text with a capital, unless it begins with a name of the plan."""
    first = text.split(" ", 1)[0]
    return f"{text[:1].upper()}{text[1:]}." if first in ("from", "nothing", "no", "on", "by") else f"{text}."


def check_texts(found: Reconciliation, number: int) -> list[str]:
    """What is to be said of a check beyond its verdict: which way it is off, where that comes from, what
    would bring it in. Nothing where it has no value, or a value of nothing."""
    check = found.assembly.checks[number]
    values = check_values(found.solved, check)
    worst = worst_of(values)
    if worst is None or worst.value_mm is None or abs(worst.value_mm) < 1e-6:
        return []
    if any(one.value_mm is None for one in values):
        return []
    texts = [points_text(found, check, worst, values), whence_text(found, worst), bring_in_text(found, check, worst)]
    return [text for text in texts if text]


# -- which way -------------------------------------------------------------------------------


def points_text(found: Reconciliation, check: Rule, worst: CheckValue, values: list[CheckValue]) -> str:
    """Which way it is off: which marks stand high, which span is the longer."""
    marks, value = found.assembly.marks, worst.value_mm or 0.0
    name = [marks[mark].name for mark in worst.about]
    axis = marks[worst.terms[0][0]].axis
    if check.kind == "wind":
        return _off_plane(found, worst)
    if check.kind == "rock":
        return _stands(found, check, worst, values)
    if check.kind == "level":
        high, low = (name[0], name[1]) if value > 0 else (name[1], name[0])
        return f"{high} is the highest, {low} the lowest"
    if check.kind == "rack":
        start, end = (0, 3) if value > 0 else (1, 2)
        return f"{marks[worst.about[start]].part} to {marks[worst.about[end]].part} is the longer diagonal"
    if check.kind == "plumb":
        return f"{name[1]} lies {_LEANS[axis][value > 0]} of {name[0]}" if len(name) == 2 else ""
    if check.kind in ("flush", "in line") and len(name) == 2:
        first, second = (name[1], name[0]) if _along(found, worst.about) > 0 else (name[0], name[1])
        return f"{first} stands {_MORE[axis]} than {second}"
    if check.kind == "length" and len(name) == 2:
        return f"{span_of(found.assembly, *worst.about)} is too {'long' if value > 0 else 'short'}"
    if len(worst.about) == 4:
        pairs = [span_of(found.assembly, *worst.about[:2]), span_of(found.assembly, *worst.about[2:])]
        long, short = pairs if value > 0 else pairs[::-1]
        how = "leans more" if check.kind == "twist" else "is the longer"
        return f"{long} {how}, not {short}"
    return ""


def _along(found: Reconciliation, pair: tuple[int, ...]) -> float:
    """How far the second of two marks lies along its axis from the first, mm."""
    return found.solved.value_mm([(pair[1], 1.0), (pair[0], -1.0)])


def _off_plane(found: Reconciliation, worst: CheckValue) -> str:
    marks, value = found.assembly.marks, worst.value_mm or 0.0
    high = [marks[mark].name for mark, coef in worst.terms if coef * value > 0]
    low = [marks[mark].name for mark, coef in worst.terms if coef * value < 0]
    if len(worst.terms) == 4 and len(high) == 2:
        return f"{words_of(high)} stand {_MORE[marks[worst.about[0]].axis]} than {words_of(low)}"
    one = marks[worst.about[0]]
    return f"{one.name} stands {(_MORE if value > 0 else _LESS)[one.axis]} than the plane of the others"


def _as_bad(values: list[CheckValue], worst: CheckValue) -> list[CheckValue]:
    """The values that are as large as the worst."""
    return [one for one in values if one.value_mm is not None and abs(one.value_mm - (worst.value_mm or 0.0)) < 1e-6]


def _stands(found: Reconciliation, check: Rule, worst: CheckValue, values: list[CheckValue]) -> str:
    """What a frame stands on, or can be rocked onto, and which foot is off, of all ways that are as bad."""
    marks = found.assembly.marks
    alike = _as_bad(values, worst)
    off = sorted({one.about[0] for one in alike})
    always = [mark for mark in worst.about[1:] if all(mark in one.about[1:] for one in alike)]
    first = words_of([marks[mark].name for mark in always])
    if len(off) < 2 and not _at_rest(check, worst):
        return f"on a flat floor it can be rocked onto {first}: {marks[off[0]].name} then stands off"
    if len(off) < 2:
        return f"on a flat floor it stands on {first}: {marks[off[0]].name} stands off"
    either = " or ".join(marks[mark].name for mark in off)
    return f"on a flat floor it stands on {first}, and on {either}: the other stands off"


def _at_rest(check: Rule, worst: CheckValue) -> bool:
    """Whether a frame stands by itself on the three feet of a rock."""
    from fitsolve.build.standing import under_middle

    frame = check.frame
    assert frame is not None, "only a frame rocks"
    a, b, c = (frame.marks.index(mark) for mark in worst.about[1:])
    return under_middle(frame.places, (a, b, c))


# -- where it comes from -------------------------------------------------------------------------


def whence_text(found: Reconciliation, worst: CheckValue) -> str:
    """Where most of a value comes from: `From leg.fl foot..head (#1) 1/16`."""
    told = whence(found.solved, worst)
    if told is None or worst.value_mm is None:
        return ""
    parts = _shown(told, worst.value_mm)
    measures = Measures.of(found.assembly)
    said = [f"{departure_text(found, one)} {measures.coarse(abs(one.adds_mm))}" for one in parts]
    way = 1 if worst.value_mm > 0 else -1
    if way * told.planned_mm > WORTH * abs(worst.value_mm):
        said.append(f"the plan itself {measures.coarse(abs(told.planned_mm))}")
    if way * told.chosen_mm > WORTH * abs(worst.value_mm):
        said.append(f"what is still to be cut or set {measures.coarse(abs(told.chosen_mm))}")
    if not said:
        return ""
    shown = sum(abs(one.adds_mm) for one in parts) + max(way * told.planned_mm, 0.0) + max(way * told.chosen_mm, 0.0)
    less = shown - abs(worst.value_mm)
    others = f"; the rest takes {measures.coarse(less)} off that" if less > WORTH * abs(worst.value_mm) else ""
    return f"from {', '.join(said)}{others}"


def _shown(told: Whence, value: float) -> list[Departure]:
    """The departures that make a value what it is, not those that take off it."""
    own = [one for one in told.departures if one.adds_mm * value > 0 and abs(one.adds_mm) >= WORTH * abs(value)]
    return own[:SHOWN_MOST]


def departure_text(found: Reconciliation, one: Departure) -> str:
    """What departs from plan: `leg.fl foot..head (#1)`."""
    assembly = found.assembly
    if one.kind == "reading":
        reading = next(r for r in found.state.readings if r.no == one.number)
        return f"{span_named(assembly, reading.start, reading.end)} (#{one.number})"
    if one.kind == "distance":
        distance = assembly.distances[one.number]
        return f"{span_of(assembly, distance.start, distance.end)} as cut"
    if one.kind == "contact":
        contact = assembly.contacts[one.number]
        return f"{assembly.joints[contact.joint].name} on {contact.axis}"
    if one.kind in ("station", "layout"):
        return assembly.marks[one.number].name
    return f"a {one.kind} as cut"


# -- what would bring it in ----------------------------------------------------------------------


def bring_in_text(found: Reconciliation, check: Rule, worst: CheckValue) -> str:
    """What still uncut could take a value up and by how much; else that nothing can, and what is left to do."""
    told = take_up(found.solved, check, worst)
    if told is None:
        left = rescue_text(found, check, worst)
        return "nothing still uncut can take it up" + (f". {left}" if left else "")
    measures = Measures.of(found.assembly)
    done = abs(told.then_mm) < measures.unit_mm / 200
    does = "take it up" if done else f"bring it down to {measures.coarse(abs(told.then_mm))}"
    if told.sizes:
        return f"{portions_text(found, told)} would {does}{_along_text(found, told)}"
    joints = words_of([found.assembly.joints[number].name for number in told.joints[:SHOWN_MOST]])
    play = f"the play of {joints}" if joints else "where the loose pieces are set"
    return f"no size, but {play} would {does}: set it so before it is closed"


def portions_text(found: Reconciliation, told: TakeUp) -> str:
    """All that would take a value up, each with its portion: `leg.r foot..screw.z 6.7 more and chop low..top 6.7
    less`. They come to the whole; of very many the last are summed up."""
    shared, measures = told.portions, Measures.of(found.assembly)
    if not shared.sizes:
        shown = [SizePortion(number, change, 0.0) for number, change in told.sizes[:PORTIONS_MOST]]
        return words_of([_size_text(found, one) for one in shown])
    shown = list(shared.sizes[:PORTIONS_MOST])
    said = [_size_text(found, one) for one in shown]
    rest = shared.sizes[PORTIONS_MOST:]
    if rest:
        together = measures.coarse(abs(sum(one.adds_mm for one in rest)))
        said.append(f"{counted(len(rest), 'size')} more, {together} in all,")
    said += [
        f"the play of {found.assembly.joints[joint].name} {measures.coarse(abs(mm))}" for joint, mm in shared.joints
    ]
    if abs(shared.set_mm) > SLIGHT_MM:
        said.append(f"{measures.coarse(abs(shared.set_mm))} by where the pieces are set")
    return words_of(said)


def _along_text(found: Reconciliation, told: TakeUp) -> str:
    """The sizes of other parts that change with those, one a part."""
    distances = found.assembly.distances
    own = {distances[one.distance].part for one in told.portions.sizes}
    by_part: dict[str, SizePortion] = {}
    for number, change in told.sizes if own else ():
        if distances[number].part not in own:
            by_part.setdefault(distances[number].part, SizePortion(number, change, 0.0))
    said = [_size_text(found, one) for one in by_part.values()]
    more = f" (and {counted(len(said) - SHOWN_MOST, 'part')} more)" if len(said) > SHOWN_MOST else ""
    return f", with {words_of(said[:SHOWN_MOST])}{more} to go with it" if said else ""


def _size_text(found: Reconciliation, one: SizePortion) -> str:
    """A size that would change: `apron.front l.end..l.dado-o 1/32 more`."""
    distance = found.assembly.distances[one.distance]
    amount = Measures.of(found.assembly).coarse(abs(one.more_mm))
    span = span_of(found.assembly, distance.start, distance.end)
    return f"{span} {amount} {'more' if one.more_mm > 0 else 'less'}"


def rescue_text(found: Reconciliation, check: Rule, worst: CheckValue) -> str:
    """What can be done about made wood: what is only set up or closed dry is moved; else pare or plane what stands
    out, or shim; nothing for what has no such cure."""
    if check.kind == "rack":
        return _racked(found, check)
    moved, rest = _moved(found, check, worst)
    if moved and not rest:
        return moved
    cut = _cut(found, check, worst)
    return f"{moved}. Else {cut[:1].lower()}{cut[1:]}" if moved and cut else moved or cut


def _cut(found: Reconciliation, check: Rule, worst: CheckValue) -> str:
    """What can be planed, pared or shimmed."""
    amount = Measures.of(found.assembly).coarse(abs(worst.value_mm or 0.0))
    marks = found.assembly.marks
    if check.kind == "rock":
        return _firm_again(found, check, worst)
    if check.kind == "level":
        high = worst.about[0] if (worst.value_mm or 0.0) > 0 else worst.about[1]
        return f"Plane {amount} off {marks[high].name}, or shim what is low"
    if check.kind == "wind":
        value = worst.value_mm or 0.0
        proud = [
            mark for mark, coef in worst.terms if coef * value * marks[mark].outward > 0 and abs(abs(coef) - 1.0) < 1e-6
        ]
        names = " or ".join(marks[mark].name for mark in proud)
        halves = " (or half of it off each)" if len(proud) == 2 else ""
        return f"Plane {amount} off {names}{halves}" if proud else ""
    return _pared(found, worst)


def _racked(found: Reconciliation, check: Rule) -> str:
    """A joint has no angle: as long as one is not glued a frame can be pulled square."""
    own = {found.assembly.marks[mark].part for mark in check.every_mark}
    closed = [found.state.closed.get(k, "") for k, one in enumerate(found.assembly.joints) if own & set(one.parts)]
    when = "before its joints are closed" if "" in closed else "before its joints, closed dry, are glued"
    return f"Pull the longer diagonal in {when}: nothing need be cut" if {"", "dry"} & set(closed) else ""


def _moved(found: Reconciliation, check: Rule, worst: CheckValue) -> tuple[str, bool]:
    """What to move of that which is only set up, or sits in dry joints; and whether too much of it is left then."""
    from fitsolve.findings.mending import resetting, set_up

    marks, measures = found.assembly.marks, Measures.of(found.assembly)
    reading = set_up(found.solved, worst)
    if reading is not None:
        parts = words_of(sorted({marks[mark].part for mark, _ in reading.terms}))
        how = "move or shim" if check.kind in _BY_HEIGHT else "move"
        return f"But no closed joint ties {parts}: {how} them, say fitsolve apart, and read across again", False
    one = resetting(found.solved, worst)
    if one is None:
        return "", False
    names, several = [found.assembly.joints[joint].name for joint in one.joints], len(one.joints) > 1
    parts, way = words_of(list(one.parts)), (_MORE if one.by_mm > 0 else _LESS)[one.axis]
    left = abs(one.left_mm) >= measures.unit_mm / 200
    leaves = f"; that leaves {measures.coarse(abs(one.left_mm))}" if left else ""
    told = f"{words_of(names)} {'are' if several else 'is'} closed dry: open {'them' if several else 'it'}"
    text = f"But {told}, set {parts} {measures.coarse(abs(one.by_mm))} {way}, close and read again{leaves}"
    return text, abs(one.left_mm) > (check.within_mm or 0.0)


def _pared(found: Reconciliation, worst: CheckValue) -> str:
    """Which shoulders could still be pared."""
    from fitsolve.findings.mending import parings

    contacts, marks = found.assembly.contacts, found.assembly.marks
    ways: dict[str, list[str]] = {}
    for one in parings(found.solved, worst):
        amount = Measures.of(found.assembly).coarse(one.off_mm)
        names = [marks[face_to_plane(found, sides(found, contacts[each])[0])].name for each in one.contacts]
        ways.setdefault(amount, []).append(words_of(names))
    pared = ", or ".join(f"{amount} off {' or '.join(names)}" for amount, names in ways.items())
    return f"Pare {pared}" if pared else ""


def _firm_again(found: Reconciliation, check: Rule, worst: CheckValue) -> str:
    """What stops a rock. Paring a foot that is stood on lowers the one that is off by its weight in the row;
    of more than four feet another might then be off, and only the shim is sure."""
    measures, marks, value = Measures.of(found.assembly), found.assembly.marks, worst.value_mm or 0.0
    alike = _as_bad(check_values(found.solved, check), worst)
    loose = "what stands off" if len({one.about[0] for one in alike}) > 1 else marks[worst.about[0]].name
    shim = f"shim {measures.coarse(value)} under {loose}"
    if len(check.every_mark) > 4:
        return shim[:1].upper() + shim[1:]
    cuts: dict[str, list[str]] = {}
    for mark, coef in worst.terms:
        if coef < 0:
            cuts.setdefault(measures.coarse(-value / coef), []).append(marks[mark].name)
    pared = ", or ".join(f"{amount} off {' or '.join(names)}" for amount, names in cuts.items())
    return f"Pare {pared}, or {shim}"


def shims(found: Reconciliation, number: int) -> bool:
    """Whether what is said of a check speaks of lifting or paring a base."""
    return found.assembly.checks[number].kind in _SHIMMED


def check_json(found: Reconciliation, number: int) -> dict[str, Any]:
    """The same for other programs: the words, what each departure adds (mm), and what would take it up."""
    check = found.assembly.checks[number]
    worst = worst_of(check_values(found.solved, check))
    told = None if worst is None else whence(found.solved, worst)
    cure = None if worst is None else take_up(found.solved, check, worst)
    distances, marks = found.assembly.distances, found.assembly.marks
    return {
        "words": check_texts(found, number),
        "where": [
            {"kind": one.kind, "number": one.number, "text": departure_text(found, one), "adds_mm": one.adds_mm}
            for one in (told.departures if told else ())
        ],
        "parts": [
            {"part": part or None, "adds_mm": adds}
            for part, adds in (part_shares(found.solved, told) if told else {}).items()
        ],
        "bring_in": None
        if cure is None
        else {
            "sizes": [
                {
                    "from": marks[distances[k].start].name,
                    "to": marks[distances[k].end].name,
                    "more_mm": change,
                }
                for k, change in cure.sizes
            ],
            "portions": _portions_json(found, cure),
            "joints": [found.assembly.joints[joint].name for joint in cure.joints],
            "value_then_mm": cure.then_mm,
        },
    }


def _portions_json(found: Reconciliation, cure: TakeUp) -> dict[str, Any]:
    """What each size, each joint and the setting of pieces takes of the value, mm: they come to its change."""
    distances, marks, shared = found.assembly.distances, found.assembly.marks, cure.portions
    return {
        "sizes": [
            {
                "from": marks[distances[one.distance].start].name,
                "to": marks[distances[one.distance].end].name,
                "more_mm": one.more_mm,
                "adds_mm": one.adds_mm,
            }
            for one in shared.sizes
        ],
        "joints": [{"joint": found.assembly.joints[joint].name, "adds_mm": adds} for joint, adds in shared.joints],
        "set_mm": shared.set_mm,
    }
