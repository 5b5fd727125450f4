"""Faces: slanted faces of copies, and the stations that lie on them.

A slope whose two ends are stations of one mark, `outer@foot..outer@head`, is a face that goes straight from the
one to the other. So every other station `outer@rail` lies on it where `rail` lies between `foot` and `head`:

    at(outer@rail) = at(outer@foot) + s (at(rail) - at(foot)),

whether a run has it, which then has to agree, or a sentence or the log names it. It is a station as any other: cut
with the face, and laid out by no figure of its own. As wood the face is straight before it has its slope: what the
whole is off its slope, the station is off by its share of the way.

Beyond the ends nothing says whether a face goes on slanting. There a station lies where its mark lies; where
that is not where the face ends, it is told.

Not here: slopes as sentences (slopes), runs that only a face ties (bridges), stations that only the log
names (stations).
"""

from __future__ import annotations

from fitsolve.build.slopes import SlopeDraft
from fitsolve.build.slopetext import WAYS
from fitsolve.build.stock import Stock
from fitsolve.build.sums import Rules
from fitsolve.errors import Problem
from fitsolve.light import replace
from fitsolve.written import write_length


def keep_straight(
    stock: Stock, drafts: list[SlopeDraft], led: dict[int, int], rules: Rules, problems: list[Problem]
) -> None:
    """Note the faces, so that stations named later lie on them, and add a slope for each station that stands on
    one already. `led` are starts of slopes that lie where a station between leads, by mark."""
    for draft in drafts:
        base = _base(stock.name[draft.start])
        if draft.whole is None and base == _base(stock.name[draft.end]):
            stock.faces.setdefault(base, []).append(draft)
    ends = {mark for draft in drafts for mark in (draft.start, draft.end)}
    said: set[tuple[object, ...]] = set()
    for base, faces in stock.faces.items():
        begins = f"{base}@"
        part = stock.part[faces[0].start]
        for mark in [mark for mark in stock.members[part] if stock.name[mark].startswith(begins)]:
            for face in faces:
                if mark not in (face.start, face.end) and (run := _run_on(stock, face, stock.name[mark])) is not None:
                    problem = _off(stock, face, mark, run, rules)
                    key = (face.spot.path, stock.within(mark))
                    if problem is not None and key not in said:
                        said.add(key)
                        problems.append(problem)
                    elif mark not in ends:
                        leads = led.get(face.start) == mark
                        if not leads and stock.station_of[mark] is None:
                            stock.station_of[mark] = _root(stock, face)
                        drafts.append(_between(stock, face, mark, run, face.start if leads else mark))


def station_on_face(stock: Stock, name: str) -> int | None:
    """Return a new mark for a station that lies on a slanted face; None where there is no such face there."""
    for face in stock.faces.get(_base(name), ()):
        run = _run_on(stock, face, name)
        if run is not None:
            at = stock.at[face.start] + face.ratio * (stock.at[run] - stock.at[face.run_start])
            part, axis = stock.part[face.start], stock.axis[face.start]
            mark = stock.add(name, part, axis, at, _root(stock, face))
            stock.on_faces.append(_between(stock, face, mark, run, mark))
            return mark
    return None


def beyond(stock: Stock, name: str, mark: int | None = None) -> str:
    """Return what to do about a station beyond the ends of its slanted face; nothing where there is nothing to
    do: no face there, or `mark`, where it is taken to lie, is where the face ends."""
    faces = stock.faces.get(_base(name), ())
    runs = [(face, run) for face in faces if (run := _run(stock, face, name)) is not None]
    if not runs:
        return ""
    near = [
        (abs(stock.at[run] - stock.at[along]), end, along, face)
        for face, run in runs
        for end, along in ((face.start, face.run_start), (face.end, face.run_end))
    ]
    _, end, along, face = min(near, key=lambda one: one[0])
    if mark is not None and stock.at[end] == stock.at[mark]:
        return ""
    other = face.start if end == face.end else face.end
    whole = f"{stock.within(other)}..{stock.within(end).partition('@')[0]}@{name.partition('@')[2]}"
    way = face.spot.text.rpartition(" ")[2]
    said = f"{face.angle} {way}" if way in WAYS and end == face.end else face.angle
    return f"The slope ends at {stock.within(along)}. Does it go on? Say it so far: {whole} {said}."


def _base(name: str) -> str:
    return name.partition("@")[0]


def _root(stock: Stock, face: SlopeDraft) -> int:
    """The mark that the stations of a face are stations of: cut with it in one cut, wherever they stand."""
    root = stock.station_of[face.start]
    return face.start if root is None else root


def _run(stock: Stock, face: SlopeDraft, name: str) -> int | None:
    """The mark along the run of a face that a station is named after."""
    base, _, station = name.partition("@")
    part = stock.parts[stock.part[face.start]]
    for whole in (f"{part}.{station}", f"{base.rpartition('.')[0]}.{station}"):
        mark = stock.index.get(whole)
        if mark is not None and stock.axis[mark] == stock.axis[face.run_start]:
            return mark
    return None


def _run_on(stock: Stock, face: SlopeDraft, name: str) -> int | None:
    """The mark along the run where a station of a face is, if that is between its ends."""
    run = _run(stock, face, name)
    if run is None:
        return None
    low, high = sorted((stock.at[face.run_start], stock.at[face.run_end]))
    return run if low <= stock.at[run] <= high else None


def _between(stock: Stock, face: SlopeDraft, mark: int, run: int, placed: int | None) -> SlopeDraft:
    """The slope of a station between the ends of a face."""
    at = stock.at
    share = (at[run] - at[face.run_start]) / (at[face.run_end] - at[face.run_start])
    return replace(face, end=mark, run_end=run, placed=placed, whole=face, share=share, give=None)


def _off(stock: Stock, face: SlopeDraft, mark: int, run: int, rules: Rules) -> Problem | None:
    """What is wrong with a station whose runs have it off its face."""
    there = stock.at[mark] - stock.at[face.start]
    along = stock.at[run] - stock.at[face.run_start]
    if abs(there - face.ratio * along) * 2 < rules.finest:
        return None
    rise = write_length(abs(there), rules.unit, marked=True)
    makes = write_length(abs(face.ratio * along), rules.unit, marked=True)
    over = write_length(abs(along), rules.unit, marked=True)
    other = " the other way" if there * face.ratio * along < 0 else ""
    what = (
        f"the runs have {stock.within(mark)} {rise}{other} from {stock.within(face.start)}, and it lies on this slope: "
        f"{face.angle} over {over} makes {makes}"
    )
    hint = "One of them is a misprint: correct it. A face with a bend is two slopes, one to the bend and one from it."
    return face.spot.problem(what, hint, 0, len(face.spot.text))
