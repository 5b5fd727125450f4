"""Builds whose answer can be written down: the algebra is in specs/hand_cases.md, case by case.

Each goes the whole way, from the plan's text and rows of a log to what is found. All lengths in
mm; all builds are invented.
"""

from __future__ import annotations

from math import erf, hypot, sqrt

import pytest

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.findings.values import DistanceFinding

U_FINE, U_TAPE, U_ROD = 0.05, 0.4, 0.15  # k = 1, of the tools below
U_CUT, U_WIDTH = 0.3, 0.07  # k = 1, of the head below

HEAD = """
format = 1
unit = "mm"
finest = "0.5"
workmanship = "0.6"
workmanship_width = "0.14"
[tool.fine]
good_to = "0.1"
[tool.coarse]
good_to = "0.8"
[tool.stick]
good_to = "0.3"
[tool.exact]
good_to = "0.00001"
[fits]
slip = ["0.1", "0.3", "0.7"]
wide = ["0", "0.2", "0.6"]
strict = ["0", "0.4", "0.42"]
shoulder = ["0", "0", "0.8"]
"""
SLIP_LEAST, SLIP_AIM, SLIP_BAND = 0.1, 0.3, 0.3
SHOULDER_MOST, SHOULDER_BAND = 0.8, 0.4


def found(plan: str, *rows: str, head: str = HEAD) -> fitsolve.Reconciliation:
    """Work out a build. A row is `event from to reading tool`, with - for an empty cell."""
    log = []
    for row in rows:
        event, start, end, reading, tool = ("" if cell == "-" else cell for cell in row.split())
        if event == "close":
            start, end, note = start.replace("_", " "), "", "dry"
        else:
            note = ""
        log.append(
            fitsolve.Row(
                time="2025-11-25T14:10:00+00:00",
                event=event,
                start=start,
                end=end,
                reading=reading,
                tool=tool,
                note=note,
            )
        )
    return fitsolve.reconcile(fitsolve.Build(plan=read_plan(head + plan), log=log))


def size(result: fitsolve.Reconciliation, start: str, end: str) -> DistanceFinding:
    """One plan distance."""
    (one,) = [d for d in result.distances if (d.start, d.end) == (start, end)]
    return one


def near(value: float) -> object:
    """Equal to rounding: no answer of ours may be further off."""
    return pytest.approx(value, abs=1e-9)


# -- 1. one dado over one leg ---------------------------------------------------------------------

DADO = """
[part.leg]
x = "left 80 right"
[part.apron]
x = "l 80 (give {give}) r"
[joint.dado]
meet = "leg.left/right in apron.l/r, slip"
"""


@pytest.mark.parametrize(("w", "give"), [(80.0, 0.5), (79.6, 0.5), (80.3, 2.0), (79.9, 0.25)])
def test_a_dado_stands_between_its_plan_and_its_leg(w, give):
    result = found(DADO.format(give=give), f"reading leg.left leg.right {w} fine")
    stiff, soft = 1 / give**2, 2 / SLIP_BAND**2
    d = (80 * stiff + (w + SLIP_AIM) * soft) / (stiff + soft)
    assert SLIP_LEAST < d - w < SLIP_LEAST + 2 * SLIP_BAND  # no limit presses: the formula holds
    follows = soft / (stiff + soft)
    cut = size(result, "apron.l", "apron.r")
    assert cut.size_mm == near(d)
    assert cut.advice_expanded_mm == near(2 * follows * U_FINE)
    assert cut.outcome_expanded_mm == near(2 * hypot(follows * U_FINE, U_WIDTH))
    contact = result.joints[0].contacts[0]
    assert contact.clearance_mm == near(d - w)
    assert contact.expanded_mm == near(2 * hypot(U_FINE, U_WIDTH))


def test_a_dado_that_would_be_too_tight_is_cut_to_the_least():
    w, give = 81.0, 0.1
    stiff, soft = 1 / give**2, 2 / SLIP_BAND**2
    assert (80 * stiff + (w + SLIP_AIM) * soft) / (stiff + soft) - w < SLIP_LEAST
    result = found(DADO.format(give=give), f"reading leg.left leg.right {w} fine")
    cut = size(result, "apron.l", "apron.r")
    assert cut.size_mm == near(w + SLIP_LEAST)
    assert cut.advice_expanded_mm == near(2 * U_FINE)
    assert cut.outcome_expanded_mm == near(2 * hypot(U_FINE, U_WIDTH))


# -- 2. a rail between two legs -------------------------------------------------------------------

RAIL = """
[part.leg]
copies = { l = "as drawn", r = "left for right" }
x = "outer 80 inner"
[part.rail]
x = "l 600 (give 0.5) r"
[joint.butt]
each = \"\"\"
e
l
r
\"\"\"
meet = "rail.{e} against leg.{e}.inner, shoulder"
"""


@pytest.mark.parametrize("s", [600.0, 600.3, 600.9])
def test_a_rail_between_legs_too_far_apart_leaves_some_of_it_to_its_shoulders(s):
    stiff, soft = 1 / 0.5**2, 1 / (2 * SHOULDER_BAND**2)
    length = (600 * stiff + s * soft) / (stiff + soft)
    assert (s - length) / 2 < SHOULDER_MOST
    result = found(RAIL, f"reading leg.l.inner leg.r.inner {s} coarse")
    cut = size(result, "rail.l", "rail.r")
    assert cut.size_mm == near(length)
    follows = soft / (stiff + soft)
    if s > 600:
        assert cut.advice_expanded_mm == near(2 * follows * U_TAPE)
        assert cut.outcome_expanded_mm == near(2 * sqrt((follows * U_TAPE) ** 2 + 2 * U_CUT**2))
    for joint in result.joints:
        assert joint.contacts[0].clearance_mm == near((s - length) / 2)


def test_a_rail_between_legs_too_close_is_cut_to_what_is_there():
    result = found(RAIL, "reading leg.l.inner leg.r.inner 599.2 coarse")
    assert size(result, "rail.l", "rail.r").size_mm == near(599.2)
    assert size(result, "rail.l", "rail.r").advice_expanded_mm == near(2 * U_TAPE)
    assert [joint.contacts[0].clearance_mm for joint in result.joints] == [near(0.0)] * 2


def test_a_rail_cut_too_short_leaves_both_shoulders_open_by_half():
    result = found(RAIL, "reading leg.l.inner leg.r.inner 600.5 coarse", "reading rail.l rail.r 599.9 fine")
    for joint in result.joints:
        assert joint.contacts[0].clearance_mm == near(0.3)
        assert joint.contacts[0].expanded_mm == near(hypot(U_TAPE, U_FINE))  # 2 * sqrt(..) / 2


# -- 3. an error shared ---------------------------------------------------------------------------

SHELF = """
[part.shelf]
x = ["l 900 (hold) r", "l 300 ({0}) a 300 ({1}) b 300 ({2}) r"]
"""
GIVES = SHELF.format("give 1", "give 2", "give 3")
PIECES = [("shelf.l", "shelf.a"), ("shelf.a", "shelf.b"), ("shelf.b", "shelf.r")]


def pieces(result):
    return [size(result, start, end).size_mm for start, end in PIECES]


def test_an_error_is_shared_by_the_square_of_the_gives():
    result = found(GIVES, "reading shelf.l shelf.r 903 coarse")
    assert pieces(result) == [near(300 + 3 * square / 14) for square in (1, 4, 9)]
    for (start, end), square in zip(PIECES, (1, 4, 9), strict=True):
        assert size(result, start, end).advice_expanded_mm == near(2 * U_TAPE * square / 14)


def test_an_overall_that_holds_passes_the_error_of_a_made_piece_to_the_others():
    result = found(GIVES, "reading shelf.l shelf.a 302 fine")
    assert pieces(result) == [near(302), near(300 - 2 * 4 / 13), near(300 - 2 * 9 / 13)]
    assert size(result, "shelf.l", "shelf.r").size_mm == near(900)
    assert size(result, "shelf.l", "shelf.r").advice_expanded_mm == near(0)


def test_a_piece_at_its_limit_leaves_the_rest_to_the_others():
    plan = SHELF.format("give 1", "give 2", "give 3, 299 to 301")
    result = found(plan, "reading shelf.l shelf.r 903 coarse")
    assert pieces(result) == [near(300 + 2 / 5), near(300 + 2 * 4 / 5), near(301)]


def test_pieces_without_a_give_take_all_of_it():
    plan = SHELF.format("give 1", "finest 0.5", "finest 0.5")
    result = found(plan, "reading shelf.l shelf.r 903 coarse")
    assert pieces(result) == [near(300), near(301.5), near(301.5)]


def test_limits_that_cannot_all_hold_are_missed_by_the_square_of_the_gives():
    plan = SHELF.format(*(f"give {give}, 299 to 301" for give in (1, 2, 2)))
    result = found(plan, "reading shelf.l shelf.r 906 coarse")
    assert pieces(result) == [near(301 + 3 * square / 9) for square in (1, 4, 4)]
    (one,) = result.contradictions
    assert not one.facts
    assert one.rows == (1,)
    assert sorted(demand.missed_mm for demand in one.demands) == [near(3 / 9), near(12 / 9), near(12 / 9)]


# -- 4. two legs made, not read, under an overall reading -----------------------------------------

LEGS = """
[part.leg]
copies = ["l", "r"]
x = "left 80 right"
[part.apron]
x = "l.a 80 l.b 600 r.a 80 r.b"
[joint.dado]
each = \"\"\"
e
l
r
\"\"\"
meet = "leg.{e}.left/right in apron.{e}.a/b, wide"
"""


def test_two_unread_legs_share_what_an_overall_reading_says_of_their_sum():
    s, t = 600.5, 761.7
    result = found(LEGS, f"reading leg.l.right leg.r.left {s} stick", f"reading leg.l.left leg.r.right {t} coarse")
    u = hypot(U_ROD, U_TAPE)
    for leg in ("l", "r"):
        one = size(result, f"leg.{leg}.left", f"leg.{leg}.right")
        assert one.size_mm == near(80 + (t - s - 160) / 2)
        assert one.advice_expanded_mm == near(2 * sqrt(U_CUT**2 / 2 + u**2 / 4))
        assert one.state == "made"
    assert all(doubt.redundancy == near(0) for doubt in result.doubts)


def test_a_leg_that_is_read_leaves_the_whole_of_it_to_the_other():
    # Stage 1 then settles both legs: b = t - s - a, and nothing is left to the plan.
    s, t, a = 600.5, 761.7, 80.1
    readings = (
        f"reading leg.l.right leg.r.left {s} stick",
        f"reading leg.l.left leg.r.right {t} coarse",
        f"reading leg.l.left leg.l.right {a} fine",
    )
    one = size(found(LEGS, *readings), "leg.r.left", "leg.r.right")
    assert one.size_mm == near(t - s - a)
    assert one.advice_expanded_mm == near(2 * sqrt(U_ROD**2 + U_TAPE**2 + U_FINE**2))


# -- 5. closed joints -----------------------------------------------------------------------------


def test_legs_closed_on_a_rail_stand_as_far_apart_as_it_is_long():
    result = found(
        RAIL,
        "reading rail.l rail.r 599.4 fine",
        "close butt_rail_leg.l - - -",
        "close butt_rail_leg.r - - -",
    )
    spacing = result.between("leg.l.inner", "leg.r.inner")
    assert spacing.distance_mm == near(599.4)
    assert spacing.expanded_mm == near(2 * sqrt(U_FINE**2 + 2 * 0.05**2))


def test_a_leg_closed_in_its_dado_is_centred():
    result = found(
        DADO.format(give=1),
        "reading leg.left leg.right 79.8 fine",
        "reading apron.l apron.r 80.4 stick",
        "close dado_leg_apron - - -",
    )
    gap = result.between("apron.l", "leg.left")
    assert gap.distance_mm == near(0.3)
    assert gap.expanded_mm == near(sqrt(U_FINE**2 + U_ROD**2 + 0.7**2 / 3))  # 2 * sqrt(..) / 2


# -- 6. seats of two dados over two legs ----------------------------------------------------------

SEATS = """
[part.leg]
copies = ["l", "r"]
x = "left 80 right"
[part.apron]
x = "l.a 80.4 (hold) l.b 600 (hold) r.a 80.4 (hold) r.b"
[joint.dado]
each = \"\"\"
e  fit
l  strict
r  wide
\"\"\"
meet = "leg.{e}.left/right in apron.{e}.a/b, {fit}"
"""
# The left dado is pulled to its middle much more than the right one: where the apron comes to lie
# is not halfway, and says nothing of whether it could lie anywhere.
EXACT_WIDTHS = HEAD.replace('workmanship_width = "0.14"', 'workmanship_width = "0"')
LEG_WIDTHS = ("reading leg.l.left leg.l.right 80 exact", "reading leg.r.left leg.r.right 80 exact")
DADO_WIDTHS = ("reading apron.l.a apron.l.b 80.4 exact", "reading apron.r.a apron.r.b 80.4 exact")
DRAWS = 10_000


def phi(z: float) -> float:
    return (1 + erf(z / sqrt(2))) / 2


def chance_of_seating(opening_legs: float, opening_dados: float, u: float) -> float:
    h = (0.4 + 0.4) / 2
    z = opening_legs - opening_dados - h
    return phi((h - z) / u) - phi((-h - z) / u)


def seat(result: fitsolve.Reconciliation) -> float:
    (one,) = [seat for seat in result.seats if seat.part == "apron"]
    return one.chance


@pytest.mark.parametrize("opening", [599.9, 600.2, 600.4, 600.7])
def test_made_dados_go_over_two_legs_with_the_chance_of_their_spacing(opening):
    result = found(
        SEATS,
        *LEG_WIDTHS,
        *DADO_WIDTHS,
        f"reading leg.l.right leg.r.left {opening} coarse",
        "reading apron.l.b apron.r.a 600 stick",
    )
    p = chance_of_seating(opening, 600, hypot(U_TAPE, U_ROD))
    assert 0.1 < p < 0.9
    assert abs(seat(result) - p) < 3 * sqrt(p * (1 - p) / DRAWS)


@pytest.mark.parametrize("opening", [600.1, 600.4, 600.75])
def test_dados_still_to_be_cut_go_over_two_legs_with_the_chance_of_their_location(opening):
    result = found(SEATS, *LEG_WIDTHS, f"reading leg.l.right leg.r.left {opening} stick", head=EXACT_WIDTHS)
    assert 0 < opening - 600 < 0.8  # the holds can hold: nothing gives way
    p = chance_of_seating(opening, 600, sqrt(U_ROD**2 + 2 * U_CUT**2))
    assert 0.1 < p < 0.9
    assert abs(seat(result) - p) < 3 * sqrt(p * (1 - p) / DRAWS)


def test_clearances_that_are_right_do_not_make_a_part_go_on():
    # The dados' opening is a millimetre too wide for the legs: each joint fits, the apron jams.
    readings = (
        *LEG_WIDTHS,
        *DADO_WIDTHS,
        "reading leg.l.right leg.r.left 599 fine",
        "reading apron.l.b apron.r.a 600 fine",
    )
    assert chance_of_seating(599, 600, hypot(U_FINE, U_FINE)) < 1e-6
    result = found(SEATS, *readings)
    assert [joint.contacts[0].verdict for joint in result.joints] == ["fits", "fits"]
    assert [seat.verdict for seat in result.seats if seat.part == "apron"] == ["jams"]
    assert [joint.verdict for joint in result.joints] == ["tight", "tight"]


def test_legs_that_nothing_ties_let_each_dado_find_its_own():
    result = found(SEATS, *LEG_WIDTHS, *DADO_WIDTHS, "reading apron.l.b apron.r.a 600 coarse")
    assert seat(result) == 1.0
    assert [joint.verdict for joint in result.joints] == ["fits", "fits"]


# -- 7. wood comes down only ----------------------------------------------------------------------

STICK = '[part.rail]\nx = "l 310 (give 1) r"\n'


@pytest.mark.parametrize(("there", "cut"), [(305, 305), (320, 310)])
def test_a_rough_rail_only_comes_down(there, cut):
    result = found(STICK, f"rough rail.l rail.r {there} fine")
    one = size(result, "rail.l", "rail.r")
    assert one.size_mm == near(cut)
    assert one.state == "rough"


# -- 8. what nothing fixes --------------------------------------------------------------------------


def test_what_nothing_fixes_is_given_no_number():
    result = found('[part.rail]\ncopies = ["one", "two"]\nx = "l 310 r"\n')
    assert size(result, "rail.one.l", "rail.one.r").size_mm == near(310)
    apart = result.between("rail.one.l", "rail.two.l")
    assert (apart.distance_mm, apart.expanded_mm) == (None, None)
