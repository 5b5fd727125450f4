"""Plan: what the maker wrote, as models that can be made in Python or read from `plan.toml`.

The models hold the maker's own text (lengths, runs, sentences); `place.assemble` works them
out. All errors of a file come in one go, with file, line, key and caret.

Not here: what the text means (language, sentences, parts), where parts lie (place).
The JSON Schema generated from these models stands in specs/plan.schema.json.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr, ValidationError

from fitsolve.build.fits import BUILT_IN as BUILT_IN_FITS
from fitsolve.build.fits import Fit, fit_fault
from fitsolve.build.draft_source import Path, Source, scan
from fitsolve.build.tools import BUILT_IN as BUILT_IN_TOOLS
from fitsolve.build.tools import Tool, own_tool, tool_fault
from fitsolve.errors import BuildError, Place, Problem
from fitsolve.lengths import LengthError, Unit, read_length

PLAN_BYTES_MAX = 1 << 26

LengthText = Annotated[
    str | int | float | Decimal, Field(description="A length as the trade writes it, in the unit of the build.")
]
Number = Annotated[float | Decimal | int | str, Field(description="A plain number.")]
Runs = Annotated[str | list[str], Field(description="A run or several, such as `outer 4 inner`.")]
Sentences = str | list[str]


class _Block(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_max_length=1 << 24)


class ToolBlock(_Block):
    """A measuring tool: U = good_to + per_length * reading, plus or minus, k = 2."""

    good_to: LengthText | None = None
    per_length: Number | None = None
    note: str = ""


class PartBlock(_Block):
    """A part: its copies, and its runs along each axis as drawn."""

    copies: list[str] | dict[str, str] | None = None
    x: Runs = Field(default_factory=list)
    y: Runs = Field(default_factory=list)
    z: Runs = Field(default_factory=list)
    note: str = ""


class JointBlock(_Block):
    """A kind of joint: sentences, and a table with one row for each time it is made."""

    each: str | None = None
    meet: Sentences
    note: str = ""


class Plan(_Block):
    """A whole plan; see specs/language.md for what its texts mean."""

    format: Literal[1] = 1
    title: str = ""
    unit: Unit
    finest: LengthText | None = None
    workmanship: LengthText | None = None
    workmanship_width: LengthText | None = None
    give: LengthText | None = None
    fits: dict[str, list[LengthText]] = Field(default_factory=dict)
    tool: dict[str, ToolBlock] = Field(default_factory=dict)
    part: dict[str, PartBlock] = Field(default_factory=dict)
    joint: dict[str, JointBlock] = Field(default_factory=dict)
    keep: dict[str, Sentences] = Field(default_factory=dict)
    check: dict[str, Sentences] = Field(default_factory=dict)

    _source: Source = PrivateAttr(default_factory=Source)

    @property
    def source(self) -> Source:
        """Where everything stands in the file; empty for a plan made in Python."""
        return self._source

    def tools(self) -> Mapping[str, Tool]:
        """The build's own tools by name. Raises BuildError with every one that makes no sense."""
        settings = Settings.of(self)
        if settings.problems:
            raise BuildError(settings.problems)
        return settings.tools


class Settings:
    """The lengths, fits and tools at the head of a plan, worked out; `problems` says what is wrong."""

    USUAL: Mapping[str, Mapping[str, str]] = {
        "in": {"finest": "1/32", "workmanship": "1/32", "workmanship_width": "0.004"},
        "mm": {"finest": "0.5", "workmanship": "0.5", "workmanship_width": "0.1"},
    }

    def __init__(self, plan: Plan) -> None:
        self.plan, self.unit = plan, plan.unit
        self.problems: list[Problem] = []
        self.finest = self.head("finest", positive=True)
        self.workmanship = self.head("workmanship")
        self.workmanship_width = self.head("workmanship_width")
        self.give = None if plan.give is None else self.length(plan.give, ("give",), positive=True)
        self.fits: dict[str, Fit] = {}
        self.tools: dict[str, Tool] = {}
        for name, numbers in plan.fits.items():
            self.fit(name, numbers)
        for name, block in plan.tool.items():
            self.tool(name, block)

    @classmethod
    def of(cls, plan: Plan) -> Settings:
        """Work out the head of a plan."""
        return cls(plan)

    def report(self, place: Place, what: str, hint: str = "") -> None:
        """Note a problem."""
        self.problems.append(Problem(place, what, hint))

    def head(self, key: str, positive: bool = False) -> Fraction:
        """One of the lengths at the head, or what is usual."""
        given = getattr(self.plan, key)
        usual = self.USUAL[self.unit][key]
        if given is None:
            return read_length(usual, self.unit)
        read = self.length(given, (key,), positive=positive)
        return read_length(usual, self.unit) if read is None else read

    def length(
        self, given: str | float | Decimal, path: Path, number: int = 0, positive: bool = False
    ) -> Fraction | None:
        """A length given as text or as a number in the build's unit; None when it was reported."""
        text = given if isinstance(given, str) else _written(given)
        try:
            read = read_length(text, self.unit)
        except LengthError as wrong:
            place = self.plan.source.place(path, number, wrong.column, wrong.width)
            if place.column is None:
                place = Place(place.file, place.line, place.key, wrong.text, wrong.column, wrong.width)
            self.report(place, wrong.what)
            return None
        if positive and read == 0:
            self.report(self.plan.source.place(path, number, 0, len(text)), f"{path[-1]} cannot be 0")
            return None
        return read

    def fit(self, name: str, numbers: list[str | int | float | Decimal]) -> None:
        """One of the plan's own fits."""
        path = ("fits", name)
        place = self.plan.source.place(path)
        if len(numbers) != 3:
            self.report(place, f"{len(numbers)} lengths, but a fit has three", "Write [least, aim, most].")
            return
        read = [self.length(one, path, k) for k, one in enumerate(numbers)]
        least, aim, most = read
        if least is None or aim is None or most is None:
            return
        fit = Fit(name, float(least), float(aim), float(most), "the plan")
        fault = fit_fault(fit, self.unit)
        if fault:
            self.report(place, *fault)
        else:
            self.fits[name] = fit

    def tool(self, name: str, block: ToolBlock) -> None:
        """One of the plan's own tools, or a change to a built-in one."""
        path = ("tool", name)
        place = self.plan.source.place(path)
        good_to = None if block.good_to is None else self.length(block.good_to, (*path, "good_to"))
        if block.good_to is not None and good_to is None:
            return
        per_length = self.number(block.per_length, (*path, "per_length"))
        tool = own_tool(
            name,
            good_to_mm=None if good_to is None else float(good_to),
            per_length=per_length,
            zero_mm=None,
            scale=None,
        )
        if tool is None:
            self.report(place, f"{name} is a new tool and does not say how good it is", 'Write good_to = "...".')
            return
        fault = tool_fault(tool)
        if fault:
            self.report(place, *fault)
        else:
            self.tools[name] = tool

    def number(self, given: str | float | Decimal | None, path: Path) -> float | None:
        """A plain number, also when it was given as text."""
        if given is None:
            return None
        try:
            number = float(given)
        except ValueError:
            number = float("nan")
        if not 0 <= number < 1e6:
            self.report(self.plan.source.place(path, 0), f"{given} is no number that makes sense here")
            return None
        return number


def _written(number: float | Decimal) -> str:
    """A number of the TOML as decimal text, never in powers of ten."""
    try:
        return format(Decimal(str(number)), "f")
    except ArithmeticError:
        return str(number)


def known_fits(settings: Settings) -> dict[str, Fit]:
    """The built-in fits with the plan's own over them."""
    return {**BUILT_IN_FITS, **settings.fits}


def known_tools(settings: Settings) -> dict[str, Tool]:
    """The built-in tools with the plan's own over them."""
    return {**BUILT_IN_TOOLS, **settings.tools}


def read_plan(text: str, file: str = "plan.toml") -> Plan:
    """Read a plan. Raises BuildError with all problems of its form; see `place.assemble` for the rest."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if len(text) > PLAN_BYTES_MAX:
        raise BuildError([Problem(Place(file), "this plan is too large to read", "A plan has at most 64 MB.")])
    try:
        raw = tomllib.loads(text, parse_float=_number)
    except tomllib.TOMLDecodeError as wrong:
        raise BuildError([_toml_problem(text, file, str(wrong))]) from None
    except (RecursionError, ValueError) as wrong:
        raise BuildError([Problem(Place(file), f"this is no TOML that can be read: {wrong}")]) from None
    source = scan(text, file)
    try:
        plan = Plan.model_validate(raw)
    except ValidationError as wrong:
        raise BuildError(_form_problems(wrong, source, raw)) from None
    plan._source = source
    return plan


def decode_plan(content: bytes, file: str = "plan.toml") -> str:
    """The text of a plan file. Raises BuildError where it is no UTF-8, with the line."""
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as wrong:
        line = content[: wrong.start].count(b"\n") + 1
        hint = "Save the file as UTF-8."
        raise BuildError([Problem(Place(file, line), "this line is not UTF-8 text", hint)]) from None


def _number(text: str) -> Decimal:
    try:
        return Decimal(text.replace("_", ""))
    except ArithmeticError:
        return Decimal("NaN")


def _toml_problem(text: str, file: str, what: str) -> Problem:
    """The reader's own words, with the line and a caret."""
    match = re.search(r"\(at line (\d+), column (\d+)\)$", what)
    words = re.sub(r" \(at .*\)$", "", what)
    lines = text.split("\n")
    line = int(match.group(1)) if match else len(lines)
    shown = lines[line - 1] if line <= len(lines) else ""
    column = int(match.group(2)) - 1 if match else len(shown)
    indent = len(shown) - len(shown.lstrip())
    place = Place(file, line, "", shown.strip()[:200], max(0, min(column - indent, 200)))
    return Problem(place, f"this is not TOML: {words[:1].lower()}{words[1:]}", "Strings stand in quotes, lists in [ ].")


KEYS: Mapping[str, tuple[str, ...]] = {
    "": tuple(Plan.model_fields),
    "part": tuple(PartBlock.model_fields),
    "joint": tuple(JointBlock.model_fields),
    "tool": tuple(ToolBlock.model_fields),
}
LATER = {"holes": "holes", "slopes": "slopes", "zero": "a tool's zero", "scale": "a tool's scale"}


def _form_problems(wrong: ValidationError, source: Source, raw: Any) -> list[Problem]:
    """What pydantic found, once a key, in the maker's words."""
    found: dict[Path, Problem] = {}
    for error in wrong.errors(include_url=False, include_context=False):
        path = tuple(str(step) for step in error["loc"] if not _is_a_kind(step, raw, error["loc"]))
        path = _as_far_as_written(path, raw)
        what, hint = _in_words(error["type"], error["msg"], path, raw)
        place = source.place(path) if source.entries else Place(source.file, None, ".".join(path))
        found.setdefault(path, Problem(place, what, hint))
    return list(found.values())


def _is_a_kind(step: Any, raw: Any, loc: Any) -> bool:
    """Whether a step of pydantic's location names the kind it tried, not a key."""
    return isinstance(step, str) and ("[" in step or step in ("str", "int", "float", "decimal", "constrained-str"))


def _as_far_as_written(path: Path, raw: Any) -> Path:
    """The path without the numbers of list members."""
    here, kept = raw, []
    for step in path:
        if isinstance(here, dict):
            kept.append(step)
            here = here.get(step)
        else:
            break
    return tuple(kept)


def _in_words(kind: str, message: str, path: Path, raw: Any) -> tuple[str, str]:
    key = path[-1] if path else ""
    if kind == "extra_forbidden":
        if key in LATER:
            return f"{LATER[key]}: not supported yet", "Take this key out for now."
        known = KEYS[path[0] if len(path) == 3 else ""]
        like = difflib.get_close_matches(key, known, 1)
        return f"{key} is not a key of a plan here", f"Did you mean {like[0]}?" if like else f"Known: {', '.join(known)}."
    if kind == "missing":
        return f"{key} is missing", 'Write unit = "in" or unit = "mm".' if key == "unit" else f"Add {key}."
    if key == "format":
        return "this plan has a format that is not known here", "Write format = 1."
    if key == "unit":
        return "the unit is in or mm", 'Write unit = "in" or unit = "mm".'
    return f"this value has the wrong form: {message[:1].lower()}{message[1:]}", "See specs/language.md for its form."


def plan_schema() -> dict[str, Any]:
    """The JSON Schema of a plan."""
    return Plan.model_json_schema()
