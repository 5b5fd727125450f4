"""Plain plan: tables that are plainly a plan become its models without pydantic's checks.

Setting up the checks takes longer than working a bench out, and nearly every plan passes them. So what is
plainly of its kind is taken as it is; with anything else, and with very many tables, the models are made the
careful way, which finds all that is wrong.

    plain_plan(tables)  is  Plan(**tables)  or None

Not here: what is wrong with a table (plan).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, TypeVar

from pydantic import BaseModel

from fitsolve.build.plan import JointTable, PartTable, Plan, ToolTable, as_list, as_text, flat

TABLES_MOST = 300
"""More tables than this are made more quickly by pydantic, once it is set up."""

M = TypeVar("M", bound=BaseModel)
Take = Callable[[Any], Any]


class _NotPlain(Exception):
    """Something is not plainly of its kind."""


def plain_plan(tables: Mapping[str, Any]) -> Plan | None:
    """Return the plan of tables, or None where it is not plain that they are one."""
    try:
        many = sum(len(tables.get(kind, ())) for kind in ("tool", "part", "joint"))
        return _model(Plan, _PLAN, tables, ("unit",)) if many <= TABLES_MOST else None
    except (_NotPlain, TypeError):
        return None


def _model(model: type[M], kinds: Mapping[str, Take], table: Any, needed: tuple[str, ...] = ()) -> M:
    if type(table) is not dict or not kinds.keys() >= table.keys() or any(key not in table for key in needed):
        raise _NotPlain
    return model.model_construct(**{key: kinds[key](value) for key, value in table.items()})


# -- kinds ---------------------------------------------------------------------------------------


def _text(value: Any) -> str:
    if type(value) is not str:
        raise _NotPlain
    return value


def _number(value: Any) -> str:
    """A length or a plain number: as text, or as a number of the TOML."""
    if type(value) is str:
        return value
    if type(value) not in (int, float, Decimal):
        raise _NotPlain
    return _text(as_text(value))


def _list(value: Any) -> list[str]:
    if type(value) is not list or any(type(one) is not str for one in value):
        raise _NotPlain
    return list(value)


def _texts(value: Any) -> list[str]:
    return _list(as_list(value))


def _copies(value: Any) -> list[str] | dict[str, str]:
    return _table_of(_text)(value) if type(value) is dict else _list(value)


def _holes(value: Any) -> dict[str, list[str]]:
    found: dict[str, list[str]] = _table_of(_list)(flat(value))
    return found


def _limits(value: Any) -> list[str]:
    if type(value) is not list:
        raise _NotPlain
    return [_number(one) for one in value]


def _one_of(*values: object) -> Take:
    def take(value: Any) -> Any:
        if not any(type(value) is type(one) and value == one for one in values):
            raise _NotPlain
        return value

    return take


def _table_of(take: Take) -> Take:
    def table(value: Any) -> dict[str, Any]:
        if type(value) is not dict:
            raise _NotPlain
        return {_text(key): take(one) for key, one in value.items()}

    return table


_TOOL: dict[str, Take] = {
    "good_to": _number, "per_length": _number, "zero": _number, "scale": _number, "class": _text, "note": _text,
}  # fmt: skip
_PART: dict[str, Take] = {
    "copies": _copies, "x": _texts, "y": _texts, "z": _texts, "slopes": _texts, "holes": _holes, "note": _text,
}  # fmt: skip
_JOINT: dict[str, Take] = {"each": _text, "meet": _texts, "note": _text}
_PLAN: dict[str, Take] = {
    "format": _one_of(1), "title": _text, "unit": _one_of("in", "mm"), "strong": _number, "finest": _number,
    "workmanship": _number, "workmanship_width": _number, "give": _number, "overcut": _number,
    "fits": _table_of(_limits),
    "tool": _table_of(lambda table: _model(ToolTable, _TOOL, table)),
    "part": _table_of(lambda table: _model(PartTable, _PART, table)),
    "joint": _table_of(lambda table: _model(JointTable, _JOINT, table, ("meet",))),
    "keep": _table_of(_texts), "check": _table_of(_texts),
}  # fmt: skip
