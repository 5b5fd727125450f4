"""Askew: which parts could take up a misfit along an axis by lying a little out of square.

Every part is taken to lie along the axes: a mark has one place, at both ends of its part. A part that is joined at
two places L apart along another axis can turn, and with a small angle t its two joints move against each other by

    t L   along the axis of the misfit, while a face of it stands off by   t w   over its width w.

So a misfit m is taken up by t = m / L. A shelf 774 mm long whose housings are 0.8 mm out of height lies askew by one
in a thousand, and a face of 20 mm stands off by 0.02: it goes in. Whether it may is for the maker to say.

The place of a joint along an axis is where its contacts on that axis lie in plan; without one, the middle of what the
two parts have in common there. Places that nothing ties along an axis are no known distance apart.

Not here: what is at odds (contradictions, doubts), words.
"""

from __future__ import annotations

from collections.abc import Iterable

from fitsolve.build.assembly import Assembly
from fitsolve.light import dataclass

STEEPEST = 0.02
"""A part that would have to lie further out of square is not askew, it is wrong (common practice, no source)."""

AS_LONG = 0.8
"""Of several parts those are named that are nearly as long between their joints as the longest."""


@dataclass(frozen=True, slots=True)
class Askew:
    """A misfit of `off_mm` is taken up by any of `parts`, joined `apart_mm` apart or more along `along`."""

    parts: tuple[str, ...]
    along: str
    off_mm: float
    apart_mm: float

    @property
    def slope(self) -> float:
        """How far a face stands off for each millimetre of its width."""
        return self.off_mm / self.apart_mm


def taken_up(assembly: Assembly, contacts: Iterable[int], off_mm: float) -> Askew | None:
    """Return the parts that could take up what is at odds at contacts of one axis; None where none could."""
    joints: dict[str, set[int]] = {}
    axes = set()
    for number in contacts:
        contact = assembly.contacts[number]
        axes.add(contact.axis)
        for part in {assembly.marks[mark].part for mark in contact.marks}:
            joints.setdefault(part, set()).add(contact.joint)
    if len(axes) != 1 or off_mm <= 0.0:
        return None
    spans = []
    for part, own in joints.items():
        if len(own) > 1:
            spans += [(*_apart(assembly, part, own, along), part) for along in ("x", "y", "z") if along not in axes]
    longest = max(spans, default=(0.0, "", ""))
    if longest[0] <= 0.0 or off_mm > STEEPEST * longest[0]:
        return None
    chosen = [one for one in spans if one[0] >= AS_LONG * longest[0] and one[1] == longest[1]]
    parts = tuple(part for part in assembly.parts if part in {one[2] for one in chosen})
    return Askew(parts, longest[1], off_mm, min(one[0] for one in chosen))


def _apart(assembly: Assembly, part: str, joints: set[int], along: str) -> tuple[float, str]:
    """How far apart a part's joints lie along an axis, mm; 0 where that is not known of two of them."""
    places: dict[int, list[float]] = {}
    for joint in joints:
        if (found := _place(assembly, part, joint, along)) is not None:
            places.setdefault(found[1], []).append(found[0])  # of two groups nothing says how far apart they are
    return max((max(own) - min(own) for own in places.values()), default=0.0), along


def _place(assembly: Assembly, part: str, joint: int, along: str) -> tuple[float, int] | None:
    """Where a joint lies along an axis in plan, mm, as its part has it, and in which placed group."""
    marks = assembly.marks
    own = [
        mark
        for number in assembly.contacts_of[part]
        if (contact := assembly.contacts[number]).joint == joint and contact.axis == along
        for mark in contact.marks
        if marks[mark].part == part
    ]
    if own:
        return sum(marks[mark].plan_mm for mark in own) / len(own), assembly.placed[own[0]]
    extents = [_extent(assembly, one, along) for one in dict.fromkeys(assembly.joints[joint].parts)]
    known = [one for one in extents if one is not None]
    if not known or len({one[2] for one in known}) > 1:
        return None
    return (max(one[0] for one in known) + min(one[1] for one in known)) / 2, known[0][2]


def _extent(assembly: Assembly, part: str, along: str) -> tuple[float, float, int] | None:
    """From where to where a part reaches along an axis in plan, mm, and in which placed group."""
    numbers = [number for number, mark in enumerate(assembly.marks) if mark.part == part and mark.axis == along]
    if not numbers:
        return None
    places = [assembly.marks[number].plan_mm for number in numbers]
    return min(places), max(places), assembly.placed[numbers[0]]
