"""Crossing: a slope whose run ends on slanted faces, such as a half dovetail lapped into a splayed leg.

`lap-low@inner..lap-low@outer 1:6` runs from the inner face to the outer one. Where these slant too, each end lies
where the two lines cross. With the end known at height z_k, on the face x = x_f + t (z - z_f) at x_k, and slope s,
the other end, on a face x = X + t' (z - Z), lies at

    z = z_k + s (x - x_k)    and    x = X + t' (z - Z),    so    z = (z_k + s (X - t' Z - x_k)) / (1 - s t').

The known end has to lie where its face slants by the plan. The other face goes as far as the line that ends on it,
though its slope may be said between other marks: the end of a tail goes down to the tail's lower corner.

Both places along the run are marks of their own, stations of the faces at the height of the ends; so the rows of
the slopes say all of this again, whatever is cut or read later.

Not here: faces without such ends (faces), slopes as sentences (slopes).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fitsolve.build.language import Misread, Name
from fitsolve.build.slopes import SlopeDraft
from fitsolve.build.stock import Stock
from fitsolve.light import replace


def face_here(
    stock: Stock, faces: Sequence[SlopeDraft], at: Fraction, name: Name, *, beyond: bool = False
) -> SlopeDraft:
    """Return the one of the slopes of a face that reaches a place along its run, or where it may lie beyond, the
    nearest. Raises Misread."""

    def away(face: SlopeDraft) -> Fraction:
        low, high = sorted((stock.at[face.run_start], stock.at[face.run_end]))
        return max(low - at, at - high, Fraction(0))

    nearest = min(faces, key=away)
    if beyond or away(nearest) == 0:
        return nearest
    station = name.text.partition("@")[2]
    ends = " to ".join(stock.within(mark) for mark in (faces[0].run_start, faces[0].run_end))
    what = f"{station} slants from {ends}, and {name.text} lies beyond that"
    raise Misread(what, name.column, name.width, "Say the slope of that face so far.")


def other_end(
    stock: Stock, known: tuple[Fraction, Fraction], ratio: Fraction, face: SlopeDraft
) -> Fraction | None:
    """Return how far along its axis a slope meets a face that slants; it goes through `known`, its place and that
    along the run. None where it runs along the face."""
    at, run = known
    cross = 1 - ratio * face.ratio
    if cross == 0:
        return None
    foot = stock.at[face.start] - face.ratio * stock.at[face.run_start]
    return (at + ratio * (foot - run)) / cross


def on_face(stock: Stock, face: SlopeDraft, mark: int, station: str) -> tuple[int, SlopeDraft]:
    """Return a new mark on a slanted face, at the height of a mark that stands there, and its slope."""
    share = (stock.at[mark] - stock.at[face.run_start]) / (stock.at[face.run_end] - stock.at[face.run_start])
    at = stock.at[face.start] + face.ratio * (stock.at[mark] - stock.at[face.run_start])
    root = stock.station_of[face.start]
    base = stock.name[face.start].partition("@")[0]
    name = f"{base}@{station}"
    part, axis = stock.part[face.start], stock.axis[face.start]
    new = stock.add(name, part, axis, at, face.start if root is None else root)
    on_it = replace(face, end=new, run_end=mark, placed=new, whole=face, share=share, give=None, crossing=True)
    return new, on_it
