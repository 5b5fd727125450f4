"""What of a value a JSON Schema refuses: the keywords that the schemas in specs/ use.

Source: JSON Schema draft 2020-12, Core 8 and Validation 6. A whole validator (jsonschema 4.26) says the same of
everything that the tests hold against the schemas.
"""

import re


def faults(value, schema, root=None, where="$"):
    """Say of each place of a value what the schema refuses there."""
    root = schema if root is None else root
    if "$ref" in schema:
        target = root
        for step in schema["$ref"].removeprefix("#/").split("/"):
            target = target[step]
        yield from faults(value, target, root, where)
    kinds = schema.get("type")
    if kinds is not None and not any(_is(value, kind) for kind in ([kinds] if isinstance(kinds, str) else kinds)):
        yield f"{where}: {value!r} is no {kinds}"
        return
    yield from (f"{where}: {what}" for what in _of_itself(value, schema))
    for one in schema.get("allOf", ()):
        yield from faults(value, one, root, where)
    if "anyOf" in schema and all(list(faults(value, one, root)) for one in schema["anyOf"]):
        yield f"{where}: {value!r} is of no kind that may be here"
    if "not" in schema and not list(faults(value, schema["not"], root)):
        yield f"{where}: {value!r} may not be here"
    if isinstance(value, dict):
        yield from _keys(value, schema, root, where)
    if isinstance(value, list):
        for number, inner in enumerate(value):
            yield from faults(inner, schema.get("items", {}), root, f"{where}[{number}]")


def _of_itself(value, schema):
    if "enum" in schema and value not in schema["enum"]:
        yield f"{value!r} is none of {schema['enum']}"
    if "const" in schema and not (value == schema["const"] and type(value) is not bool):
        yield f"{value!r} is not {schema['const']}"
    if _is(value, "number"):
        low, high = schema.get("minimum", value), schema.get("maximum", value)
        above, below = schema.get("exclusiveMinimum", value - 1), schema.get("exclusiveMaximum", value + 1)
        if not (low <= value <= high and above < value < below):
            yield f"{value} is out of range"
    if isinstance(value, str) and not re.search(schema.get("pattern", ""), value):
        yield f"{value!r} is not written so"
    if isinstance(value, list):
        if not schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", len(value)):
            yield f"{len(value)} of them"
        if schema.get("uniqueItems") and any(one in value[:k] for k, one in enumerate(value)):
            yield "one stands twice"
    if isinstance(value, dict) and len(value) < schema.get("minProperties", 0):
        yield "nothing is in it"


def _keys(value, schema, root, where):
    yield from (f"{where}: no {key}" for key in schema.get("required", ()) if key not in value)
    known, other = schema.get("properties", {}), schema.get("additionalProperties", {})
    for key, inner in value.items():
        yield from faults(key, schema.get("propertyNames", {}), root, f"{where}: key")
        if key not in known and other is False:
            yield f"{where}: {key} is not in the schema"
        else:
            yield from faults(inner, known.get(key, other), root, f"{where}.{key}")


def _is(value, kind):
    types = {"object": dict, "array": list, "string": str, "boolean": bool, "null": type(None)}
    if kind in types:
        return isinstance(value, types[kind])
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return number and (kind == "number" or value == int(value))
