"""Pages for the tests: a PDF rendered, and the upright lines found in the picture."""

from __future__ import annotations

import numpy as np
import pypdfium2

DPI = 600
PER_MM = DPI / 25.4


def picture(pdf: bytes, page: int, box_mm: tuple[float, float, float, float] | None = None, dpi: int = DPI) -> np.ndarray:
    """Return a page, or a box of it (left, top, right, bottom in mm), as darkness from 0 to 1, (rows, columns)."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        shown = document[page]
        width, height = shown.get_size()
        points = 72 / 25.4
        crop = (0.0, 0.0, 0.0, 0.0)
        if box_mm is not None:
            left, top, right, bottom = (one * points for one in box_mm)
            crop = (left, height - bottom, width - right, top)
        bitmap = shown.render(scale=dpi / 72, crop=crop, grayscale=True)
        return 1.0 - bitmap.to_numpy().reshape(bitmap.height, -1)[:, : bitmap.width] / 255.0
    finally:
        document.close()


def page_sizes_mm(pdf: bytes) -> list[tuple[float, float]]:
    """Return the sizes of all pages."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [tuple(side * 25.4 / 72 for side in document[k].get_size()) for k in range(len(document))]
    finally:
        document.close()


def upright_lines(pdf: bytes, page: int, box_mm: tuple[float, float, float, float]) -> list[float]:
    """Return where lines stand that run from top to bottom of a box of a page, in mm from the page's left edge.

    The box is looked at in windows of a whole number of pixels, so that no scale is rounded.
    """
    left, top, right, bottom = box_mm
    window = 4000 / PER_MM
    found: list[float] = []
    start = left
    while start < right - 0.5:
        end = min(start + window, right)
        end = start + int((end - start) * PER_MM) / PER_MM
        dark = picture(pdf, page, (start, top, end, bottom))
        found += [start + x * (end - start) / dark.shape[1] for x in _columns(dark)]
        start = end
    return [x for k, x in enumerate(found) if k == 0 or x - found[k - 1] > 0.3]


def _columns(dark: np.ndarray) -> list[float]:
    """The middle of each dark stretch of a picture's columns, in pixels."""
    column = dark.mean(axis=0)
    found, k = [], 0
    while k < len(column):
        if column[k] < 0.02:
            k += 1
            continue
        end = k
        while end < len(column) and column[end] >= 0.02:
            end += 1
        if column[k:end].max() > 0.2:
            found.append(float((np.arange(k, end) + 0.5) @ column[k:end] / column[k:end].sum()))
        k = end
    return found
