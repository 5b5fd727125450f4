"""A small invented assembly for the tests of the log: two legs in two frames' aprons, made by hand.

Along x, in mm, the plan being

    leg.a  outer 0 .. inner 100          leg.b  inner 900 .. outer 1000
    apron.front  l.end -200, l.dado-o 0, l.dado-i 100, r.dado-i 900, r.dado-o 1000, r.end 1200
    apron.rear   the same

Along z: leg.*.foot 0, leg.*.head 800; apron.*.low 600, apron.*.top 800, flush with the heads.
Along y: leg.*.face 0, leg.*.back 100; shelf.edge 100, against the back of leg.a.
`loose.l`, `loose.r` lie along x in a part that no joint ties. `rail.a`, `rail.b` have bottom 0
and top 80 along z, tied to nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace

from fitsolve.build.assembly import Assembly, Axis, Contact, Joint, Mark
from fitsolve.build.logtext import HEADER, Log, Row, parse_log
from fitsolve.build.state import State, settle
from fitsolve.build.tools import Tool
from fitsolve.errors import Problem

TOOLS = {"stick": Tool("stick", 1.0), "gauge": Tool("gauge", 0.2, 0.001)}

_LEG_X = {"leg.a": {"outer": 0.0, "inner": 100.0}, "leg.b": {"inner": 900.0, "outer": 1000.0}}
_APRON_X = {
    "l.end": -200.0, "l.dado-o": 0.0, "l.dado-i": 100.0,
    "r.dado-i": 900.0, "r.dado-o": 1000.0, "r.end": 1200.0,
}  # fmt: skip


def _plan() -> Iterable[tuple[str, Axis, dict[str, float], int]]:
    for leg in ("leg.a", "leg.b"):
        yield leg, "x", _LEG_X[leg], 0
        yield leg, "y", {"face": 0.0, "back": 100.0}, 1
        yield leg, "z", {"foot": 0.0, "head": 800.0}, 2
    for apron in ("apron.front", "apron.rear"):
        yield apron, "x", _APRON_X, 0
        yield apron, "z", {"low": 600.0, "top": 800.0}, 2
    yield "shelf", "y", {"edge": 100.0}, 1
    yield "loose", "x", {"l": 0.0, "r": 50.0}, 3
    yield "rail.a", "z", {"bottom": 0.0, "top": 80.0}, 4
    yield "rail.b", "z", {"bottom": 0.0, "top": 80.0}, 5


def bench() -> Assembly:
    """The assembly of the module."""
    marks: list[Mark] = []
    placed: list[int] = []
    for part, axis, at, group in _plan():
        middle = (min(at.values()) + max(at.values())) / 2
        for name, mm in at.items():
            marks.append(Mark(f"{part}.{name}", part, axis, mm, None, (mm > middle) - (mm < middle)))
            placed.append(group)
    index = {mark.name: number for number, mark in enumerate(marks)}
    contacts: list[Contact] = []
    joints: list[Joint] = []

    def joint(block: str, parts: tuple[str, ...], *meet: tuple[str, Axis, tuple[str, ...]]) -> None:
        first = len(contacts)
        for kind, axis, names in meet:
            numbers = tuple(index[name] for name in names)
            contacts.append(Contact(len(joints), kind, axis, numbers, "slip", 0.0, 0.1, 0.4))  # type: ignore[arg-type]
        name = f"{block} {' '.join(parts)}"
        joints.append(Joint(name, block, parts, tuple(range(first, len(contacts)))))

    for apron in ("apron.front", "apron.rear"):
        for leg, e, low, high in (("leg.a", "l", "outer", "inner"), ("leg.b", "r", "inner", "outer")):
            dado = ("dado-o", "dado-i") if e == "l" else ("dado-i", "dado-o")
            names = (f"{leg}.{low}", f"{leg}.{high}", f"{apron}.{e}.{dado[0]}", f"{apron}.{e}.{dado[1]}")
            joint("dado", (apron, leg), ("housing", "x", names))
    joint("butt", ("shelf", "leg.a"), ("butt", "y", ("leg.a.back", "shelf.edge")))
    parts = tuple(dict.fromkeys(mark.part for mark in marks))
    return Assembly(
        "An invented bench", "mm", 0.5, 0.5, 0.1, parts, tuple(marks), index, (), (),
        tuple(contacts), tuple(joints), (), (), tuple(placed),
    )  # fmt: skip


def with_station(assembly: Assembly, base: str, station: str) -> Assembly:
    """The assembly with one more station, as the plan would have it."""
    of = assembly.index[base]
    mark = replace(assembly.marks[of], name=f"{base}@{station}", station_of=of)
    return replace(
        assembly,
        marks=(*assembly.marks, mark),
        index={**assembly.index, mark.name: len(assembly.marks)},
        placed=(*assembly.placed, assembly.placed[of]),
    )


def log_of(text: str) -> Log:
    """A log from rows written without number and time: `event, from, to, reading, tool, note`."""
    lines = [line.strip() for line in text.strip().splitlines() if line.strip()]
    numbered = [f"{no},2024-05-17T14:{no % 60:02}:00,{line}" for no, line in enumerate(lines, 1)]
    full = [line + "," * (7 - line.count(",")) for line in numbered]
    return parse_log("\n".join([HEADER, *full, ""]).encode())


def settled(text: str, assembly: Assembly | None = None) -> State:
    """What a log leaves true."""
    return settle(assembly or bench(), log_of(text), TOOLS)[1]


def settled_rows(rows: Iterable[Row], assembly: Assembly | None = None) -> State:
    return settle(assembly or bench(), Log(rows=tuple(rows)), TOOLS)[1]


def names_in(assembly: Assembly, state: State, which: int) -> set[str]:
    """The marks that are in a state."""
    return {mark.name for mark, s in zip(assembly.marks, state.marks, strict=True) if s == which}


def said(assembly: Assembly, state: State) -> list[tuple[int, dict[str, float], float]]:
    """The readings that count: number, terms by name, value."""
    rows = []
    for reading in state.readings:
        terms: dict[str, float] = defaultdict(float)
        for mark, coef in reading.terms:
            terms[assembly.marks[mark].name] += coef
        rows.append((reading.no, dict(terms), reading.value_mm))
    return rows


def errors(state: State) -> list[Problem]:
    return [problem for problem in state.problems if problem.level == "error"]
