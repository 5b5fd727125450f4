"""Head: the lengths at the head of a plan, its fits and its tools, worked out.

Lengths are exact fractions of a millimetre; fits and tools are in float64 mm, as the numbers
use them. A length that can't be read is said, and the usual one stands in for it so that the
rest of the plan can still be looked through.

Not here: the models (plan), what fits and tools are built in (fits, tools).
"""

from __future__ import annotations

import re
from dataclasses import field
from fractions import Fraction
from typing import TYPE_CHECKING

from fitsolve.build.fits import Fit, fit_fault
from fitsolve.build.locate import Path, shown
from fitsolve.build.stock import name_fault
from fitsolve.build.tools import TAPE_CLASSES, Tool, own_tool, tool_fault
from fitsolve.errors import Problem
from fitsolve.lengths import LengthError, Unit, read_length
from fitsolve.light import dataclass

if TYPE_CHECKING:
    from fitsolve.build.plan import Plan, ToolTable


LEAST_CHANCE = 1e-4

OVERCUT = 0.05
"""The chance that wood left on is too little for a joint, unless the plan says otherwise."""


@dataclass(frozen=True, slots=True)
class Head:
    """The lengths at the head of a plan in mm, exact; its own fits and tools. `give` may be None."""

    unit: Unit
    finest: Fraction
    workmanship: Fraction
    workmanship_width: Fraction
    give: Fraction | None
    strong: Fraction
    overcut: float = OVERCUT
    fits: dict[str, Fit] = field(default_factory=dict)
    tools: dict[str, Tool] = field(default_factory=dict)


_USUAL: dict[str, tuple[str, str, str]] = {
    "in": ("1/32", "1/32", "0.004"),
    "mm": ("0.5", "0.5", "0.1"),
}


def read_head(plan: Plan, problems: list[Problem]) -> Head:
    """Return the head of a plan; what is wrong is added to `problems`, and the usual stands in for it."""
    return _HeadReader(plan, problems).head()


class _HeadReader:
    """Reads the lengths at the head, the fits and the tools."""

    def __init__(self, plan: Plan, problems: list[Problem]) -> None:
        self.plan, self.problems = plan, problems

    def head(self) -> Head:
        plan = self.plan
        usual = _USUAL[plan.unit]
        values = [
            self.positive(key, getattr(plan, key), text, least_counts=key == "workmanship_width")
            for key, text in zip(("finest", "workmanship", "workmanship_width"), usual, strict=True)
        ]
        give = None if plan.give is None else self.positive("give", plan.give, "0")
        strong = values[0] / 2 if plan.strong is None else self.positive("strong", plan.strong, "0")
        fits = {name: fit for name, texts in plan.fits.items() if (fit := self.fit(name, texts))}
        tools = {name: tool for name, table in plan.tool.items() if (tool := self.tool(name, table))}
        overcut = OVERCUT if plan.overcut is None else self.chance("overcut", plan.overcut)
        return Head(plan.unit, values[0], values[1], values[2], give or None, strong, overcut, fits, tools)

    def positive(self, key: str, text: str | None, usual: str, least_counts: bool = False) -> Fraction:
        """A length of the head that is above 0, or the usual one; `least_counts` where 0 will do."""
        if text is None:
            return read_length(usual, self.plan.unit)
        length = self.length((key,), text)
        if length == 0 and not least_counts:
            hint = {
                "give": "Leave it out, or write (hold) behind a distance that may not drift.",
                "finest": "Write the smallest step laid out.",
            }
            what = f"{key} can't be 0"
            place = self.plan.source.spot((key,), text).place(0, len(text))
            self.problems.append(Problem(place, what, hint.get(key, "Nothing is ever cut exactly.")))
            length = None
        return read_length(usual, self.plan.unit) if length is None else length

    def chance(self, key: str, text: str) -> float:
        """A chance, as 5 % or as 0.05; what is no chance below a half is said, and the usual stands in."""
        match = re.fullmatch(r"\s*([0-9]{1,6}(?:\.[0-9]{0,12})?|\.[0-9]{1,12})\s*(%?)\s*", text)
        value = float(match[1]) / (100 if match[2] else 1) if match else 0.0
        if LEAST_CHANCE <= value < 0.5:
            return value
        what = f'"{shown(text)}" is no chance from 0.01 % up to less than 50 %'
        self.problems.append(self.plan.source.spot((key,), text).problem(what, "As in 5 % or 0.05.", 0, len(text)))
        return OVERCUT

    def length(self, path: Path, text: str, signed: bool = False) -> Fraction | None:
        """A length, in mm; None where it can't be read, which is said."""
        minus = signed and text.lstrip().startswith("-")
        try:
            length = read_length(text.lstrip()[1:].lstrip() if minus else text, self.plan.unit)
        except LengthError as error:
            place = self.plan.source.spot(path, text).place(error.column, error.width)
            expected = error.expected[:1].upper() + error.expected[1:] + "."
            self.problems.append(Problem(place, error.what, expected))
            return None
        return -length if minus else length

    def fit(self, name: str, texts: list[str]) -> Fit | None:
        path: Path = ("fits", name)
        place = self.plan.source.key_place(path)
        fault = name_fault(name, "fit")
        if fault is None and len(texts) != 3:
            fault = (
                f"a fit is three lengths, and here are {len(texts)}",
                "Least, aim and most, as in [0, 1/64, 1/16].",
            )
        if fault:
            self.problems.append(Problem(place, *fault))
            return None
        lengths = [self.length((*path, k), text, signed=True) for k, text in enumerate(texts)]
        least, aim, most = lengths
        if least is None or aim is None or most is None:
            return None
        fit = Fit(name, float(least), float(aim), float(most))
        fault = fit_fault(fit, self.plan.unit)
        if fault:
            self.problems.append(Problem(place, *fault))
            return None
        return fit

    def tool(self, name: str, table: ToolTable) -> Tool | None:
        path: Path = ("tool", name)
        place = self.plan.source.key_place(path)
        before = len(self.problems)
        fault = name_fault(name, "tool")
        if fault:
            self.problems.append(Problem(place, *fault))
        good_to, zero = (
            None if text is None else self.length((*path, key), text)
            for key, text in (("good_to", table.good_to), ("zero", table.zero))
        )
        per_length, scale = (
            None if text is None else self.number((*path, key), text)
            for key, text in (("per_length", table.per_length), ("scale", table.scale))
        )
        tape_class = next((known for known in TAPE_CLASSES if known == table.tape_class), None)
        if table.tape_class is not None and tape_class is None:
            where = self.plan.source.spot((*path, "class"), table.tape_class).place(0, len(table.tape_class))
            what = f'a tape has no class "{shown(table.tape_class)}"'
            self.problems.append(Problem(where, what, f"There are: {', '.join(TAPE_CLASSES)}."))
        if len(self.problems) > before:
            return None
        tool = own_tool(
            name,
            good_to_mm=None if good_to is None else float(good_to),
            per_length=per_length,
            zero_mm=None if zero is None else float(zero),
            scale=scale,
            tape_class=tape_class,
        )
        if tool is None:
            what, hint = f"the tool {name} does not say what it is good to", 'As in: good_to = "0.004"'
            self.problems.append(Problem(place, what, hint))
            return None
        fault = tool_fault(tool)
        if fault:
            self.problems.append(Problem(place, *fault))
            return None
        return tool

    def number(self, path: Path, text: str) -> float | None:
        if re.fullmatch(r"\s*-?(?:[0-9]{1,40}(?:\.[0-9]{0,60})?|\.[0-9]{1,60})\s*", text):
            return float(text)
        spot = self.plan.source.spot(path, text)
        self.problems.append(spot.problem(f'"{shown(text)}" is no plain number', "As in 0.0004.", 0, len(text)))
        return None
