"""Stations that only the log names: `leg.fl.outer@foot`, read and not in the plan.

Such a one lies where its mark lies, or on the slanted face of the plan that it belongs to.

Not here: stations that the plan names (stock, faces).
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from fitsolve.build.assembly import SHARES, Assembly, Mark, Slope
from fitsolve.build.stock import station_doubt
from fitsolve.errors import Place, Problem
from fitsolve.light import replace


def with_stations(assembly: Assembly, names: Iterable[str], *, on_faces_alone: bool = False) -> Assembly:
    """Return the assembly with stations (`leg.fl.outer@foot`) that it lacks; unknown marks are left out, and
    where asked all but those on slanted faces."""
    marks, index, placed = list(assembly.marks), dict(assembly.index), list(assembly.placed)
    notices, slopes = list(assembly.notices), list(assembly.slopes)
    within: dict[str, list[str]] = {}
    for name in names:
        base, at, station = name.partition("@")
        if name in index or not at or not station:
            continue
        slanted = _on_face(assembly, index, name) if slopes else None
        if slanted is not None:
            mark, slope = slanted
            slopes.append(slope)
        elif base in index and not on_faces_alone:
            mark = replace(marks[index[base]], name=name, station_of=index[base])
            if not within:
                for other in assembly.marks:
                    within.setdefault(other.part, []).append(other.name[len(other.part) + 1 :])
            doubt = station_doubt(station, mark.part, within.get(mark.part, ()))
            if doubt:
                notices.append(Problem(Place(key=name), *doubt, level="notice"))
        else:
            continue
        index[name] = len(marks)
        assert mark.station_of is not None, "both kinds are stations"
        marks.append(mark)
        placed.append(placed[mark.station_of])
    if len(marks) == len(assembly.marks):
        return assembly
    return replace(
        assembly,
        marks=tuple(marks),
        index=index,
        placed=tuple(placed),
        notices=tuple(notices),
        slopes=tuple(slopes),
    )


def _on_face(assembly: Assembly, index: dict[str, int], name: str) -> tuple[Mark, Slope] | None:
    """Return the mark and the slope of a station that lies on a slanted face of the plan; None where none does.
    Its number is the next."""
    base, _, station = name.partition("@")
    marks = assembly.marks
    for face in assembly.faces.get(base, ()):
        for whole in (f"{face.part}.{station}", f"{base.rpartition('.')[0]}.{station}"):
            run = index.get(whole)
            if run is None or marks[run].axis != marks[face.run_start].axis:
                continue
            along, length = (marks[mark].plan_mm - marks[face.run_start].plan_mm for mark in (run, face.run_end))
            share = along / length
            if -1e-9 <= share <= 1 + 1e-9:
                start = marks[face.start]
                root = face.start if start.station_of is None else start.station_of
                at = start.plan_mm + face.ratio * along
                mark = replace(start, name=name, station_of=root, plan_mm=at)
                new = len(index)
                part = Fraction(share).limit_denominator(SHARES)
                ends = (face.start, face.end, face.run_start, face.run_end)
                slope = replace(face, end=new, run_end=run, placed=new, whole=ends, give_mm=None)
                return mark, replace(slope, share=part.numerator, of=part.denominator)
    return None


def kin(assembly: Assembly, name: str) -> int | None:
    """Return a mark of the same edge as a name that only the log may have: that mark, what it is a station of, or
    another station of that; None where there is none."""
    base = base_of(name)
    found = assembly.index.get(name, assembly.index.get(base))
    if found is None and assembly.slopes:
        return next((face.start for face in assembly.faces.get(base, ())), None)
    return found


def base_of(name: str) -> str:
    """Return a name without its station."""
    return name.partition("@")[0]
