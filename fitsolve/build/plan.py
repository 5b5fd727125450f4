"""Plan: what the maker wrote, as models that can be read from `plan.toml` or made in Python.

    text  ->  TOML  ->  Plan (texts as written)  ->  Head (lengths, fits, tools)
                                                 ->  Assembly, in `place`

The models hold the maker's own texts: lengths, runs, sentences. They only see to it that every
key is known and holds the right kind of value. All errors of a file come at once, each with
its line; a plan made in Python gives the same errors, with keys for lines. Numbers of the TOML
are read as decimals, so that 3.531 is exactly that.

`read_plan` works the whole plan out, to find everything that is wrong with it in one go, and
keeps the result for `place.assemble`.

Not here: what runs add up to (sums), what sentences mean (joints, rules), files (folder).
planschema makes specs/plan.schema.json from these models; the texts are in specs/language.md.

Annotations stand as they are here, not as texts: pydantic would compile each of them again.
"""

import gc
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PrivateAttr,
    StrictStr,
    ValidationError,
    WithJsonSchema,
)

from fitsolve.build.assembly import Assembly
from fitsolve.build.head import Head, read_head
from fitsolve.build.language import did_you_mean
from fitsolve.build.locate import Path, Source, shown
from fitsolve.build.tools import Tool
from fitsolve.errors import BuildError, Place, Problem
from fitsolve.lengths import Unit
from fitsolve.light import dataclass, pattern

PLAN_BYTES_MAX = 64 * 1024 * 1024

# -- the models ----------------------------------------------------------------------------------


def as_text(value: object) -> object:
    """A number as the text a maker would have written; anything else as it is."""
    if isinstance(value, bool) or not isinstance(value, (int, float, Decimal)):
        return str(value) if isinstance(value, Fraction) else value
    if isinstance(value, int) and abs(value) > 10**30:
        return "a number of more than 30 digits"
    number = Decimal(repr(float(value))) if isinstance(value, float) else Decimal(value)
    short = isinstance(exponent := number.as_tuple().exponent, int) and abs(exponent) <= 60
    return format(number, "f") if short else str(number)


def as_list(value: object) -> object:
    """One text as a list of one; anything else as it is."""
    return [value] if isinstance(value, str) else value


def _no_truth(value: object) -> object:
    """true is no number, whatever Python holds of it."""
    return "true or false" if isinstance(value, bool) else value


_TEXT_OR_LIST: dict[str, Any] = {"anyOf": [{"type": "string"}, {"items": {"type": "string"}, "type": "array"}]}

LengthText = Annotated[
    StrictStr,
    BeforeValidator(as_text),
    WithJsonSchema({"description": "A length, as in 3 1/2; see lengths.md.", "type": ["string", "number"]}),
]
NumberText = Annotated[
    StrictStr,
    BeforeValidator(as_text),
    WithJsonSchema({"description": "A plain number.", "type": ["string", "number"]}),
]
Runs = Annotated[
    list[StrictStr],
    BeforeValidator(as_list),
    WithJsonSchema({**_TEXT_OR_LIST, "description": "A run, or several: see language.md."}),
]
Sentences = Annotated[
    list[StrictStr],
    BeforeValidator(as_list),
    WithJsonSchema({**_TEXT_OR_LIST, "description": "A sentence, or several: see language.md."}),
]
Slopes = Annotated[
    list[StrictStr],
    BeforeValidator(as_list),
    WithJsonSchema({**_TEXT_OR_LIST, "description": "A slope, or several, as in lower@shoulder..lower@end 1:8."}),
]



def flat(value: object) -> object:
    """Tables in tables as one, with dotted names: a hole `low.peg` may be written without quotes."""
    if not isinstance(value, Mapping):
        return value
    found: dict[object, object] = {}
    for key, inner in value.items():
        nested = flat(inner)
        if isinstance(nested, dict) and isinstance(key, str):
            found.update((f"{key}.{name}", places) for name, places in nested.items())
        else:
            found[key] = as_list(inner)
    return found


Holes = Annotated[
    dict[StrictStr, list[StrictStr]],
    BeforeValidator(flat),
    WithJsonSchema(
        {
            "description": "Holes, each with its places on two axes, as in [\"14 from l.end\", \"4 1/2 from top\"].",
            "additionalProperties": {"items": {"type": "string"}, "type": "array"},
            "type": "object",
        }
    ),
]


def _empty_list() -> list[Any]:
    """Return a list of nothing. As a function: pydantic reads the signature of `list` itself from text, slowly."""
    return []


def _empty_table() -> dict[Any, Any]:
    return {}


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class ToolTable(_Table):
    """A measuring tool: U = good_to + per_length * reading (k = 2)."""

    good_to: LengthText | None = None
    per_length: NumberText | None = None
    zero: LengthText | None = Field(
        None, description="How far off (k = 2) all its readings may be by the same amount: a worn hook."
    )
    scale: NumberText | None = Field(
        None, description="How far off (k = 2) all its readings may be by the same share: a stretched tape."
    )
    tape_class: StrictStr | None = Field(
        None, alias="class", description="Of a tape, I, II or III: zero and scale as its class permits, unless given."
    )
    note: StrictStr = ""


class PartTable(_Table):
    """A part: its copies, plain or handed, and its runs along each axis."""

    copies: list[StrictStr] | dict[StrictStr, StrictStr] | None = Field(
        None, description="Names, or a table of names and how each is handed."
    )
    x: Runs = Field(default_factory=_empty_list)
    y: Runs = Field(default_factory=_empty_list)
    z: Runs = Field(default_factory=_empty_list)
    slopes: Slopes = Field(default_factory=_empty_list)
    holes: Holes = Field(default_factory=_empty_table)
    note: StrictStr = ""


class JointTable(_Table):
    """Joints of one kind: sentences, and a table that fills their {columns}."""

    each: StrictStr | None = None
    meet: Sentences
    note: StrictStr = ""


class Plan(_Table):
    """A plan. Raises BuildError where keys are unknown or hold the wrong kind of value."""

    format: Annotated[Literal[1], BeforeValidator(_no_truth)] = 1
    title: StrictStr = ""
    unit: Unit
    strong: LengthText | None = Field(
        None, description="What strong and bare behind a reading add and take off; half of finest."
    )
    finest: LengthText | None = Field(None, description="The finest line laid out; 1/32 in or 0.5 mm.")
    workmanship: LengthText | None = Field(None, description="Where a mark lands, k = 2; 1/32 in or 0.5 mm.")
    workmanship_width: LengthText | None = Field(None, description="How true a width comes, k = 2; 0.004 in or 0.1 mm.")
    give: LengthText | None = Field(None, description="What a distance may drift unless it says otherwise.")
    overcut: NumberText | None = Field(
        None, description="The chance that wood left on is too little for a joint, as in 5 % or 0.05; 5 %."
    )
    fits: dict[str, list[LengthText]] = Field(default_factory=_empty_table)
    tool: dict[str, ToolTable] = Field(default_factory=_empty_table)
    part: dict[str, PartTable] = Field(default_factory=_empty_table)
    joint: dict[str, JointTable] = Field(default_factory=_empty_table)
    keep: dict[str, Sentences] = Field(default_factory=_empty_table)
    check: dict[str, Sentences] = Field(default_factory=_empty_table)

    _source: Source = PrivateAttr(default_factory=Source)
    _damaged: frozenset[Path] = PrivateAttr(default=frozenset())
    _faults: tuple[Problem, ...] = PrivateAttr(default=())
    _worked: tuple[object, Assembly, dict[str, Tool]] | None = PrivateAttr(default=None)

    def __init__(self, **tables: Any) -> None:
        try:
            super().__init__(**tables)
        except ValidationError as error:
            raise _ShapeError([_shape_fault(one, tables) for one in error.errors(include_url=False)]) from None

    @property
    def source(self) -> Source:
        """Where everything stands in the file; empty for a plan made in Python."""
        return self._source

    @property
    def faults(self) -> tuple[Problem, ...]:
        """Errors in its keeps and checks that it was read in spite of."""
        return self._faults

    @property
    def damaged_parts(self) -> set[str]:
        """Parts of which something could not be taken over; what misses in them was reported."""
        return {str(path[1]) for path in self._damaged if path[0] == "part" and len(path) > 1}

    @property
    def damaged_fits(self) -> set[str]:
        """Fits that could not be taken over."""
        return {str(path[1]) for path in self._damaged if path[0] == "fits" and len(path) > 1}

    def head(self) -> Head:
        """Return the lengths, fits and tools of the plan. Raises BuildError with all that is wrong."""
        problems: list[Problem] = []
        head = read_head(self, problems)
        errors = [problem for problem in problems if problem.level == "error"]
        if errors:
            raise BuildError(errors)
        return head

    def tools(self) -> dict[str, Tool]:
        """Return the tools that the plan changes or adds. Raises BuildError."""
        worked = self._worked
        return worked[2] if worked is not None and worked[0] is self.__dict__ else self.head().tools

    def keep_worked(self, assembly: Assembly, tools: dict[str, Tool]) -> None:
        """Keep the plan worked out; it counts for this very object only, not for changed copies."""
        self._worked = (self.__dict__, assembly, tools)

    def worked(self) -> Assembly | None:
        """Return the plan worked out, if that was kept."""
        return self._worked[1] if self._worked is not None and self._worked[0] is self.__dict__ else None


# -- wrong keys and kinds ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _ShapeFault:
    """A key that is unknown, missing, or holds the wrong kind of value."""

    path: Path
    what: str
    hint: str
    missing: bool
    extra: bool

    def problem(self, source: Source) -> Problem:
        if self.missing:
            table = source.key_place(self.path[:-1]) if len(self.path) > 1 else Place(source.file)
            return Problem(Place(table.file, table.line, table.key), self.what, self.hint)
        return Problem(source.key_place(self.path), self.what, self.hint)


class _ShapeError(BuildError):
    """Wrong keys and kinds, as faults that can still be given their lines."""

    def __init__(self, faults: list[_ShapeFault]) -> None:
        self.faults = list({fault.path: fault for fault in reversed(faults)}.values())[::-1]
        source = Source()
        super().__init__([fault.problem(source) for fault in self.faults])


_TABLES: dict[str, type[_Table]] = {"tool": ToolTable, "part": PartTable, "joint": JointTable}
_KINDS = {
    "string_type": "text was expected here, in quotes",
    "list_type": "a list was expected here, in [ ]",
    "dict_type": "a table was expected here",
    "model_type": "a table was expected here",
}


def _shape_fault(error: Any, tables: Mapping[str, Any]) -> _ShapeFault:
    """What pydantic found, in the maker's words."""
    kind, path = error["type"], _written_path(error["loc"], tables)
    key = str(path[-1]) if path else ""
    known = _TABLES.get(str(path[0])) if len(path) == 3 else Plan if len(path) == 1 else None
    if kind == "extra_forbidden":
        keys = list(known.model_fields) if known else []
        hint = did_you_mean(key, keys, f"There are: {', '.join(keys)}." if keys else "")
        table = f"a {path[0]}" if len(path) == 3 else "a plan"
        return _ShapeFault(path, f'"{shown(key)}" is no key of {table}', hint, False, True)
    if kind == "missing":
        add = {
            "unit": 'Write unit = "in" or unit = "mm".',
            "meet": 'As in meet = ["A against B, tight-up"].',
        }
        return _ShapeFault(path, f"{key} is missing", add.get(key, ""), True, False)
    if path == ("format",):
        return _ShapeFault(path, "this format is not known: 1 was expected", "Write format = 1.", False, False)
    if path == ("unit",):
        hint = 'Write unit = "in" or unit = "mm".'
        return _ShapeFault(path, 'the unit is "in" or "mm"', hint, False, False)
    if path in (("finest",), ("workmanship",), ("workmanship_width",), ("give",), ("strong",)):
        return _ShapeFault(path, "a length was expected here", f'As in {key} = "1/16", or a number.', False, False)
    what = _KINDS.get(kind, "this is not the kind of value that was expected here")
    if key == "copies":
        what = 'names were expected here: ["fl", "fr"], or a table { fl = "as drawn", fr = "left for right" }'
    return _ShapeFault(path, what, "", False, False)


def _written_path(steps: tuple[str | int, ...], tables: Mapping[str, Any]) -> Path:
    """A location of pydantic's without the kinds it tried: keys that were written, or the one missing."""
    path: list[str | int] = []
    here: Any = tables
    for step in steps:
        if isinstance(here, Mapping):
            path.append(step)
            here = here.get(step)
        elif isinstance(here, list) and isinstance(step, int):
            path.append(step)
            here = here[step] if step < len(here) else None
        else:
            break
        if path[-1] == "copies" and len(path) == 3:
            break
    return tuple(path)


# -- the file -----------------------------------------------------------------------------------------


def decode_plan(content: bytes, file: str = "plan.toml") -> str:
    """Return the text of a plan file. Raises BuildError where it is too large, or no UTF-8."""
    if len(content) > PLAN_BYTES_MAX:
        what = f"{len(content)} bytes; a plan of more than {PLAN_BYTES_MAX} is not read"
        raise BuildError([Problem(Place(file), what, "Is this the right file?")])
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise BuildError([Problem(Place(file, 1), "this file is written in UTF-16", "Save it in UTF-8.")])
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        from fitsolve.build.notoml import not_utf8

        raise BuildError([not_utf8(content, file, error.start)]) from None


def of_rules(problem: Problem) -> bool:
    """Whether a problem of a plan concerns its keeps and checks alone: no part, mark or joint hangs on them."""
    return problem.place.key.partition(".")[0] in ("keep", "check")


def read_plan(text: str | bytes, file: str = "plan.toml", *, rules_apart: bool = False) -> Plan:
    """Return the plan of a text. Raises BuildError with everything that is wrong with it.

    With `rules_apart` what is wrong with keeps and checks alone is no reason to: the plan is worked out without
    those that are wrong, and the errors stand in its `faults`. It may be entered by, but no answer given from it.
    """
    if isinstance(text, bytes):
        text = decode_plan(text, file)
    if len(text) > PLAN_BYTES_MAX:
        what = f"{len(text)} letters; a plan of more than {PLAN_BYTES_MAX} is not read"
        raise BuildError([Problem(Place(file), what, "Is this the right file?")])
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    problems: list[Problem] = []
    with _no_collecting():
        plan = _model(_toml(text, file), Source(text, file), problems)
        if plan is not None:
            _work_out(plan, problems)
    errors = [problem for problem in problems if problem.level == "error"]
    errors.sort(key=lambda problem: problem.place.line or 0)
    if errors and not (rules_apart and all(of_rules(problem) for problem in errors)):
        raise BuildError(errors)
    assert plan is not None, "a plan without errors is one"
    plan._faults = tuple(errors)
    return plan


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Keep the garbage collector from looking again and again through a plan that is being made.

    Nothing made here is given up before the end; at 100,000 marks this saves a fifth of the time.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _model(tables: dict[str, Any], source: Source, problems: list[Problem]) -> Plan | None:
    """The plan of the tables, without what is of the wrong kind; None where too little is left."""
    from fitsolve.build.plainplan import plain_plan

    plain = plain_plan(tables)
    if plain is not None:
        plain._source = source
        return plain
    damaged: set[Path] = set()
    for _ in range(4):
        try:
            plan = Plan(**tables)
        except _ShapeError as error:
            for fault in error.faults:
                problems.append(fault.problem(source))
                if fault.path == ("unit",):
                    tables["unit"] = _unit_meant(tables.get("unit"), source.text)
                    continue
                damaged |= _damage(tables, fault)
                _take_out(tables, fault)
            continue
        plan._source, plan._damaged = source, frozenset(damaged)
        return plan
    return None


_FRACTION = pattern("[0-9]/[0-9]")


def _unit_meant(given: object, text: str) -> Unit:
    """The unit that the other lengths of a plan are read in for what else is wrong with them."""
    word = given.strip().lower() if isinstance(given, str) else ""
    if word.startswith(("i", '"', "f")):
        return "in"
    return "in" if not word and _FRACTION.search(text) else "mm"


def _damage(tables: dict[str, Any], fault: _ShapeFault) -> set[Path]:
    """The paths whose texts are missing because of a fault: what then is not found was reported already.

    A misspelt key of a part may be its copies or an axis; a misspelt table may be that of the parts.
    """
    lost = tables.get(str(fault.path[0])) if fault.extra and len(fault.path) == 1 else None
    return {fault.path} | ({("part", name) for name in lost} if isinstance(lost, dict) else set())


def _take_out(tables: dict[str, Any], fault: _ShapeFault) -> None:
    """Remove a value of the wrong kind, or the table that misses one, so that the rest can be read."""
    path = fault.path[:-1] if fault.missing else fault.path
    path = path[: next((k for k, step in enumerate(path) if isinstance(step, int)), len(path))]
    here: Any = tables
    for step in path[:-1]:
        here = here.get(step) if isinstance(here, dict) else None
    if isinstance(here, dict) and path:
        here.pop(path[-1], None)


def _work_out(plan: Plan, problems: list[Problem]) -> None:
    from fitsolve.build.place import work_out

    worked = work_out(plan)
    problems += worked.problems
    if worked.assembly is not None:
        plan.keep_worked(worked.assembly, worked.tools)


_ODD = pattern("[\ud800-\udfff]")


def _decimal(text: str) -> Decimal:
    try:
        return Decimal(text)
    except ArithmeticError:
        return Decimal("NaN")


def _toml(text: str, file: str) -> dict[str, Any]:
    """The tables of a TOML text. Raises BuildError with its first error."""
    odd = None if text.isascii() else _ODD.search(text)
    if odd:
        line = text.count("\n", 0, odd.start()) + 1
        raise BuildError([Problem(Place(file, line), "this line holds half a letter", "Save the file in UTF-8.")])
    try:
        return tomllib.loads(text, parse_float=_decimal)
    except RecursionError:
        what, hint = "brackets are nested too deep in this file", "No plan needs more than three."
        raise BuildError([Problem(Place(file), what, hint)]) from None
    except ValueError as error:
        from fitsolve.build.notoml import toml_problem

        raise BuildError([toml_problem(text, file, str(error))]) from None
