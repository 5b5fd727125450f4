"""Names as they are typed: any unambiguous beginning of a part, a mark or a tool will do, and any
words or beginnings of words that only one joint has.

A name is matched word by word between its dots: `le.fl.low.ch` begins `leg.fl.low.cheek-o`. A
name that is typed whole is meant, even where others begin with it. What could be several is
refused, with the candidates; what comes back is whole, as it goes into the log.

Not here: names that stand in the log already (lookup).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from fitsolve.build.assembly import Assembly
from fitsolve.build.lookup import Lookup
from fitsolve.build.tools import BUILT_IN, Tool, unknown_tool
from fitsolve.cli.common import refuse
from fitsolve.errors import BuildError
from fitsolve.light import pattern

_STATION = pattern(r"[A-Za-z][A-Za-z0-9.-]*")
_SHOWN_MOST = 8


def begins(typed: str, name: str) -> bool:
    """Whether what was typed begins the name, word by word between the dots.

    >>> begins("le.f", "leg.fl"), begins("l.o", "leg.fl")
    (True, False)
    """
    typed_words, words = typed.lower().split("."), name.lower().split(".")
    return len(typed_words) <= len(words) and all(
        word.startswith(start) for start, word in zip(typed_words, words, strict=False)
    )


def listed(names: Sequence[str]) -> str:
    """Names in a row, the first few of them if they are many."""
    rest = len(names) - _SHOWN_MOST
    return ", ".join(names[:_SHOWN_MOST]) + (f" and {rest} more" if rest > 0 else "")


class Names:
    """The names of one build. Each method returns a whole name, or raises BuildError."""

    def __init__(self, assembly: Assembly, tools: Mapping[str, Tool]) -> None:
        self.assembly = assembly
        self.tools = tools
        self.lookup = Lookup(assembly)

    def part(self, typed: str) -> str:
        """The part that was meant."""
        return self._one(typed, self.assembly.parts, "part")

    def part_with_marks(self, typed: str) -> str:
        """The part that was meant, where it has a mark: of others there is nothing to read, cut or draw."""
        name = self.part(typed)
        if all(mark.part != name for mark in self.assembly.marks):
            raise refuse(f"{name} has no marks yet", 'Give it a run in plan.toml, as x = "left 60 right".', typed)
        return name

    def mark(self, typed: str, part: str = "", axis: str = "") -> str:
        """The mark that was meant: one of `part` if there is any, else a whole name; of several the one along
        `axis`."""
        base, at, station = typed.partition("@")
        if not at or typed in self._own(part) or typed in self.assembly.index:
            return self._mark(typed, part, axis)
        alone = self._alone(base, part)
        if not alone:
            return self._station(self._mark(base, part, axis), station, typed)
        near = [name for name in alone if begins(station, name.partition("@")[2])]
        if not near and (on_face := self._on_face(alone, station)):
            return on_face
        if len(near) != 1:
            raise self._no_mark(typed, part, list(self._own(part)))
        return near[0]

    def _on_face(self, alone: list[str], station: str) -> str:
        """A station of a slanted face, which stands in runs at other stations alone; empty where it has no place."""
        bases = {name.partition("@")[0] for name in alone}
        if len(bases) != 1 or not self.assembly.slopes or not _STATION.fullmatch(station):
            return ""
        from fitsolve.build.stations import with_stations

        base = bases.pop()
        part = self.assembly.marks[self.assembly.index[alone[0]]].part
        own = [name for name in self._own(part) if "@" not in name]
        near = [station] if station in own else [name for name in own if begins(station, name)]
        whole = f"{base}@{near[0]}" if len(near) == 1 else ""
        return whole if whole and whole in with_stations(self.assembly, [whole]).index else ""

    def _alone(self, typed: str, part: str) -> list[str]:
        """The stations that the name before an @ means, where it is no mark by itself."""
        index, stations = self.assembly.index, [m for m in self.assembly.marks if "@" in m.name]
        own = {m.name: m.name.partition("@")[0] for m in stations if part in ("", m.part)}
        alone = {name: base for name, base in own.items() if base not in index}
        exact = [name for name, base in alone.items() if base in (typed, f"{part}.{typed}")]
        if exact or any("@" not in name and begins(typed, name) for name in (self._own(part) or index)):
            return exact
        start = len(part) + 1 if part else 0
        return [name for name, base in alone.items() if begins(typed, base[start:])]

    def _own(self, part: str) -> dict[str, str]:
        """The marks of a part, by their names inside it."""
        marks = self.assembly.marks
        return {m.name[len(part) + 1 :]: m.name for m in marks if part and m.part == part}

    def _mark(self, typed: str, part: str, axis: str = "") -> str:
        own = self._own(part)
        if typed in own:
            return own[typed]
        if typed in self.assembly.index:
            return typed
        if not typed:
            raise refuse("a mark is missing", "Name it, as outer.")
        inside = [whole for name, whole in own.items() if begins(typed, name) and "@" not in name]
        found = inside or [m.name for m in self.assembly.marks if "@" not in m.name and begins(typed, m.name)]
        along = [name for name in found if self.axis_of(name) == axis]
        if len(found) == 1 or len(along) == 1:
            return (along or found)[0]
        if found:
            raise refuse(f'"{typed}" could be {len(found)} marks: {listed(found)}', "Type more of it.", typed)
        raise self._no_mark(typed, part, list(own))

    def hole(self, typed: str, part: str = "") -> str:
        """The hole that was meant, by its whole name: one of `part` if there is any; empty where there is not just
        one."""
        marks = self.assembly.marks
        stems = dict.fromkeys(marks[k].name.rpartition(".")[0] for k in sorted(self.assembly.holes))
        start = f"{part}." if part else ""
        holes = [one for one in stems if one.startswith(start) and self.lookup.hole(one, 0)]
        exact = [one for one in holes if typed in (one, one[len(start) :])]
        inside = {one[len(start) :]: one for one in holes}
        begun = [one for name, one in inside.items() if typed.count(".") == name.count(".") and begins(typed, name)]
        found = exact or begun
        return found[0] if typed and len(found) == 1 else ""

    def axis_of(self, name: str) -> str:
        """The axis of a mark, or of the mark whose station it is."""
        return self.assembly.marks[self.kin(name)].axis

    def kin(self, name: str) -> int:
        """A mark of the edge of a whole name, which may be a station that only the log will name."""
        from fitsolve.build.stations import kin

        number = self.assembly.index.get(name)
        number = kin(self.assembly, name) if number is None else number
        assert number is not None, "a name that was found belongs to an edge"
        return number

    def _no_mark(self, typed: str, part: str, own: list[str]) -> Exception:
        import difflib

        there = [one for one in self.assembly.parts if part and typed.startswith(f"{one}.")]
        if there and (home := max(there, key=len)) != part:
            return self._no_mark(typed[len(home) + 1 :], home, list(self._own(home)))
        copies = self.lookup.matching(typed) if "*" in typed else []
        halves = [(typed[:k], typed[k + 1 :]) for k, sign in enumerate(typed) if sign == "-"]
        if span := next((pair for pair in halves if pair[0] in own and pair[1] in own), None):
            return refuse(f'"{_shown(typed)}" is two marks', f"A span is written {span[0]}..{span[1]}.", typed)
        if copies:
            names = listed([self.assembly.marks[mark].name for mark, _ in copies])
            return refuse(f"{typed} is {len(copies)} marks: {names}", "Name one of them.", typed)
        near = difflib.get_close_matches(typed, own, n=2) or list(self.lookup.near(typed))
        if near:
            hint = f"Did you mean {' or '.join(near)}?"
        elif own:
            hint = f"{part} has: {listed(own)}."
        else:
            hint = "Name it whole, as part and mark: fitsolve plan lists them."
        where = f"{part} has no mark" if own else "the plan has no mark"
        return refuse(f'{where} "{_shown(typed)}"', hint, typed)

    def _station(self, mark: str, typed: str, whole: str) -> str:
        """A station of a mark; it is named after a mark of the same part, and need not be in the plan."""
        if not _STATION.fullmatch(typed):
            raise refuse(f'"{_shown(typed)}" is no name of a station', "Write it as outer@foot.", whole)
        part = self.assembly.marks[self.assembly.index[mark]].part
        own = [name for name in self._own(part) if "@" not in name]
        known = [name.partition("@")[2] for name in self._own(part) if "@" in name]
        names = list(dict.fromkeys([*known, *own]))
        near = [name for name in names if begins(typed, name)]
        return f"{mark}@{near[0] if len(near) == 1 and typed not in names else typed}"

    def span(self, typed: str, part: str = "") -> tuple[str, str]:
        """Two marks written FROM..TO: TO stands beside FROM, as in l.dado-o..dado-i, else anywhere in its part,
        else is a whole name."""
        first, dots, second = typed.partition("..")
        if not dots or not first or not second:
            raise refuse(f'"{_shown(typed)}" is no span', "Write it as leg.fl.outer..inner.", typed)
        start = self.first(first, part, second)
        return start, self.second(start, second)

    def first(self, typed: str, part: str, other: str) -> str:
        """The first of two marks; where it could be several, the one along the axis of the other."""
        try:
            return self.mark(typed, part)
        except BuildError:
            try:
                return self.mark(typed, part, self.axis_of(self.mark(other, part)))
            except BuildError:
                pass
            raise

    def second(self, start: str, typed: str) -> str:
        """The mark that is meant beside another one, along whose axis it lies where it could be several."""
        base = start.partition("@")[0]
        part = self.assembly.marks[self.kin(start)].part
        beside = base.rpartition(".")[0]
        if f"{beside}.{typed}" in self.assembly.index:
            return f"{beside}.{typed}"
        axis = self.axis_of(start)
        try:
            return self.mark(typed, part, axis)
        except BuildError:
            if beside == part:
                raise
            try:
                return self.mark(f"{beside[len(part) + 1 :]}.{typed}", part, axis)
            except BuildError:
                pass
            raise

    def pair(self, words: Sequence[str]) -> tuple[str, str]:
        """Two marks from words: FROM..TO, PART FROM..TO, FROM TO, PART FROM TO or PART FROM PART TO."""
        if words and ".." in words[-1] and len(words) < 3:
            return self.span(words[-1], self.part(words[0]) if len(words) == 2 else "")
        if len(words) == 4:
            return self.mark(words[1], self.part(words[0])), self.mark(words[3], self.part(words[2]))
        if len(words) not in (2, 3):
            what = "name two marks" if len(words) < 2 else "that is more than two marks"
            hint = "As leg.fl outer inner, or leg.fl outer..inner; of two parts: leg.fl inner leg.fr inner."
            raise refuse(what, hint, " ".join(words))
        if len(words) == 2 and words[0] in self.assembly.parts and words[0] not in self.assembly.index:
            raise refuse(f"{words[0]} is a part: name two of its marks", f"As {words[0]} FROM TO.", " ".join(words))
        start = self.first(words[-2], self.part(words[0]) if len(words) == 3 else "", words[-1])
        return start, self.second(start, words[-1])

    def covered(self, typed: str, whole_block: bool = False) -> str:
        """What `made` may be said of: a part, a mark, or the beginning of several marks of a part; where a
        `whole_block` will do, the beginning of several parts too."""
        if typed in self.assembly.index or typed in self.assembly.parts:
            return typed
        if "@" in typed:
            return self.mark(typed)
        marks = self.lookup.covered(typed, 0) if typed else []
        if marks and (whole_block or len({self.assembly.marks[mark].part for mark in marks}) == 1):
            return typed
        parts = [part for part in self.assembly.parts if typed and begins(typed, part)]
        if parts:
            return self._one(typed, parts, "part")
        return self._mark(typed, "")

    def covered_in(self, typed: str, part: str) -> str:
        """A mark of a part, or the beginning of several: `l.dado`, and `l.d` where only those begin so."""
        whole = typed if typed == part or typed.startswith(f"{part}.") else f"{part}.{typed}"
        if whole in self.assembly.index or (typed and self.lookup.covered(whole, 0)):
            return whole
        found = [m for n, m in self._own(part).items() if typed and begins(typed, n) and "@" not in n]
        if len(found) == 2:  # the two walls of one thing, and nothing else
            start = found[0]
            while start and not all(name.startswith(start) for name in found):
                start = start[:-1]
            start = start.rstrip(".-")
            if len(start) > len(part) and sorted(self._covered_names(start)) == sorted(found):
                return start
        return self._mark(typed, part) if "@" not in typed else self.mark(typed, part)

    def _covered_names(self, name: str) -> list[str]:
        return [self.assembly.marks[mark].name for mark in self.lookup.covered(name, 0)]

    def joint(self, typed: str) -> str:
        """The joint that was meant, by words that begin its block or its parts, in any order."""
        joints = self.assembly.joints
        if not typed.split():
            raise refuse("a joint is missing", "Name its block or its parts, as dado apron.front leg.fl.")
        exact = self.lookup.joints(typed, 0)
        if len(exact) == 1:
            return joints[exact[0]].name
        found = [joints[k].name for k in exact] or _having(typed, [joint.name for joint in joints])
        if len(found) == 1:
            return found[0]
        if found:
            raise refuse(f'"{typed}" could be {len(found)} joints: {"; ".join(found[:_SHOWN_MOST])}'
                         + ("; ..." if found[_SHOWN_MOST:] else ""), "Type more of it.", typed)  # fmt: skip
        near = self.lookup.near_joint(typed)
        hint = f"Did you mean {' or '.join(near)}?" if near else "fitsolve plan lists the joints."
        raise refuse(f'the plan has no joint "{_shown(typed)}"', hint, typed)

    def is_word_of_joint(self, typed: str) -> bool:
        """Whether a word is one of a joint's own name."""
        return any(_is_word(typed.lower(), own) for joint in self.assembly.joints for own in joint.name.split())

    def tool(self, typed: str) -> str:
        """The tool that was meant."""
        known = sorted({*BUILT_IN, *self.tools})
        if not any(begins(typed, name) for name in known):
            raise refuse(*unknown_tool(_shown(typed), self.tools), typed)
        return self._one(typed, known, "tool")

    def _one(self, typed: str, known: Iterable[str], kind: str) -> str:
        names = list(known)
        if typed in names:
            return typed
        found = [name for name in names if typed and begins(typed, name)]
        found = found or [name for name in names if typed and _is_word(typed.lower(), name)]
        if len(found) == 1:
            return found[0]
        if found:
            what = f'"{typed}" could be {len(found)} {kind}s: {listed(found)}'
            raise refuse(what, "Type more of it.", typed)
        import difflib

        near = difflib.get_close_matches(typed, names, n=2)
        hint = f"Did you mean {' or '.join(near)}?" if near else f"There are: {listed(names)}."
        raise refuse(f'the plan has no {kind} "{_shown(typed)}"', hint, typed)


def _having(typed: str, names: Sequence[str]) -> list[str]:
    """The joints with all the words typed: whole words of them if there are such, else beginnings."""
    words = typed.lower().split()
    for fits in (_is_word, _begins_word):
        found = [one for one in names if all(any(fits(word, own) for own in one.split()) for word in words)]
        if found:
            return found
    return []


def _is_word(typed: str, own: str) -> bool:
    return typed in tails(own.lower())


def _begins_word(typed: str, own: str) -> bool:
    return any(begins(typed, tail) for tail in tails(own))


def tails(name: str) -> list[str]:
    """A name, and what stands behind each of its dots.

    >>> tails("leg.fl")
    ['leg.fl', 'fl']
    """
    words = name.split(".")
    return [".".join(words[k:]) for k in range(len(words))]


def _shown(text: str) -> str:
    text = "".join(c if c.isprintable() else "\ufffd" for c in text)
    return text if len(text) <= 60 else text[:57] + "..."
