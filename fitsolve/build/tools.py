"""Measuring tools: how far a reading may be off.

A reading r taken with a tool is good to

    U = good_to + per_length * r          (k = 2, a plain sum, mm),      u = U / 2

`good_to` holds what does not grow with the length: seeing the line, the feel of a jaw, a
hook; `per_length` what does: a tape is printed a little long or short. Both are what the tool
does *in the hand at the bench*, never the bare limit its maker promises: a caliper good to
0.02 mm repeats to about 0.1 mm on wood.

A tool may also have terms that all its readings share, so that enough readings can find them:
`zero_mm` (a worn hook) and `scale` (a stretched tape), each a U (k = 2) around nothing; 0
where the tool has no such term. No built-in tool has one: all that its limits permit is in
`good_to` and `per_length`, as if it differed from reading to reading. A tape that the plan gives
a class has it the other way round: what its class permits is shared by its readings, as it is
printed once, and `good_to` is only what reading it adds.

Where a limit is published in steps the numbers here are a straight line above all of them.
A tape of class a, b, c may be off by a + b * (length in m, rounded up to a whole metre), and
by c more once when it is hooked on: never more than (a + b + c) + b * length.

For a lean, the reading is what stands open at the end of the blade; the square's numbers are
for a blade of at most 200 mm.

Not here: beginnings of names (cli), the plan's text (plan), what readings say (graph, solve).

Sources stand beside each number, and in specs/references/tools.toml.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

from fitsolve.light import dataclass, replace

ToolKind = Literal["caliper", "rule", "tape", "rod", "feeler", "square", "other"]

PER_LENGTH_MOST = 0.1
"""A tool a tenth off its own reading measures nothing; so large a number is a slip of the pen."""


@dataclass(frozen=True, slots=True)
class Tool:
    """A measuring tool; the module says what its numbers mean. `source` says where they come from."""

    name: str
    good_to_mm: float
    per_length: float = 0.0
    source: str = ""
    kind: ToolKind = "other"
    zero_mm: float = 0.0
    scale: float = 0.0

    def u_mm(self, reading_mm: float) -> float:
        """Return the standard uncertainty (k = 1) of one reading, in mm; the sign of it says nothing."""
        return (self.good_to_mm + self.per_length * abs(reading_mm)) / 2

    @property
    def zero_u_mm(self) -> float:
        """The standard uncertainty (k = 1) of the zero its readings share, in mm; 0 for none."""
        return self.zero_mm / 2

    @property
    def scale_u(self) -> float:
        """The standard uncertainty (k = 1) of the scale its readings share; 0 for none."""
        return self.scale / 2


_PRACTICE = "common practice, no source"

TapeClass = Literal["I", "II", "III"]

TAPE_CLASSES: Mapping[TapeClass, tuple[float, float, float]] = {
    "I": (0.1, 0.1, 0.1),
    "II": (0.3, 0.2, 0.2),
    "III": (0.6, 0.4, 0.3),
}
"""Limits of error of a tape, a + b L (L in m, rounded up), c for the hook: a mm, b mm/m, c mm.
Directive 2014/32/EU, material measures (OIML R 35-1)."""

TAPE_READ_TO_MM = 0.25
"""How well a tape's lines are read between half millimetres (common practice, no source)."""

_TAPES = "limits of error a + b L, c for the hook: Directive 2014/32/EU, material measures (OIML R 35-1), "

_TAPE_2 = Tool(
    "tape-2",
    0.7,
    0.0002,
    _TAPES + "class II: a 0.3 mm, b 0.2 mm/m, c 0.2 mm; a straight line above it",
    "tape",
)

BUILT_IN: Mapping[str, Tool] = {
    tool.name: tool
    for tool in (
        Tool(
            "caliper", 0.1, 0.0, f"in a woodworker's hand ({_PRACTICE}), not the tool's own limit", "caliper"
        ),
        Tool(
            "rule",
            0.3,
            0.00005,
            f"0.25 mm for reading between half millimetres ({_PRACTICE}), and limits of error "
            "50 um + L/20000: DIN 866, form B (from memory)",
            "rule",
        ),
        replace(_TAPE_2, name="tape"),
        Tool(
            "tape-1",
            0.3,
            0.0001,
            _TAPES + "class I: a 0.1 mm, b 0.1 mm/m, c 0.1 mm; a straight line above it",
            "tape",
        ),
        _TAPE_2,
        Tool(
            "tape-3",
            1.3,
            0.0004,
            _TAPES + "class III: a 0.6 mm, b 0.4 mm/m, c 0.3 mm; a straight line above it",
            "tape",
        ),
        Tool("rod", 0.2, 0.0, f"a pinch rod set by feel at both ends ({_PRACTICE})", "rod"),
        Tool("feeler", 0.05, 0.0, f"one leaf goes in and the next does not ({_PRACTICE})", "feeler"),
        Tool(
            "knife", 0.1, 0.0, f"a line knifed off the part itself ({_PRACTICE}); for what was copied, not read"
        ),
        Tool(
            "square",
            0.3,
            0.0,
            f"0.1 mm for judging the gap ({_PRACTICE}), and 0.2 mm over a blade of 200 mm: "
            "0.01 mm per 10 mm, BS 3322, as stated by a maker of squares",
            "square",
        ),
    )
}
"""The tools every build knows. `tape` is a tape of class II, the usual one."""


REACH_MM: Mapping[ToolKind, float] = {"caliper": 320.0, "feeler": 10.0}
"""What a tool spans at most: a caliper of 12 in or 300 mm and a little more; feelers on top of each other.
Common practice, no source. There are longer calipers: whoever names one is believed."""


def reaches(tool: Tool | None, length_mm: float) -> bool:
    """Return whether a tool of that kind is likely to span a length."""
    return tool is None or abs(length_mm) <= REACH_MM.get(tool.kind, math.inf)


def find_tool(name: str, own: Mapping[str, Tool] | None = None) -> Tool | None:
    """Return the tool of that whole name, the build's own before the built-in one, or None."""
    return (own or {}).get(name) or BUILT_IN.get(name)


def unknown_tool(name: str, own: Mapping[str, Tool] | None = None) -> tuple[str, str]:
    """Return what is wrong with a name that no tool has, and what may have been meant."""
    import difflib

    known = sorted({*BUILT_IN, *(own or {})})
    whole = [word for word in name.lower().replace("-", " ").split() if word in known]  # the rod of `pinch rod`
    near = whole or difflib.get_close_matches(name.lower(), known, n=2, cutoff=0.6)
    hint = f"Did you mean {' or '.join(near)}?" if near else f"There are: {', '.join(known)}."
    return f'no tool is called "{name}"', f"{hint} A tool of your own goes into the plan, as [tool.NAME]."


def like_built_in(name: str) -> str:
    """Return the built-in tool that a name is nearly spelt like; empty where there is none, or it is one."""
    import difflib

    near = difflib.get_close_matches(name.lower(), BUILT_IN, n=1, cutoff=0.85)
    return near[0] if near and name not in BUILT_IN else ""


def own_tool(
    name: str,
    *,
    good_to_mm: float | None = None,
    per_length: float | None = None,
    zero_mm: float | None = None,
    scale: float | None = None,
    tape_class: TapeClass | None = None,
) -> Tool | None:
    """Return a tool as the plan has it: what it leaves out is as its class, else as built in.

    None where a tool that is not built in does not say what it is good to.
    """
    known = BUILT_IN.get(name)
    if tape_class is not None:
        a, b, c = TAPE_CLASSES[tape_class]
        zero, share = a + b + c, b / 1000  # one b more, for the length is rounded up to a whole metre
        known = Tool(name, TAPE_READ_TO_MM, kind="tape", zero_mm=zero, scale=share)
    if known is None:
        if good_to_mm is None:
            return None
        known = Tool(name, good_to_mm)
    return replace(
        known,
        good_to_mm=known.good_to_mm if good_to_mm is None else good_to_mm,
        per_length=known.per_length if per_length is None else per_length,
        zero_mm=known.zero_mm if zero_mm is None else zero_mm,
        scale=known.scale if scale is None else scale,
        source="the plan of this build",
    )


def tool_fault(tool: Tool) -> tuple[str, str] | None:
    """Return what is wrong with a tool's numbers and what to do, or None where nothing is."""
    good_to = f"the tool {tool.name} is good to {tool.good_to_mm:g} mm"
    if tool.good_to_mm == math.inf:
        return f"{good_to}: that says nothing", "Give it a good_to that is a length."
    if not tool.good_to_mm > 0:
        return (
            f"{good_to}: no reading is that exact",
            "Give it a good_to above 0: how far a reading may be from the truth.",
        )
    if not 0 <= tool.zero_mm < math.inf:
        return (
            f"the zero of the tool {tool.name} may be off by {tool.zero_mm:g} mm: that is no amount",
            "Give it a zero of 0 or more, or leave it out.",
        )
    for key, value in (("per_length", tool.per_length), ("scale", tool.scale)):
        if not 0 <= value <= PER_LENGTH_MOST:
            return (
                f"{key} of the tool {tool.name} is {value:g}: {_why_no_share(value)}",
                f"Give a number from 0 to {PER_LENGTH_MOST:g}, as 0.0004 for 0.4 mm in a metre.",
            )
    return None


def _why_no_share(value: float) -> str:
    if math.isnan(value):
        return "that is no number"
    return "it can't be below 0" if value < 0 else f"that is {value * 1000:g} mm in every metre"
