"""The JSON Schema of plan.toml, as it stands in specs/plan.schema.json: for editors and for other programs.

Keys and kinds are those of the models. What the language says of one text by itself is added, as far as a schema
can hold it: how a length, a number and a name are written, how many there are of a thing, what is above 0. It
refuses nothing that the program reads; what takes more than one text to see (sums, names that are not there,
`3 4/3`) only the program sees.

Source: JSON Schema draft 2020-12; patterns as in ECMA-262 without look-behind, which Python reads the same way.
"""

import json
from typing import Any

from fitsolve.build.head import LEAST_CHANCE
from fitsolve.build.language import UNIT_WORDS
from fitsolve.build.plan import Plan
from fitsolve.build.stock import HANDS
from fitsolve.build.tools import BUILT_IN, PER_LENGTH_MOST, TAPE_CLASSES

Schema = dict[str, Any]

_B = "[ \\t\\u00a0\\u2000-\\u200a\\u202f\\u205f\\u3000]*"
_DIGITS = "[0-9]{1,24}"
_VULGAR = "[½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒]"
_HYPHEN = "[-\\u2010\\u2011\\u2013]"
_OVER = f"{_DIGITS}{_B}[/\\u2044\\u2215]{_B}{_DIGITS}"
_FRACTION = f"(?:{_OVER}|{_VULGAR})"
_AMOUNT = f"(?:[0-9]{{0,24}}\\.[0-9]{{1,24}}|{_DIGITS}(?:{_HYPHEN}|{_B}){_FRACTION}|{_FRACTION}|{_DIGITS})"
_FEET = "(?:ft\\.?|['′‘’])"
_INCHES = "(?:in\\.?|[\"″“”]|['′‘’]{2})"
_LENGTH = (
    f"{_B}(?:{_AMOUNT}{_B}(?:(?:mm|cm|m)\\.?|{_FEET}|{_INCHES})?"
    f"|{_DIGITS}{_B}{_FEET}{_B}{_HYPHEN}?{_B}{_AMOUNT}{_B}{_INCHES}?){_B}"
)
LENGTH = f"^{_LENGTH}$"
"""A length without a sign, as lengths.md has it."""

_SIGNED = f"^[ \\t]*-?{_LENGTH}$"
_NUMBER = "^\\s*-?(?:[0-9]{1,40}(?:\\.[0-9]{0,60})?|\\.[0-9]{1,60})\\s*$"
_CHANCE = "^\\s*(?:[0-9]{1,6}(?:\\.[0-9]{0,12})?|\\.[0-9]{1,12})\\s*%?\\s*$"
_MARKS = "{-\\u00a9\\u00ab-\\u00b1\\u00b4\\u00b6-\\u00b8\\u00bb\\u00bf\\u00d7\\u00f7"
"""Of Latin, those that are no letters."""

_REST = f"[^\\u0000-,./:-@\\[-^`{_MARKS}]*"
_NAME = f"^[^\\u0000-@\\[-`{_MARKS}]{_REST}$"
_COPY = f"^[^\\u0000-/:-@\\[-`{_MARKS}]{_REST}$"
_HAND = "(?:" + "|".join(hand.replace(" ", "\\s+") for hand in HANDS) + ")"
_HANDS = f"^\\s*{_HAND}\\s*(?:,\\s*{_HAND}\\s*)*$"
_SOMETHING = "\\S"


def plan_schema() -> str:
    """Return the schema as text."""
    schema = _without_null(Plan.model_json_schema())
    tables = schema["$defs"]
    _top(schema["properties"])
    _tools(schema["properties"], tables["ToolTable"]["properties"])
    _part(tables["PartTable"]["properties"])
    _texts(tables["JointTable"]["properties"]["meet"], 1)
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def _without_null(value: Any) -> Any:
    """A schema without what only a plan made in Python may hold: TOML has no null."""
    if isinstance(value, list):
        return [_without_null(one) for one in value]
    if not isinstance(value, dict):
        return value
    plain = {key: _without_null(one) for key, one in value.items() if not (key == "default" and one is None)}
    kinds = [one for one in plain.get("anyOf", []) if one != {"type": "null"}]
    if len(kinds) == 1:
        del plain["anyOf"]
        return {**kinds[0], **plain}
    return {**plain, "anyOf": kinds} if kinds else plain


def _top(keys: Schema) -> None:
    for key in ("finest", "workmanship", "give"):
        keys[key] |= {"pattern": LENGTH, "exclusiveMinimum": 0}
    for key in ("workmanship_width", "strong"):
        keys[key] |= {"pattern": LENGTH, "minimum": 0}
    keys["overcut"] |= {"pattern": _CHANCE, "minimum": LEAST_CHANCE, "exclusiveMaximum": 0.5}
    keys["fits"]["propertyNames"] = {"pattern": _NAME, "not": {"enum": sorted(UNIT_WORDS)}}
    keys["fits"]["additionalProperties"] |= {"minItems": 3, "maxItems": 3}
    keys["fits"]["additionalProperties"]["items"]["pattern"] = _SIGNED
    for key in ("tool", "part"):
        keys[key]["propertyNames"] = {"pattern": _NAME}
    for key in ("keep", "check"):
        _texts(keys[key]["additionalProperties"], 1)
    for key in ("joint", "keep", "check"):
        keys[key]["propertyNames"] = {"pattern": _SOMETHING}


def _tools(keys: Schema, table: Schema) -> None:
    table["good_to"] |= {"pattern": LENGTH, "exclusiveMinimum": 0}
    table["zero"] |= {"pattern": LENGTH, "minimum": 0}
    for key in ("per_length", "scale"):
        table[key] |= {"pattern": _NUMBER, "minimum": 0, "maximum": PER_LENGTH_MOST}
    table["class"]["enum"] = list(TAPE_CLASSES)
    one = keys["tool"]["additionalProperties"]
    keys["tool"]["properties"] = dict.fromkeys(BUILT_IN, one)
    says = [{"required": ["good_to"]}, {"required": ["class"]}]
    keys["tool"]["additionalProperties"] = {"allOf": [one, {"anyOf": says}]}


def _part(table: Schema) -> None:
    for key in ("x", "y", "z", "slopes"):
        _texts(table[key], 0)
    listed, handed = table["copies"]["anyOf"]
    listed |= {"minItems": 1, "uniqueItems": True, "items": {"type": "string", "pattern": _COPY}}
    handed |= {"minProperties": 1, "propertyNames": {"pattern": _COPY}}
    handed["additionalProperties"] = {"type": "string", "pattern": _HANDS}
    places = {"type": "array", "items": {"type": "string", "pattern": _SOMETHING}, "minItems": 2, "maxItems": 2}
    table["holes"]["additionalProperties"] = {"anyOf": [places, {"$ref": "#/$defs/PartTable/properties/holes"}]}


def _texts(schema: Schema, least: int) -> None:
    """One text or a list of them, none of them empty."""
    one, several = schema["anyOf"]
    one["pattern"] = _SOMETHING
    several |= {"items": {"type": "string", "pattern": _SOMETHING}, "minItems": least}
