"""No TOML: what is wrong with a plan that cannot even be taken apart, with its line and a caret.

Imported only where something is.
"""

from __future__ import annotations

import re

from fitsolve.build.locate import shown_line
from fitsolve.errors import Place, Problem
from fitsolve.light import pattern

_AT = pattern(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")


def not_utf8(content: bytes, file: str, at: int) -> Problem:
    """The letter at `at` that is not written in UTF-8."""
    line = content.count(b"\n", 0, at) + 1
    start = content.rfind(b"\n", 0, at) + 1
    text = content[start : at + 40].decode("utf-8", "replace").split("\n")[0]
    column = len(content[start:at].decode("utf-8", "replace"))
    place = _cut(Place(file, line, "", text, column))
    return Problem(place, "this letter is not written in UTF-8", "Save the file in UTF-8.")


def toml_problem(text: str, file: str, message: str) -> Problem:
    """What the TOML reader found, with its line, a caret, and a hint for the slips most often made."""
    at = _AT.search(message)
    what = _AT.sub("", message)
    what = re.sub(r"\(('[^()]*?),?\)", lambda keys: keys.group(1).replace("', '", ".").strip("'"), what)
    what = f"this is not TOML: {what[:1].lower()}{what[1:]}"
    if "integer string conversion" in message:
        return Problem(Place(file), "this is not TOML: a number has too many digits", "Is this the right file?")
    twice = any(word in what for word in ("overwrite", "twice", "redefine", "namespace"))
    hint = "It stands in the file twice: keep one." if twice else ""
    lines = text.split("\n")
    if at is None or at.group(1) is None:
        unclosed = "The file ends in the middle of something: is a quote or a bracket not closed?"
        return Problem(Place(file, len(lines)), what, hint or unclosed)
    line, column = int(at.group(1)), int(at.group(2)) - 1
    row = lines[line - 1] if line <= len(lines) else ""
    if "=" not in row[:column]:
        pass
    elif re.search(r"=\s*[0-9][0-9 ]*/", row) or re.search(r"""=\s*[0-9][^"'#]*["']?\s*$""", row):
        hint = hint or 'A length with a fraction or a unit stands in quotes, as in "3 1/2".'
    elif re.search(r"=\s*[A-Za-z]", row):
        hint = hint or "Text stands in quotes."
    hint = hint or _mend(what, row[:column].rstrip(), row[column:])
    return Problem(_cut(Place(file, line, "", row, column)), what, hint)


_MENDS = {
    "unclosed array": "A list ends with ], and a comma stands between its texts.",
    "inline table": "A table in { } stands on one line, with commas in it, and ends with }.",
    "illegal character '\\n'": 'A text ends on the line it begins on. Several runs stand in a list: ["...", "..."].',
    "']' at the end of a table": "The name of a table stands in [ ].",
    "after a key": 'Between a key and its value stands =, as in unit = "in".',
}
"""What is found, and what to do about it."""


def _mend(what: str, before: str, behind: str) -> str:
    """What to do, by what was found and what stands there; empty where nothing is plain."""
    if behind[:1] and behind[0] in "\u201c\u201d\u201e\u2018\u2019\u00ab\u00bb":
        return "Straight quotes were expected, \" or '."
    if re.match(r"[-+]?\.[0-9]", behind):
        return "A number begins with a digit, as in 0.5."
    if "expected newline" in what and behind[:1] in ('"', "'"):
        return 'Several texts stand in a list: ["...", "..."].'
    if "expected newline" in what and before[-1:] in ('"', "'"):
        ended = "The quote in front of this ended the text."
        return f"{ended} In a text an inch is written in or \u2033, a foot ft or \u2032."
    if before[-1:] == "=" and not behind.strip():
        return "A value was expected behind the =."
    return next((mend for found, mend in _MENDS.items() if found in what), "")


def _cut(place: Place) -> Place:
    """The place with its line as a message shows it."""
    text, column = shown_line(place.text, min(place.column or 0, len(place.text)))
    return Place(place.file, place.line, place.key, text, column, place.width)
