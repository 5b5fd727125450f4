"""Chances and verdicts that were published: specs/references/conformity.toml says where."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest

from fitsolve.rows import RowList
from fitsolve.solve.judge import PROVEN, chance_within, judge, normal_below
from fitsolve.solve.staged import Staged

PUBLISHED = tomllib.loads((Path(__file__).parent.parent / "specs/references/conformity.toml").read_text())
BEARINGS = PUBLISHED["ball_bearings"]

ONE_SIDED = list(zip(PUBLISHED["one_sided"]["probability"], PUBLISHED["one_sided"]["z"], strict=True))


@pytest.mark.parametrize(("probability", "z"), ONE_SIDED)
def test_a_one_sided_limit_is_kept_with_the_published_chance(probability, z):
    # z is printed to two places: the chance must pass the printed one between z - 0.005 and z + 0.005.
    u, most = 0.4, 7.0
    below = chance_within(most - (z - 0.0051) * u, u, -math.inf, most)[1]
    above = chance_within(most - (z + 0.0051) * u, u, -math.inf, most)[1]
    assert below < probability < above


def integral(weight, low, high):
    from scipy.integrate import quad
    from scipy.stats import gamma

    made = gamma(BEARINGS["shape"], scale=1 / BEARINGS["rate"])
    return quad(lambda error: made.pdf(error) * weight(error), low, high, epsabs=1e-13, epsrel=1e-11)[0]


def consumer_risk(accepted_up_to):
    """The chance that a ball is out of limits and yet reads no more than what is accepted."""

    def accepted(error):
        return chance_within(error, BEARINGS["u"], -math.inf, accepted_up_to)[1]

    return integral(accepted, BEARINGS["most"], 8.0)  # beyond 8 um: less than 1e-9


def test_ball_bearings_out_of_limits_before_inspection():
    # The inputs are the published ones: otherwise what follows says nothing.
    out = integral(lambda _: 1.0, BEARINGS["most"], 40.0)
    assert out == pytest.approx(BEARINGS["not_conforming"], abs=0.51e-3)
    assert out == pytest.approx(BEARINGS["not_conforming_computed"], abs=1e-7)


def test_the_risk_of_a_bad_ball_bearing_accepted_comes_out_as_published():
    risk = consumer_risk(BEARINGS["most"])
    assert risk == pytest.approx(BEARINGS["consumer_risk"], abs=0.51e-3)
    assert risk == pytest.approx(BEARINGS["consumer_risk_computed"], abs=1e-7)


def test_the_published_guard_band_brings_the_risk_to_one_in_a_thousand():
    # The limit of acceptance is printed to 0.01 um.
    accepted = BEARINGS["accepted_up_to"]
    assert consumer_risk(accepted - 0.005) < BEARINGS["risk_at_guard"] < consumer_risk(accepted + 0.005)


# z of the guard band for 95 %: with limits far apart against u only one of them matters.
Z_95 = 1.6448536  # the exact normal quantile; JCGM 106:2012 Table 1 prints 1.64
LOW, HIGH, U = 10.0, 12.0, 0.05
GUARD = Z_95 * U


@pytest.mark.parametrize(
    ("value", "side"),
    [
        (11.0, "in"),
        (LOW + GUARD * 1.001, "in"),
        (HIGH - GUARD * 1.001, "in"),
        (LOW + GUARD * 0.999, "unsure"),
        (HIGH - GUARD * 0.999, "unsure"),
        (LOW, "unsure"),
        (HIGH, "unsure"),
        (LOW - GUARD * 0.999, "unsure"),
        (HIGH + GUARD * 0.999, "unsure"),
        (LOW - GUARD * 1.001, "low"),
        (HIGH + GUARD * 1.001, "high"),
    ],
)
def test_the_three_answers_part_at_the_guard_bands(value, side):
    assert judge(value, U, LOW, HIGH).side == side
    assert PUBLISHED["three_answers"]["probability"] == PROVEN


def test_limits_narrower_than_can_be_proven_leave_it_open_wherever_the_value_lies():
    # ISO 14253-1: the guard bands meet. With limits 2 u apart at best Phi(1) - Phi(-1) = 0.6827.
    middle = judge(0.0, 1.0, -1.0, 1.0)
    assert middle.side == "unsure"
    assert middle.chance == pytest.approx(0.682689492137, abs=1e-12)
    assert all(judge(0.1 * k, 1.0, -1.0, 1.0).side != "in" for k in range(-50, 51))


def test_a_value_known_exactly_is_judged_by_its_limits():
    answers = [judge(value, 0.0, LOW, HIGH).side for value in (9.999, LOW, 11.0, HIGH, 12.001)]
    assert answers == ["low", "in", "in", "in", "high"]


@pytest.mark.parametrize("name", PUBLISHED["sums"])
def test_a_sum_of_errors_has_the_published_interval(name):
    # Marks 0 to 4 in a row, each distance read once with its own u: the whole is the sum of the four.
    case = PUBLISHED["sums"][name]
    rows, whole = RowList(), RowList()
    for k, u in enumerate(case["u"]):
        rows.add([(k + 1, 1.0), (k, -1.0)], 0.0, u)
    whole.add([(4, 1.0), (0, -1.0)], 0.0, 1.0)
    u = float(Staged.start(5).add(rows.rows()).errors(1).variance(whole.rows())[0]) ** 0.5
    assert u == pytest.approx(case["u_sum"], rel=6e-3)
    assert u == pytest.approx(math.hypot(*case["u"]), rel=1e-12)
    half = case["interval_95_exact"]
    assert round(half, 1 if half > 10 else 2) == case["interval_95"]
    assert chance_within(0.0, u, -half, half)[1] == pytest.approx(0.95, abs=1e-7)


def test_the_end_gauge_of_the_gum_has_the_published_uncertainty():
    # The same row of marks: length = reference gauge + difference + thermal terms.
    case = PUBLISHED["end_gauge"]
    rows, whole = RowList(), RowList()
    for k, u in enumerate(case["u"]):
        rows.add([(k + 1, 1.0), (k, -1.0)], 0.0, u)
    whole.add([(4, 1.0), (0, -1.0)], 0.0, 1.0)
    u = float(Staged.start(5).add(rows.rows()).errors(1).variance(whole.rows())[0]) ** 0.5
    assert u == pytest.approx(case["u_length_unrounded"], abs=0.06)  # the inputs are as printed, rounded
    assert round(u) == case["u_length"]


def test_rectangular_errors_would_give_a_narrower_interval_than_the_normal_rule():
    # JCGM 101:2008, 9.2: said of a dominant rectangular error; we take errors as normal and so err to the
    # safe side here: in the exact 95 % interval the normal rule sees less than 95 %.
    case = PUBLISHED["sums"]["one_large"]
    u = math.hypot(*case["u"])
    half = case["interval_95_rectangular"]
    assert normal_below(half / u) - normal_below(-half / u) < 0.95
