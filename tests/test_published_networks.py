"""Networks and lines that were published: positions, uncertainties and doubts come out as printed.

Values, with title, edition and section: specs/references/networks.toml and lines.toml. What was
printed is held to half its last digit, what was computed from the published inputs to more.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.findings.doubts import CRITICAL
from fitsolve.rows import Bounds, Cuts, Network, RowList
from fitsolve.solve import pieces
from fitsolve.solve.pieces import residuals, solve_pieces
from fitsolve.solve.sparse import SparseStaged
from fitsolve.solve.staged import Staged

REFERENCES = Path(__file__).parent.parent / "specs/references"
NETWORKS = tomllib.loads((REFERENCES / "networks.toml").read_text())
LINES = tomllib.loads((REFERENCES / "lines.toml").read_text())

# -- a levelling net ---------------------------------------------------------------------------

LEVELLING = NETWORKS["levelling"]
POINTS = ["A", "B", "C", "D"]
HEIGHTS = ["B", "C", "D"]
AT_A = LEVELLING["fixed"]["A"]


def network_of(measured: RowList, size: int) -> Network:
    """A network of readings alone: nothing is cut, nothing is wished."""
    none, nothing = RowList().rows(), np.zeros(0)
    bounds = Bounds(none, nothing, nothing, np.zeros(0, bool), np.zeros(0, bool))
    cuts = Cuts(np.full(size, -1), np.zeros(size), np.arange(size), 0.0, 0.0)
    lists = dict.fromkeys(("planned", "wishes", "late", "holds", "judged"), none)
    return Network(np.zeros(size), np.zeros(size, bool), measured.rows(), bounds=bounds, cuts=cuts, **lists)


def levelled(added_mm=0.0):
    """The net as rows in mm; the height of A is where everything is counted from."""
    rows = RowList()
    for number, (start, end, metres, sigma) in enumerate(LEVELLING["observed"]):
        wrong = added_mm if number == LEVELLING["blunder"]["number"] else 0.0
        terms = [(POINTS.index(end), 1.0), (POINTS.index(start), -1.0)]
        rows.add(terms, 1000 * metres + wrong, 1000 * sigma)
    return network_of(rows, len(POINTS))


def rise(point: str) -> list[tuple[int, float]]:
    """How far a point lies above A, as a row."""
    return [(POINTS.index(point), 1.0), (0, -1.0)]


@pytest.fixture(params=["dense", "sparse"])
def way(request, monkeypatch):
    """Both ways a piece is solved."""
    monkeypatch.setattr(pieces, "DENSE_MARKS", 400 if request.param == "dense" else 0)
    return request.param


@pytest.fixture
def net(way):
    (piece,) = solve_pieces(levelled())
    return piece


def wanted_rows(rows):
    collected = RowList()
    for terms in rows:
        collected.add(terms, 0.0, 1.0)
    return collected.rows()


def test_heights_come_out_as_published(net):
    published, computed = LEVELLING["published"]["height_m"], LEVELLING["computed"]["height_m"]
    found = {point: AT_A + float(net.x[POINTS.index(point)] - net.x[0]) / 1000 for point in HEIGHTS}
    assert found == pytest.approx(published, abs=0.51e-5)
    assert found == pytest.approx(computed, abs=1e-9)


def test_standard_deviations_and_their_covariance_come_out_as_published(net):
    rows = wanted_rows(rise(point) for point in HEIGHTS)
    sd = np.sqrt(net.advice.variance(rows))
    assert dict(zip(HEIGHTS, sd, strict=True)) == pytest.approx(LEVELLING["computed"]["sd_a_priori_mm"], abs=1e-8)
    s0 = LEVELLING["published"]["s0"]  # four figures
    posterior = dict(zip(HEIGHTS, sd * s0, strict=True))
    assert posterior == pytest.approx(LEVELLING["published"]["sd_a_posteriori_mm"], abs=0.006)
    (covariance,) = net.advice.covariances(rows, [np.arange(len(rows))])
    expected = np.array(LEVELLING["computed"]["covariance_a_posteriori_mm2"])
    square_sum = float(np.square(residuals(net).residual_mm / net.network.measured.scale).sum())
    assert covariance * square_sum / 3 == pytest.approx(expected, abs=1e-6)


def test_residuals_redundancies_and_their_statistics_come_out_as_published(net):
    published, computed = LEVELLING["published"], LEVELLING["computed"]
    found, scale = residuals(net), net.network.measured.scale
    assert found.residual_mm == pytest.approx(published["residual_mm"], abs=0.0051)
    square_sum = float(np.square(found.residual_mm / scale).sum())
    assert square_sum == pytest.approx(published["weighted_square_sum"], abs=0.51e-5)
    assert found.redundancy == pytest.approx(computed["redundancy"], abs=1e-9)
    assert found.redundancy.sum() == pytest.approx(published["degrees_of_freedom"], abs=1e-9)
    assert found.standardised == pytest.approx(computed["w"], abs=1e-8)
    s0 = np.sqrt(square_sum / published["degrees_of_freedom"])
    assert np.abs(found.standardised) / s0 == pytest.approx(published["tau"], abs=0.51e-3)
    assert found.residual_mm / found.redundancy == pytest.approx(published["error_mm"], abs=0.51e-3)


def test_a_reading_30_mm_too_long_shows_in_every_statistic(way):
    blunder = LEVELLING["blunder"]
    (piece,) = solve_pieces(levelled(blunder["added_mm"]))
    found = residuals(piece)
    assert found.standardised == pytest.approx(blunder["w"], abs=1e-8)
    square_sum = np.square(found.residual_mm / piece.network.measured.scale).sum()
    assert square_sum == pytest.approx(blunder["weighted_square_sum"], abs=1e-8)
    k = blunder["number"]
    assert -found.residual_mm[k] / found.redundancy[k] == pytest.approx(blunder["error_mm"], abs=1e-7)


# The same net as a build: one post with four marks, each reading by a tool of its own.
POST = """
format = 1
unit = "mm"
[part.post]
z = "A 7350 D 3160 B 5360 C"
"""
POST += "".join(f'[tool.t{k}]\ngood_to = "{2000 * obs[3]:g}"\n' for k, obs in enumerate(LEVELLING["observed"]))


def post(added_mm=0.0):
    rows = []
    for k, (start, end, metres, _) in enumerate(LEVELLING["observed"]):
        length = abs(1000 * metres) + (added_mm if k == LEVELLING["blunder"]["number"] else 0.0)
        rows.append(
            fitsolve.Row(
                time="2025-11-25T14:10:00+00:00",
                event="reading",
                start=f"post.{start}",
                end=f"post.{end}",
                reading=f"{length:.0f}",
                tool=f"t{k}",
            )
        )
    return fitsolve.reconcile(fitsolve.Build(plan=read_plan(POST), log=rows))


def test_a_build_finds_the_same_heights_and_doubts_nothing():
    found = post()
    for point in HEIGHTS:
        between = found.between("post.A", f"post.{point}")
        height, sd = LEVELLING["computed"]["height_m"][point], LEVELLING["computed"]["sd_a_priori_mm"][point]
        assert between.distance_mm == pytest.approx(1000 * (height - AT_A), abs=1e-6)
        assert between.expanded_mm == pytest.approx(2 * sd, abs=1e-8)
    assert not any(doubt.suspect for doubt in found.doubts)
    # A reading is a length: going down, it is too long where the height difference is too small.
    sign = np.sign([obs[2] for obs in LEVELLING["observed"]])
    assert [doubt.standardised for doubt in found.doubts] == pytest.approx(sign * LEVELLING["computed"]["w"], abs=1e-7)


def test_a_build_names_every_reading_that_could_be_the_wrong_one():
    blunder = LEVELLING["blunder"]
    found = post(blunder["added_mm"])
    assert [k for k, doubt in enumerate(found.doubts) if doubt.suspect] == blunder["suspects"]
    culprit = found.doubts[blunder["number"]]
    assert culprit.would_be_mm == pytest.approx(5360 + 30 - blunder["error_mm"], abs=1e-6)
    assert max(found.doubts, key=lambda doubt: abs(doubt.standardised)) is culprit
    assert not found.all_well


def test_the_critical_value_is_the_normal_quantile():
    critical = NETWORKS["critical"]
    assert CRITICAL == critical["w"] == pytest.approx(NormalDist().inv_cdf(1 - critical["alpha"] / 2), abs=0.51e-4)


# -- straight lines: the marks stand for a and b of y = a + b x ----------------------------------


@pytest.fixture(params=[Staged, SparseStaged])
def staged(request):
    return request.param


def line(x, y, u, constant=True):
    """The rows of a line: unknown 0 is the slope, unknown 1 the constant."""
    rows = RowList()
    for at, value, scale in zip(x, y, u, strict=True):
        rows.add([(0, at), (1, 1.0)] if constant else [(0, at)], value, scale)
    return rows


def fitted(staged, rows, size):
    """Unknowns, their covariance for the scales given, and the weighted sum of squares."""
    stage = rows.rows()
    solved = staged.start(size).add(stage)
    unknowns = wanted_rows([[(k, 1.0)] for k in range(size)])
    (covariance,) = solved.errors(1).covariances(unknowns, [np.arange(len(unknowns))])
    misfit = (stage.of(solved.x) - stage.value) / stage.scale
    return solved.x, covariance, float(misfit @ misfit)


@pytest.mark.parametrize("name", LINES["strd"])
def test_certified_lines_come_out_as_certified(staged, name):
    case = LINES["strd"][name]
    size = len(case["estimate"])
    x, covariance, square_sum = fitted(staged, line(case["x"], case["y"], np.ones(len(case["x"])), case["constant"]), size)
    s = np.sqrt(square_sum / (len(case["x"]) - size))
    assert x[::-1] == pytest.approx(case["estimate"], rel=1e-11)
    assert s == pytest.approx(case["residual_sd"], rel=1e-11)
    assert s * np.sqrt(np.diag(covariance))[::-1] == pytest.approx(case["std_dev"], rel=1e-11)
    if "residual_ss" in case:
        assert square_sum == pytest.approx(case["residual_ss"], rel=1e-11)


def test_the_weighted_line_of_iso_28037_comes_out_with_its_covariance(staged):
    case = LINES["iso28037"]
    published, computed = case["published"], case["computed"]
    (b, a), covariance, chi_squared = fitted(staged, line(case["x"], case["y"], case["u_y"]), 2)
    u_b, u_a = np.sqrt(np.diag(covariance))
    found = {"a": a, "b": b, "u_a": u_a, "u_b": u_b, "chi_squared": chi_squared}
    assert found == pytest.approx(computed, abs=1e-9)
    found["cov_ab"] = covariance[0, 1]
    assert found == pytest.approx({name: published[name] for name in found}, abs=0.51e-3)


def thermometer(u, common=None):
    """GUM H.3: the line, with an error that all readings share as a third unknown of finite u."""
    case = LINES["gum_h3"]
    rows = RowList()
    for t, b in zip(case["t"], case["b"], strict=True):
        shared = [] if common is None else [(2, 1.0)]
        rows.add([(0, t - case["t0"]), (1, 1.0), *shared], b, u)
    if common is not None:
        rows.add([(2, 1.0)], 0.0, common)
    return rows


def test_the_thermometer_of_the_gum_comes_out_as_published(staged):
    published, computed = LINES["gum_h3"]["published"], LINES["gum_h3"]["computed"]
    (y2, y1), covariance, square_sum = fitted(staged, thermometer(1.0), 2)
    s = np.sqrt(square_sum / published["degrees_of_freedom"])
    u_y2, u_y1 = s * np.sqrt(np.diag(covariance))
    at_30 = np.array([10.0, 1.0])
    found = {"y1": y1, "u_y1": u_y1, "y2": y2, "u_y2": u_y2, "s": s, "residual_ss": square_sum}
    found |= {"correlation": s**2 * covariance[0, 1] / (u_y1 * u_y2), "b_30": at_30 @ (y2, y1)}
    found["u_b_30"] = s * np.sqrt(at_30 @ covariance @ at_30)
    assert found == pytest.approx(computed, rel=1e-7)
    digits = {"y1": 4, "u_y1": 4, "y2": 5, "u_y2": 5, "s": 4, "correlation": 3, "b_30": 4, "u_b_30": 4}
    assert {name: round(float(found[name]), places) for name, places in digits.items()} == {
        name: published[name] for name in digits
    }


def test_an_error_common_to_all_readings_widens_the_constant_alone(staged):
    case, s = LINES["gum_h3"]["common"], LINES["gum_h3"]["computed"]["s"]
    (y2, y1, shared), covariance, _ = fitted(staged, thermometer(s, case["u"]), 3)
    u_y2, u_y1, _ = np.sqrt(np.diag(covariance))
    assert (u_y1, u_y2) == pytest.approx((case["u_y1"], case["u_y2"]), rel=1e-7)
    computed = LINES["gum_h3"]["computed"]
    assert (y1, y2) == pytest.approx((computed["y1"], computed["y2"]), rel=1e-9)
    assert shared == pytest.approx(0.0, abs=1e-12)  # the readings cannot tell it from the constant
