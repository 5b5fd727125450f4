"""PDF: pages at their true size, by reportlab. The same pages always give the same bytes."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from fitsolve.drawing.metrics import font, shown
from fitsolve.drawing.shapes import Circle, Page, Path, Pen, Shape, Text

POINTS_PER_MM = 72 / 25.4


def pdf_bytes(pages: Sequence[Page], title: str) -> bytes:
    """Return pages as a PDF that asks to be printed at its own size."""
    from reportlab.pdfgen.canvas import Canvas

    held = io.BytesIO()
    canvas: Any = Canvas(held, invariant=1, pageCompression=1)
    canvas.setTitle(shown(title))
    canvas.setCreator("fitsolve")
    canvas.setAuthor("")
    canvas.setViewerPreference("PrintScaling", "None")
    for page in pages:
        canvas.setPageSize((page.width_mm * POINTS_PER_MM, page.height_mm * POINTS_PER_MM))
        canvas.translate(0, page.height_mm * POINTS_PER_MM)
        canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
        for shape in page.shapes:
            _draw(canvas, shape)
        canvas.showPage()
    canvas.save()
    return held.getvalue()


def _draw(canvas: Any, shape: Shape) -> None:
    if isinstance(shape, Text):
        _write(canvas, shape)
        return
    if shape.pen:
        _take(canvas, shape.pen)
    if shape.fill:
        canvas.setFillColor(shape.fill)
    how = {"stroke": int(shape.pen is not None), "fill": int(bool(shape.fill))}
    if isinstance(shape, Circle):
        canvas.circle(shape.x, -shape.y, shape.radius, **how)
        return
    assert isinstance(shape, Path)
    path = canvas.beginPath()
    (x, y), *rest = shape.points
    path.moveTo(x, -y)
    for x, y in rest:
        path.lineTo(x, -y)
    if shape.closed:
        path.close()
    canvas.drawPath(path, **how)


def _take(canvas: Any, pen: Pen) -> None:
    canvas.setStrokeColor(pen.colour)
    canvas.setLineWidth(pen.width_mm)
    canvas.setDash(list(pen.dashes_mm))


def _write(canvas: Any, text: Text) -> None:
    if not text.words:
        return
    canvas.saveState()
    canvas.setFillColor(text.colour)
    canvas.setFont(font(text.words, text.bold), text.size_mm)
    canvas.translate(text.x, -text.y)
    if text.upright:
        canvas.rotate(90)
    put = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
    put[text.anchor](0, 0, shown(text.words))
    canvas.restoreState()
