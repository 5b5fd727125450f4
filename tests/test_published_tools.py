"""A tool checked against known lengths obeys reading = zero + scale * length: published lines, found as tool errors.

The lines, with title, edition and section: specs/references/lines.toml. Here they are not fitted as
lines: known lengths are marks read exactly, the published values are readings of them, and what the
line is comes out as what the readings of one tool share (zero, and scale as a share of the length).
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest
from test_published_networks import LEVELLING, network_of, post

from fitsolve.rows import Network, RowList, Shared
from fitsolve.solve import pieces
from fitsolve.solve.doubts import ALPHA, DELTA0
from fitsolve.solve.pieces import residuals, solve_pieces

LINES = tomllib.loads((Path(__file__).parent.parent / "specs/references/lines.toml").read_text())

EXACT = 1e-9
"""The u by which a known length is known, in units of what is published: as good as exactly."""

UNKNOWN = 1e9
"""The u a zero and a scale are given where nothing is said of them: as good as none."""


def checked(lengths, readings, u, given=(UNKNOWN, UNKNOWN)) -> Network:
    """Known lengths, each read once with one tool: r = d + zero + scale d."""
    rows, row, column, coef = RowList(), [], [], []
    for k, (length, reading) in enumerate(zip(lengths, readings, strict=True)):
        ends = [(2 * k + 1, 1.0), (2 * k, -1.0)]
        rows.add(ends, length, EXACT)
        at = rows.add(ends, reading, u)
        row += [at, at]
        column += [0, 1]
        coef += [1.0, length]
    none = np.zeros(0, dtype=np.intp)
    shared = Shared(np.array(given), np.array(row), np.array(column), np.array(coef), none, none, np.zeros(0))
    from dataclasses import replace

    return replace(network_of(rows, 2 * len(lengths)), shared=shared)


def told(network):
    """Zero and scale with their covariance, and the sum of the squares of all residuals by u."""
    found = list(solve_pieces(network))
    one = found[0].shared.told
    z = np.concatenate([residuals(piece).residual_mm / piece.network.measured.scale for piece in found])
    return one.value, one.root @ one.root.T, float(z @ z)


@pytest.fixture(params=["dense", "sparse"], autouse=True)
def way(request, monkeypatch):
    """Both ways a piece is solved."""
    monkeypatch.setattr(pieces, "DENSE_MARKS", 400 if request.param == "dense" else 0)


def test_norris_comes_out_as_certified():
    case = LINES["strd"]["Norris"]
    (zero, scale), covariance, square_sum = told(checked(case["x"], case["y"], 1.0))
    s = math.sqrt(square_sum / (len(case["x"]) - 2))
    assert s == pytest.approx(case["residual_sd"], rel=1e-7)
    assert (zero, 1 + scale) == pytest.approx(case["estimate"], rel=1e-7)
    assert s * np.sqrt(np.diag(covariance)) == pytest.approx(case["std_dev"], rel=1e-7)


@pytest.mark.parametrize("name", ["NoInt1", "NoInt2"])
def test_a_tool_without_a_zero_comes_out_as_certified(name):
    case = LINES["strd"][name]
    (_, scale), covariance, square_sum = told(checked(case["x"], case["y"], 1.0, given=(1e-9, UNKNOWN)))
    s = math.sqrt(square_sum / (len(case["x"]) - 1))
    assert 1 + scale == pytest.approx(case["estimate"][0], rel=1e-7)
    assert s * math.sqrt(covariance[1, 1]) == pytest.approx(case["std_dev"][0], rel=1e-7)


def test_the_thermometer_of_the_gum_comes_out_with_its_covariance():
    case, computed = LINES["gum_h3"], LINES["gum_h3"]["computed"]
    known = [t - case["t0"] for t in case["t"]]
    read = [b + length for b, length in zip(case["b"], known, strict=True)]
    (zero, scale), covariance, _ = told(checked(known, read, computed["s"]))
    assert (zero, scale) == pytest.approx((computed["y1"], computed["y2"]), rel=1e-6)
    u = np.sqrt(np.diag(covariance))
    assert u == pytest.approx((computed["u_y1"], computed["u_y2"]), rel=1e-6)
    assert covariance[0, 1] / (u[0] * u[1]) == pytest.approx(computed["correlation"], rel=1e-6)
    # What the tool reads too much at 30 degrees, and its u.
    at_30 = np.array([1.0, 10.0])
    assert at_30 @ (zero, scale) == pytest.approx(computed["b_30"], rel=1e-6)
    assert math.sqrt(at_30 @ covariance @ at_30) == pytest.approx(computed["u_b_30"], rel=1e-6)


def test_the_line_of_iso_28037_comes_out_with_its_chi_square():
    case = LINES["iso28037"]
    (zero, scale), covariance, square_sum = told(checked(case["x"], case["y"], case["u_y"][0]))
    computed = case["computed"]
    assert (zero, 1 + scale) == pytest.approx((computed["a"], computed["b"]), abs=1e-7)
    assert np.sqrt(np.diag(covariance)) == pytest.approx((computed["u_a"], computed["u_b"]), abs=1e-7)
    assert covariance[0, 1] == pytest.approx(case["published"]["cov_ab"], abs=0.51e-3)
    assert square_sum == pytest.approx(computed["chi_squared"], abs=1e-6)


class TestTheBlunder:
    """The levelling net with one reading 30 mm too long, as a build: who is named, and what is left."""

    def test_it_is_named_first_and_what_could_as_well_be_wrong_with_it(self):
        blunder = LEVELLING["blunder"]
        found = post(blunder["added_mm"])
        (one,) = found.suspicions
        named = [who.number - 1 for who in (one.worst, *one.equals, *one.because)]
        assert named[0] == blunder["number"]
        assert sorted(named) == blunder["suspects"]
        # 4.411^2 - 4.180^2 = 1.99 is less than 6.635, 4.411^2 - 3.405^2 = 7.86 is more.
        assert [who.number - 1 for who in one.equals] == [2]
        assert [who.number - 1 for who in one.because] == [4]
        assert one.worst.error_mm == pytest.approx(blunder["error_mm"], abs=1e-6)

    def test_the_whole_does_not_agree_and_the_rest_does(self):
        found = post(LEVELLING["blunder"]["added_mm"])
        agreement = found.agreement
        assert agreement.chi_square == pytest.approx(LEVELLING["blunder"]["weighted_square_sum"], abs=1e-7)
        assert (agreement.freedom, agreement.agrees) == (3, False)
        (one,) = found.suspicions
        assert one.rest_agrees
        # Without the reading the blunder does not matter: the square sum is that of the net as printed
        # less the w of that reading, 1.27212 - 0.1063^2 = 1.2608, with 2 degrees of freedom.
        sum_without = LEVELLING["published"]["weighted_square_sum"] - LEVELLING["computed"]["w"][1] ** 2
        assert one.rest_chance == pytest.approx(math.exp(-sum_without / 2), abs=1e-5)

    def test_as_printed_all_agrees(self):
        agreement = post().agreement
        assert agreement.chi_square == pytest.approx(LEVELLING["published"]["weighted_square_sum"], abs=0.51e-5)
        assert agreement.freedom == LEVELLING["published"]["degrees_of_freedom"]
        assert agreement.agrees

    def test_the_smallest_error_that_would_be_found(self):
        # sigma 4.132 / sqrt r, W. Baarda 1968 (from memory), redundancies as computed.
        for doubt, obs, r in zip(
            post().doubts, LEVELLING["observed"], LEVELLING["computed"]["redundancy"], strict=True
        ):
            assert doubt.smallest_error_mm == pytest.approx(1000 * obs[3] * 4.132 / math.sqrt(r), rel=1e-7)


def test_the_non_centrality_is_that_of_the_reference():
    # alpha 0.001 two-sided, power 0.80: delta0 4.132, its square 17.075 (W. Baarda 1968, from memory).
    quantile = NormalDist().inv_cdf
    assert pytest.approx(quantile(1 - ALPHA / 2) + quantile(0.80), abs=0.51e-3) == DELTA0
    assert pytest.approx(17.075, abs=2e-3) == DELTA0**2
