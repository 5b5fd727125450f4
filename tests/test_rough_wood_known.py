"""Rough wood is known as well as it was read: a size that presses on it errs by that. By hand; in mm, builds invented."""

from __future__ import annotations

import pytest

from fitsolve.report.cutting import part_sizes
from fitsolve.solve import pieces
from tests.test_hand_cases import found, near, size

LEFT = """
[tool.worn]
good_to = 1.3
[tool.old]
good_to = 0.2
zero = 1
[part.key]
x = "g 40 h"
[part.cap]
x = "e 150 o 40 i 150 k"
[joint.key]
meet = "key.g/h in cap.o/i, slip"
"""


def test_a_piece_left_as_it_is_errs_by_how_it_was_read():
    """h stays at 38.9 ± 1.3 (k = 2); the clearance 0.4 errs by that and by the 0.1 of the dado: too little is known."""
    result = found(LEFT, "reading cap.o cap.i 39.3 fine", "rough key.g key.h 38.9 worn")
    one = size(result, "key.g", "key.h")
    assert (one.size_mm, one.advice_expanded_mm) == (near(38.9), near(1.3))
    contact = result.joints[0].contacts[0]
    assert contact.clearance_mm == near(0.4)
    assert contact.expanded_mm == pytest.approx((1.3**2 + 0.1**2 + 0.14**2) ** 0.5)  # and how true a width comes
    assert result.joints[0].verdict == "can't tell"


def test_a_piece_with_wood_to_spare_errs_by_its_cut_alone():
    result = found(LEFT, "reading cap.o cap.i 39.3 fine", "rough key.g key.h 45 worn")
    assert size(result, "key.g", "key.h").advice_expanded_mm < 0.2


@pytest.mark.parametrize("most", [0, 400])
def test_large_and_small_pieces_alike(monkeypatch, most):
    monkeypatch.setattr(pieces, "DENSE_MARKS", most)
    result = found(LEFT, "reading cap.o cap.i 39.3 fine", "rough key.g key.h 38.9 worn")
    assert size(result, "key.g", "key.h").advice_expanded_mm == pytest.approx(1.3)
    assert result.joints[0].contacts[0].expanded_mm == pytest.approx((1.3**2 + 0.1**2 + 0.14**2) ** 0.5)


def test_what_comes_off_is_counted_from_what_is_there_not_from_what_a_worn_hook_said():
    """The hook says 200.6 of a piece that is 200 by a fine tool: by least squares it reads 1 / (1 + 0.2^2 + 0.1^2) of
    0.6 too long, 0.5714. So the rail, 305 by the hook, is 304.4286; plan 304 leaves 0.43 to come off, not 1."""
    plan = LEFT + '[part.b]\nx = "p 200 q"\n[part.rail]\nx = "l 304 r"\n'
    rows = ["reading b.p b.q 200 fine", "reading b.p b.q 200.6 old", "rough rail.l rail.r 305 old"]
    result = found(plan, *rows)
    (told,) = [line for one in part_sizes(result, "rail") for axis in one.axes for line in axis.rough]
    assert told.endswith("304.5 - 0.07 with the error of old taken off: take 0.43 mm off")
    plan = plan.replace('"l 304 r"', '"l 306 r"')
    one = size(found(plan, *rows), "rail.l", "rail.r")
    zero = (1 / (1 / 1**2 + 1 / (0.2**2 + 0.1**2))) ** 0.5
    assert one.size_mm == pytest.approx(305 - 0.6 / (1 + 0.2**2 + 0.1**2))
    assert one.advice_expanded_mm == pytest.approx((0.2**2 + zero**2) ** 0.5)


@pytest.mark.parametrize("most", [0, 400])
@pytest.mark.parametrize("asked", ["hold", "39.4 to 41"])
def test_what_was_asked_and_cannot_be_had_presses_on_the_wood_too(monkeypatch, most, asked):
    """38.9 is there, ± 1.3 (k = 2), and no more: a hold or a limit that asks for more gives way, and the size errs
    by how the wood was read. So does the clearance, beside the reading's 0.1 and a width's 0.14."""
    monkeypatch.setattr(pieces, "DENSE_MARKS", most)
    plan = LEFT.replace("g 40 h", f"g 40 ({asked}) h")
    result = found(plan, "reading cap.o cap.i 39.3 fine", "rough key.g key.h 38.9 worn")
    one = size(result, "key.g", "key.h")
    assert (one.size_mm, one.advice_expanded_mm) == (near(38.9), pytest.approx(1.3))
    assert result.joints[0].contacts[0].expanded_mm == pytest.approx((1.3**2 + 0.1**2 + 0.14**2) ** 0.5)
    assert len(result.contradictions) == 1


NOT_ADDING_UP = """
[tool.worn]
good_to = 1.3
[tool.poor]
good_to = 2.6
[part.a]
x = "p 10 q 10 r"
[part.cap]
x = "e 150 o 14 i 150 k"
[joint.key]
meet = "a.q/r in cap.o/i, slip"
"""


@pytest.mark.parametrize("most", [0, 400])
def test_readings_that_do_not_add_up_err_by_their_own_u(monkeypatch, most):
    """p..r is 25 ± 0.1 and p..q is said to be at most 10 ± 1.3, q..r at most 10 ± 2.6: 5 too little, shared as the
    squares of their u, so q lies at 10 w + 15 (1 - w), w = (1 / 1.3^2) / (1 / 1.3^2 + 1 / 2.6^2) = 0.8, and errs by
    0.8 of 1.3 and 0.2 of what 2.6 and 0.1 are together; r - q by 0.8 of 1.3, 0.2 of 2.6 and 0.8 of 0.1."""
    monkeypatch.setattr(pieces, "DENSE_MARKS", most)
    rows = ["reading a.p a.r 25 fine", "rough a.p a.q 10 worn", "rough a.q a.r 10 poor", "reading cap.o cap.i 14.4 fine"]
    result = found(NOT_ADDING_UP, *rows)
    one, other = size(result, "a.p", "a.q"), size(result, "a.q", "a.r")
    wood = (0.8 * 1.3) ** 2 + (0.2 * 2.6) ** 2
    assert (one.size_mm, other.size_mm) == (near(11.0), near(14.0))
    assert one.advice_expanded_mm == pytest.approx((wood + (0.2 * 0.1) ** 2) ** 0.5)
    assert other.advice_expanded_mm == pytest.approx((wood + (0.8 * 0.1) ** 2) ** 0.5)
    # The clearance: the wood left as it is, 0.1 of p..r, 0.1 of the dado, and 0.6 where a single mark lands.
    expected = (wood + 0.1**2 + 0.1**2 + 0.6**2) ** 0.5
    assert result.joints[0].contacts[0].expanded_mm == pytest.approx(expected)
