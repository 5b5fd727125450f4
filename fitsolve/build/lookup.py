"""Names in the log: which mark, part, span or joint a word means.

The log spells names whole: `leg.fl.low.cheek-o` is the mark `low.cheek-o` of the part `leg.fl`.
The plan may have been changed since: a `rename` in the log maps the names of the rows before
it. Rows between two renames share an *epoch*, the number of renames before them.

    span          a..b       b stands beside a, else anywhere in its part, else is a whole name
    wildcard      rail.*.bottom..top      `*` is any one word between dots
    covering      apron.front.l.dado      a mark, a part, or the beginning of several marks of
                                          one part that ends where a dot, hyphen or @ follows
    joint         its name, or any words of it that no other joint has all of

Nothing here complains: what is not found is None, and `near` says what may have been meant.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence

from fitsolve.build.assembly import AXES, Assembly
from fitsolve.light import pattern

_STATION = pattern(r"[A-Za-z][A-Za-z0-9.-]*")
_NAME_LENGTH_MAX = 1000
"""Renames of a part to a mark of its own, over and over, would make names without end."""

_SUGGESTIONS_MAX = 50
"""Looking for near names is slow; a log with more unknown names than this has another trouble."""


class Lookup:
    """Finds marks, parts and joints of an assembly. `renames` are (old, new) in their order."""

    def __init__(self, assembly: Assembly, renames: Sequence[tuple[str, str]] = ()) -> None:
        self.assembly = assembly
        self.renames = renames
        self.renamed: dict[str, list[int]] = defaultdict(list)
        for position, (old, _) in enumerate(renames):
            self.renamed[old].append(position)
        self._current: dict[tuple[str, int], str] = {}
        self._marks: dict[tuple[str, int], int | None] = {}
        self._parts: dict[str, list[int]] | None = None
        self._joints: dict[str, set[int]] | None = None
        self._covered: dict[str, list[int]] = {}
        self._faces: dict[str, int] | None = None
        self._near: dict[str, tuple[str, ...]] = {}
        self._near_joints: dict[str, tuple[str, ...]] = {}
        self._patterns: dict[str, list[tuple[int, tuple[str, ...]]]] = {}

    # -- renames -------------------------------------------------------------------------

    def current(self, name: str, epoch: int) -> str:
        """Return a name used in that epoch as the plan has it now."""
        passed: list[tuple[str, int]] = []
        while epoch < len(self.renames) and len(name) <= _NAME_LENGTH_MAX:
            found, old = self._next_rename(name, epoch)
            if not old:
                break
            if (name, found) in self._current:
                name = self._current[name, found]
                break
            passed.append((name, found))
            name = self.renames[found][1] + name[len(old) :]
            epoch = found + 1
        self._current.update(dict.fromkeys(passed, name))
        return name

    def _next_rename(self, name: str, epoch: int) -> tuple[int, str]:
        """The first rename from that epoch on that changes the name, and the beginning it changes."""
        found, old = len(self.renames), ""
        for beginning in beginnings(name):
            positions = self.renamed.get(beginning)
            if positions:
                at = bisect_left(positions, epoch)
                if at < len(positions) and positions[at] < found:
                    found, old = positions[at], beginning
        return found, old

    # -- marks ---------------------------------------------------------------------------

    def mark(self, name: str, epoch: int) -> int | None:
        """Return the mark of that whole name."""
        if epoch >= len(self.renames):
            return self.assembly.index.get(name)
        key = (name, epoch)
        if key not in self._marks:
            self._marks[key] = self.assembly.index.get(self.current(name, epoch))
        return self._marks[key]

    def along(self, name: str, axis: str, epoch: int) -> int | None:
        """Return the mark of that name, or where it names a hole, the hole's mark along an axis."""
        found = self.mark(name, epoch)
        return self.mark(f"{name}.{axis}", epoch) if found is None and name else found

    def hole(self, name: str, epoch: int) -> dict[str, int]:
        """Return the marks of a hole by their axes; empty where no hole is called that."""
        marks: dict[str, int] = {}
        for axis in AXES if name else ():
            mark = self.mark(f"{name}.{axis}", epoch)
            if mark is not None and self.assembly.marks[mark].axis == axis:
                marks[axis] = mark
        return marks if len(marks) > 1 else {}

    def beside(self, first: int, written: str, name: str, epoch: int) -> int | None:
        """Return the mark that the second name of a span means; the first is known, and as written."""
        index, mark = self.assembly.index, self.assembly.marks[first]
        parent = mark.name.rpartition(".")[0]
        for candidate in (
            self.current(f"{written.rpartition('.')[0]}.{name}", epoch),
            self.current(f"{mark.part}.{name}", epoch),
            f"{parent}.{name}",
        ):
            for whole in (candidate, f"{candidate}.{mark.axis}"):  # a hole has a mark on each of its axes
                if whole in index:
                    return index[whole]
        return self.along(name, mark.axis, epoch)

    def matching(self, pattern: str) -> list[tuple[int, tuple[str, ...]]]:
        """Return the marks that a name with `*` in it means, each with what the stars stand for."""
        if pattern not in self._patterns:
            words = (re.escape(word).replace(r"\*", "([^.]+)") for word in pattern.split("."))
            matches = re.compile(r"\.".join(words)).fullmatch
            self._patterns[pattern] = [
                (number, match.groups())
                for number, mark in enumerate(self.assembly.marks)
                if (match := matches(mark.name))
            ]
        return self._patterns[pattern]

    @property
    def parts(self) -> dict[str, list[int]]:
        """The marks of each part."""
        if self._parts is None:
            parts: dict[str, list[int]] = {part: [] for part in self.assembly.parts}
            for number, mark in enumerate(self.assembly.marks):
                parts.setdefault(mark.part, []).append(number)
            self._parts = parts
        return self._parts

    def covered(self, name: str, epoch: int) -> list[int]:
        """Return the marks that a name covers; of several parts if it is the beginning of several."""
        name = self.current(name, epoch)
        if name not in self._covered:
            self._covered[name] = self._all_of(name)
        return self._covered[name]

    def _all_of(self, name: str) -> list[int]:
        exact = self.assembly.index.get(name)
        if exact is not None:
            return [exact]
        if name in self.parts:
            return self.parts[name]
        part = next((beginning for beginning in beginnings(name) if beginning in self.parts), None)
        begins = tuple(name + boundary for boundary in ".-@")
        if part is None or not name:
            whole = (part for part in self.parts if part.startswith(begins[:2]))
            return [mark for part in whole for mark in self.parts[part]]
        return [mark for mark in self.parts[part] if self.assembly.marks[mark].name.startswith(begins)]

    def stations_named(self, cell: str, epoch: int) -> list[str]:
        """Return the stations that a cell names and the assembly does not have, of marks it has."""
        found: list[str | None] = []
        for span in cell.split("+"):
            first, _, second = span.partition("..")
            base = self._station_base(first.strip(), epoch, None)
            found.append(base)
            anchor = first.strip().partition("@")[0]
            found.append(self._station_base(second.strip(), epoch, anchor))
        return [name for name in found if name and name not in self.assembly.index]

    def _station_base(self, name: str, epoch: int, anchor: str | None) -> str | None:
        """The whole name of a station, if its mark is known; the second of a span by its first, `anchor`."""
        base, at, station = name.partition("@")
        if not at or not _STATION.fullmatch(station):
            return None
        first = None if anchor is None else self._based(anchor, epoch)
        if anchor is None or first is None:
            mark = self._based(base, epoch)
        else:
            mark = self.beside(first, anchor, base, epoch)
            if mark is None:
                parent = self.assembly.marks[first].name.partition("@")[0].rpartition(".")[0]
                known = (self._slanted(f"{before}.{base}") for before in (parent, self.assembly.marks[first].part))
                mark = next((one for one in known if one is not None), self._slanted(self.current(base, epoch)))
        return None if mark is None else f"{self.assembly.marks[mark].name.partition('@')[0]}@{station}"

    def _based(self, base: str, epoch: int) -> int | None:
        """A mark, or where it stands at stations of a slanted face alone, one of these."""
        mark = self.mark(base, epoch)
        return self._slanted(self.current(base, epoch)) if mark is None else mark

    def _slanted(self, base: str) -> int | None:
        if self._faces is None:
            names = ((slope.start, self.assembly.marks[slope.start].name) for slope in self.assembly.slopes)
            self._faces = {name.partition("@")[0]: mark for mark, name in names}
        return self._faces.get(base)

    # -- joints --------------------------------------------------------------------------

    def joints(self, words: str, epoch: int) -> list[int]:
        """Return the joints that have all these words in their name; the exact one alone if there is one."""
        if self._joints is None:
            self._joints = defaultdict(set)
            for number, joint in enumerate(self.assembly.joints):
                for word in {joint.block, *joint.parts, joint.name}:
                    self._joints[word].add(number)
        named = [self.current(word, epoch) for word in words.split()]
        whole = self._joints.get(" ".join(named))
        if whole and len(named) > 1:
            return sorted(whole)
        found: set[int] | None = None
        for word in named:
            having = self._joints.get(word, set())
            found = set(having) if found is None else found & having
        return sorted(found or ())

    # -- what may have been meant -----------------------------------------------------------

    def near(self, name: str) -> tuple[str, ...]:
        """Return names of marks or parts that are much like an unknown one."""
        if name not in self._near:
            if len(self._near) >= _SUGGESTIONS_MAX or len(name) > 200:
                return ()
            self._near[name] = self._nearest(name)
        return self._near[name]

    def star_word(self, name: str) -> str:
        """What the first star of a name could stand for: the first copy it fits; empty where it fits none."""
        head, _, _ = name.partition("*")
        fitting = (part[len(head) :].partition(".")[0] for part in self.parts if part.startswith(head))
        return next(fitting, "")

    def _nearest(self, name: str) -> tuple[str, ...]:
        """Marks of the part if the name begins with one, else of the part most like its beginning."""
        if star := self.star_word(name) if "*" in name else "":
            head, _, tail = name.partition("*")
            copy = head + star
            return tuple(head + "*" + one[len(copy) :] for one in self._nearest(copy + tail) if one.startswith(copy))
        part = next((beginning for beginning in beginnings(name) if beginning in self.parts), None)
        if part is not None:
            return _like(name, (self.assembly.marks[mark].name for mark in self.parts[part]))
        words = name.split(".")
        old = self.part_renamed(name)
        if old[1]:
            return (old[1] + name[len(old[0]) :],)
        found: list[str] = []
        for count in range(min(len(words), 3), 0, -1):
            for near in _like(".".join(words[:count]), self.parts):
                rest = ".".join(words[count:])
                found += _like(f"{near}.{rest}" if rest else near, self._names(near))
            if found:
                break
        return tuple(found[:2])

    def part_renamed(self, name: str) -> tuple[str, str]:
        """The part that a mark's name begins with where the plan has none of that name, and the one part of the same
        copy that has a mark called so: `long.front` and `rail.front`; two empty texts where nothing is as plain."""
        words = name.partition("@")[0].split(".")
        for count in range(len(words) - 1, 0, -1):
            old, rest = ".".join(words[:count]), ".".join(words[count:])
            if old in self.parts:
                return "", ""
            having = [part for part in self.parts if f"{part}.{rest}" in self.assembly.index]
            copies = [part for part in having if part.rpartition(".")[2] == words[count - 1]]
            if len(copies or having) == 1:
                return old, (copies or having)[0]
        return "", ""

    def _names(self, part: str) -> list[str]:
        return [part, *(self.assembly.marks[mark].name for mark in self.parts[part])]

    def near_joint(self, words: str) -> tuple[str, ...]:
        """Return names of joints that are much like an unknown one."""
        if words not in self._near_joints:
            if len(self._near_joints) >= _SUGGESTIONS_MAX or len(words) > 200:
                return ()
            names = [joint.name for joint in self.assembly.joints[:2000]]
            self._near_joints[words] = self._like_word_by_word(words, names) or _like(words, names)
        return self._near_joints[words]

    def _like_word_by_word(self, words: str, names: Sequence[str]) -> tuple[str, ...]:
        """Joints that have, for each word, the one most like it: a block, a part, or what its copy is called."""
        own = {word for name in names for word in name.split()}
        called = {**{word.rpartition(".")[2]: word for word in own}, **{word: word for word in own}}
        meant = [called[near[0]] if (near := _like(word, called)) else word for word in words.split()]
        return tuple(self.assembly.joints[joint].name for joint in self.joints(" ".join(meant), len(self.renames))[:2])


PLAINLY = 0.1
"""Of two names one is meant where it is more like the unknown one by this part of its letters."""


def plainly_meant(name: str, near: tuple[str, ...]) -> str:
    """Which of the nearest names was meant, where it is the only one or much the nearest; else nothing."""
    if len(near) < 2:
        return near[0] if near else ""
    from difflib import SequenceMatcher

    like = [SequenceMatcher(None, name, one).ratio() for one in near]
    return near[0] if like[0] - like[1] >= PLAINLY else ""


def _like(name: str, known: Iterable[str]) -> tuple[str, ...]:
    import difflib

    return tuple(difflib.get_close_matches(name, known, n=2, cutoff=0.6))


def beginnings(name: str) -> list[str]:
    """The name, and what stands before each of its dots and its @, longest first."""
    ends = [match.start() for match in re.finditer(r"[.@]", name)]
    return [name, *(name[:end] for end in reversed(ends))]
