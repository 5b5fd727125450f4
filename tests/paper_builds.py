"""Builds that are hard to put on paper: long names, many marks, very long and very small parts. All invented."""

from __future__ import annotations

import itertools
from pathlib import Path

HEAD = 'title = "{title}"\nunit = "{unit}"\nfinest = "{finest}"\nworkmanship = "{finest}"\ngive = "{finest}"\n'


def head(title: str = "Paper", unit: str = "mm", finest: str = "0.5") -> str:
    return HEAD.format(title=title, unit=unit, finest=finest)


def run_of(names: list[str], places: list[float]) -> str:
    text = names[0]
    for name, (before, at) in zip(names[1:], itertools.pairwise(places), strict=True):
        text += f" {at - before:.6g} {name}"
    return text


LONG = "the-second-lower-cross-rail-at-the-far-left-hand-side-of-the-frame"


def long_names() -> str:
    title = "A table with a very long title, longer than any paper is wide, so that it has to be cut off somewhere " * 2
    rail = run_of([f"the-left-hand-end-of-it-{LONG}", f"near-wall-{LONG}", f"far-wall-{LONG}", f"end-{LONG}"],
                  [0, 200, 240, 900])  # fmt: skip
    post = run_of([f"left-{LONG}", f"right-{LONG}"], [0, 40])
    return (
        head(title)
        + f'fits = {{ slip = ["0.1", "0.2", "0.4"] }}\n[part.{LONG}]\nx = "{rail}"\ny = "front 30 back"\n'
        + f'[part.post-{LONG}]\nx = "{post}"\n[joint.housing-{LONG}]\n'
        + f'meet = "post-{LONG}.left-{LONG}/right-{LONG} in {LONG}.near-wall-{LONG}/far-wall-{LONG}, slip"\n'
    )


def many_marks(count: int = 40, long: float = 1950.0) -> str:
    """Marks at uneven spacing, some of them a hair apart."""
    places = [0.0]
    for k in range(1, count):
        places.append(places[-1] + (0.5 if k % 5 == 0 else 1.0 + (k * 37) % 11))
    scale = long / places[-1]
    places = [round(place * scale, 1) for place in places]
    names = [f"m{k}.edge-{'io'[k % 2]}" for k in range(count)]
    return head() + f'[part.rack]\nx = "{run_of(names, places)}"\nz = "low 90 top"\n'


def six_metres() -> str:
    return head() + '[part.beam]\nx = "l.end 3 l.peg 2994 middle 2 middle-2 2998 r.peg 3 r.end"\ny = "face 200 back"\n'


def three_millimetres() -> str:
    return head(finest="0.1") + '[part.spline]\nx = "left 1 a 1 b 1 right"\ny = "front 3 back"\nz = "under 0.5 over"\n'


def one_mark() -> str:
    return head() + '[part.pin]\nx = "middle"\n'


HARD = {
    "long names": long_names(),
    "40 marks": many_marks(),
    "120 marks": many_marks(120),
    "40 marks in 60 mm": many_marks(40, 60.0),
    "6 m": six_metres(),
    "3 mm": three_millimetres(),
    "one mark": one_mark(),
    "nothing": head(),
}
EXAMPLES = Path(__file__).parent.parent / "examples"
