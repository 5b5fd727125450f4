"""In a large piece the room a part has is as sure as the covariances of all its marks say."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from fitsolve.build.folder import load_build
from fitsolve.findings.causes import squeeze
from fitsolve.findings.solved import rows_of
from fitsolve.reconciliation import reconcile
from fitsolve.solve.covariance import DenseErrors

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))
from bays import bays_for, log_text, plan_text


def test_its_uncertainty_is_that_of_the_selected_inverse(tmp_path):
    # Two ways to the same number: the norm of one row's influences, and the inverse of the whole system at
    # the places that the row needs.
    bays = bays_for(700)
    (tmp_path / "plan.toml").write_text(plan_text(bays))
    (tmp_path / "log.csv").write_text(log_text(bays))
    found = reconcile(load_build(tmp_path))
    tight = [one for seat in found.seats[::25] if (one := squeeze(found.solved, seat.part)) is not None]
    assert tight
    for one in tight:
        piece = found.solved.piece(list(one.terms))
        assert piece is not None
        assert not isinstance(piece.outlook.errors, DenseErrors), "the piece is large"
        variance = piece.outlook.errors.variance(rows_of([found.solved.inside(list(one.terms))]))
        assert one.expanded_mm == pytest.approx(2 * float(np.sqrt(variance[0])), rel=1e-9)
