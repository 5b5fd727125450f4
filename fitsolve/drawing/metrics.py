"""Metrics: how wide a text runs, and where each shape ends.

The font is Helvetica, one of the standard fonts that every reader of PDF has; its widths are
those published for it, as reportlab carries them. It has the letters of western Europe: a text with
any others is set whole in Open Sans, an open font (Apache 2.0), of which a PDF takes what letters it
needs. In SVG each text is told its length, so that it takes the same room in whatever font stands in for it
there. In PDF a letter that Open Sans lacks too loses its accent; one that has none is a question mark there,
and counted as wide as the body is high.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import cache, lru_cache

from fitsolve.drawing.shapes import Box, Circle, Page, Path, Shape, Text

REGULAR, BOLD = "Helvetica", "Helvetica-Bold"
WIDE, WIDE_BOLD = "OpenSans-Regular", "OpenSans-Bold"
_PLAIN = str.maketrans({"\u2212": "-", "\u2032": "'", "\u2033": '"'})
ASCENT, DESCENT = 0.73, 0.22
"""Shares of the body's height above and below the baseline: no letter of the font reaches further
than its ascender (0.718), descender (0.207) and brackets, but for accents on capitals."""


def shown(words: str) -> str:
    """Return the words in characters that their font has, one for one: a letter that it lacks without its accent,
    and a question mark where that is none of its letters either."""
    words = words.translate(_PLAIN)
    return words if _western(words) else "".join(map(_in_wide, words))


def font(words: str, bold: bool) -> str:
    """Return the name of the font that words are set in; it is known to reportlab then."""
    if _western(words.translate(_PLAIN)):
        return BOLD if bold else REGULAR
    _letters()
    return WIDE_BOLD if bold else WIDE


def _western(words: str) -> bool:
    """Whether the standard font has all of these letters."""
    try:
        words.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return True


@cache
def _letters() -> frozenset[int]:
    """The letters that Open Sans has, regular and bold; both are made known to reportlab."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from ttf_opensans import OPENSANS_BOLD, OPENSANS_REGULAR

    faces = [TTFont(name, str(one.path)) for name, one in ((WIDE, OPENSANS_REGULAR), (WIDE_BOLD, OPENSANS_BOLD))]
    for face in faces:
        pdfmetrics.registerFont(face)
    return frozenset(faces[0].face.charToGlyph) & frozenset(faces[1].face.charToGlyph)


@lru_cache(maxsize=2000)
def _in_wide(letter: str) -> str:
    for one in (letter, unicodedata.normalize("NFKD", letter)[:1]):
        if ord(one) in _letters():
            return one
    return "?"


def lacking(pages: Sequence[Page]) -> str:
    """Return the letters on these pages for which a question mark stands."""
    words = "".join(shape.words for page in pages for shape in page.shapes if isinstance(shape, Text))
    return "".join(dict.fromkeys(c for c, s in zip(words, shown(words), strict=True) if s == "?" and c != "?"))


@lru_cache(maxsize=20_000)
def width_mm(words: str, size_mm: float, bold: bool = False) -> float:
    """Return how wide the words run."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    lacking = sum(1 for c, s in zip(words, shown(words), strict=True) if s == "?" and c != "?")
    known = "".join(s for c, s in zip(words, shown(words), strict=True) if s != "?" or c == "?")
    return float(stringWidth(known, font(words, bold), size_mm)) + lacking * size_mm


def box_of(shape: Shape) -> Box:
    """Return where a shape ends, the width of its pen left out."""
    if isinstance(shape, Path):
        xs, ys = [x for x, _ in shape.points], [y for _, y in shape.points]
        return min(xs), min(ys), max(xs), max(ys)
    if isinstance(shape, Circle):
        return shape.x - shape.radius, shape.y - shape.radius, shape.x + shape.radius, shape.y + shape.radius
    return _text_box(shape)


def _text_box(text: Text) -> Box:
    long = width_mm(text.words, text.size_mm, text.bold)
    back = {"start": 0.0, "middle": long / 2, "end": long}[text.anchor]
    up, down = ASCENT * text.size_mm, DESCENT * text.size_mm
    if text.upright:
        return text.x - up, text.y + back - long, text.x + down, text.y + back
    return text.x - back, text.y - up, text.x - back + long, text.y + down


def fitted(words: str, room_mm: float, size_mm: float, bold: bool = False) -> str:
    """Return the words, cut off with dots where they run wider than there is room."""
    if width_mm(words, size_mm, bold) <= room_mm:
        return words
    low, high = 0, len(words)
    while low < high:
        middle = (low + high + 1) // 2
        if width_mm(words[:middle] + "...", size_mm, bold) <= room_mm:
            low = middle
        else:
            high = middle - 1
    return words[:low].rstrip() + "..." if low else ""


def fitted_end(words: str, room_mm: float, size_mm: float, bold: bool = False) -> str:
    """Return the words, cut off with dots at their beginning where they run wider than there is room: copies of a part
    differ at the end of their names."""
    if width_mm(words, size_mm, bold) <= room_mm:
        return words
    for start in range(1, len(words)):
        kept = "..." + words[start:].lstrip(" .-")
        if width_mm(kept, size_mm, bold) <= room_mm:
            return kept if len(kept) > len("...") else ""
    return ""


def wrapped(words: str, room_mm: float, size_mm: float, bold: bool = False) -> list[str]:
    """Return the words in lines no wider than there is room; a word that is wider is broken."""
    lines: list[str] = []
    line = ""
    for word in _words(words):
        longer = f"{line} {word}" if line else word
        if width_mm(longer, size_mm, bold) <= room_mm:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while width_mm(line, size_mm, bold) > room_mm and len(line) > 1:
            cut = _fits(line, room_mm, size_mm, bold)
            lines.append(line[:cut])
            line = line[cut:]
    return [*lines, line] if line or not lines else lines


def _words(words: str) -> list[str]:
    """The words of a text; a sign stays with its number, as in ± 0.004."""
    found: list[str] = []
    for word in words.split():
        if found and found[-1] in ("±", "+", "-"):
            found[-1] += f" {word}"
        else:
            found.append(word)
    return found


def _fits(word: str, room_mm: float, size_mm: float, bold: bool) -> int:
    """How many letters of a word there is room for, at least one."""
    count = 1
    while count < len(word) and width_mm(word[: count + 1], size_mm, bold) <= room_mm:
        count += 1
    return count


def overlaps(page: Page) -> list[tuple[Text, Text]]:
    """Return the pairs of texts of a page that run into each other, by more than a hair (0.05 mm)."""
    texts = sorted(((box_of(s), s) for s in page.shapes if isinstance(s, Text) and s.words), key=lambda one: one[0])
    found = []
    for k, (first, one) in enumerate(texts):
        for second, other in texts[k + 1 :]:
            if second[0] >= first[2] - 0.05:
                break
            if second[1] < first[3] - 0.05 and first[1] < second[3] - 0.05:
                found.append((one, other))
    return found


def outside(page: Page, margin_mm: float = 0.0) -> list[Shape]:
    """Return the shapes that reach beyond the page, less a margin."""
    low, right, bottom = margin_mm - 1e-6, page.width_mm - margin_mm + 1e-6, page.height_mm - margin_mm + 1e-6
    found = []
    for shape in page.shapes:
        box = box_of(shape)
        if box[0] < low or box[1] < low or box[2] > right or box[3] > bottom:
            found.append(shape)
    return found
