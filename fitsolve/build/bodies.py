"""Bodies and families: what moves as one. Parts held together by closed joints; a mark with its stations.

Not here: when joints close or open (history).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence

from fitsolve.build.assembly import Assembly


class Bodies:
    """Parts held together by closed joints."""

    def __init__(self, joints: Iterable[tuple[str, ...]]) -> None:
        self.parent: dict[str, str] = {}
        for first, *others in joints:
            for other in others:
                self.parent[self.of(other)] = self.of(first)

    def of(self, part: str) -> str:
        """The part that stands for the body this one belongs to."""
        root = part
        while (above := self.parent.get(root, root)) != root:
            root = above
        while (above := self.parent.get(part, root)) != root:
            self.parent[part] = root
            part = above
        return root


def closed_marks(assembly: Assembly, joint: int, note: str) -> Iterator[int]:
    """The marks that closing a joint says are made: those of its contacts, and its holes where it is pegged."""
    for contact in assembly.joints[joint].contacts:
        yield from assembly.contacts[contact].every_mark
    yield from pegged_holes(assembly, joint, note)


def fastened(notes: Sequence[str]) -> str:
    """What holds a joint that is closed for good, as the notes of its closing say: glued, pegged or wedged."""
    return next((way for way in ("pegged", "wedged") if any(_says(note, way) for note in notes)), "glued")


def _says(note: str, way: str) -> bool:
    """Whether a note begins with a way of closing, or names it next: `glued, pegged`. What stands further on is said
    of something else, or of another day."""
    return any(word.strip(",;:.").lower() == way for word in note.split()[:2])


def pegged_holes(assembly: Assembly, joint: int, note: str) -> list[int]:
    """The holes that a joint's pegs go through, where the note of its closing says `glued, pegged`."""
    if not _says(note, "pegged"):
        return []
    return [mark for peg in assembly.pegs if peg.joint == joint for mark in (peg.hole, peg.tenon_hole)]


def families(assembly: Assembly) -> dict[int, tuple[int, ...]]:
    """For each mark that has stations, and each of these: the mark and its stations. Two ends of a slanted face are
    of one family wherever they stand, unless a give lets each be laid out by itself."""
    family: dict[int, set[int]] = {}
    for kin in (*_with_stations(assembly), *_two_ends(assembly)):
        whole = set(kin).union(*(family.get(mark, ()) for mark in kin))
        family.update(dict.fromkeys(whole, whole))
    found = {id(one): tuple(sorted(one)) for one in family.values()}
    return {mark: found[id(one)] for mark, one in family.items()}


def _two_ends(assembly: Assembly) -> Iterator[tuple[int, int]]:
    """The ends of each slanted face that are cut at once."""
    for slope in assembly.slopes:
        base, end = (assembly.marks[mark].name.partition("@")[0] for mark in (slope.start, slope.end))
        if slope.whole is None and slope.give_mm is None and base == end:
            yield slope.start, slope.end


def _with_stations(assembly: Assembly) -> list[tuple[int, ...]]:
    """The marks that have stations, each with these."""
    members: dict[int, list[int]] = defaultdict(list)
    for number, mark in enumerate(assembly.marks):
        if mark.station_of is not None:
            members[mark.station_of].append(number)
    return [(base, *stations) for base, stations in members.items()]


def cut_together(assembly: Assembly) -> dict[int, tuple[int, ...]]:
    """For each mark with others that lie where it is cut to, and each of these: all of them. Its stations do, but for
    an end that a slope places."""
    own = assembly.sloped_ends
    kept = [tuple(one for one in family if one not in own) for family in _with_stations(assembly)]
    return {one: members for members in kept for one in members}
