"""What a verdict stands on: chances, limits, the U that would prove it, and where its U comes from."""

from __future__ import annotations

import json
import math

import pytest
from cli_folder import FRAMES, folder_of, run
from hypothesis import given
from hypothesis import strategies as st
from test_cli_showing import SCHEMA, faults
from test_words_findings import ONE_DADO, dado, solved

from fitsolve.findings.grounds import check_grounds, distance_grounds, joint_grounds, seat_grounds, u_to_prove
from fitsolve.solve.judge import judge

IN = 25.4


@given(st.floats(-5, 5), st.floats(-2, 0), st.floats(0.001, 3))
def test_the_u_that_would_prove_it_just_does(value, low, width):
    high = low + width
    u = u_to_prove(value, low, high)
    if u is None:
        assert min(abs(value - low), abs(value - high)) <= 1e-6
        return
    assert judge(value, u * (1 - 1e-6), low, high).side != "unsure"
    assert judge(value, u * (1 + 1e-3) + 1e-5, low, high).side == "unsure"


def test_by_hand():
    # Far from the other limit it is one-sided: z of 0.95 is 1.645 (JCGM 106:2012, Table 1, 1.64).
    assert u_to_prove(1.0, 0.0, math.inf) == pytest.approx(1 / 1.6449, rel=1e-4)
    assert u_to_prove(-1.0, 0.0, math.inf) == pytest.approx(1 / 1.6449, rel=1e-4)
    # In the middle of limits +-1 both tails count: 1 / 1.96.
    assert u_to_prove(0.0, -1.0, 1.0) == pytest.approx(1 / 1.96, rel=1e-4)
    assert u_to_prove(0.0, 0.0, 1.0) is None
    assert u_to_prove(3.0, -math.inf, math.inf) == math.inf


class TestOfAJoint:
    """3.500 - 3.510: 0.012 in under the least, U = sqrt(2) 0.002 in, each reading half of it."""

    @pytest.fixture
    def ground(self, tmp_path):
        found = solved(tmp_path, dado("3.510", "3.500"), ONE_DADO)
        (one,) = joint_grounds(found.solved, 0)
        return one

    def test_value_and_chances(self, ground):
        assert ground.value_mm == pytest.approx(-0.010 * IN, abs=1e-9)
        assert ground.expanded_mm == pytest.approx(math.sqrt(2) * 0.002 * IN, rel=1e-9)
        assert ground.below == pytest.approx(1.0)
        assert ground.below + ground.within + ground.above == pytest.approx(1.0)

    def test_what_would_prove_it(self, ground):
        assert ground.to_prove_mm == pytest.approx(2 * 0.012 * IN / 1.6449, rel=1e-4)

    def test_shares(self, ground):
        assert [(one.kind, one.number) for one in ground.shares] == [("reading", 1), ("reading", 2)]
        assert [one.share for one in ground.shares] == pytest.approx([0.5, 0.5])


def test_shares_add_up_to_one_for_everything_asked(tmp_path):
    found = solved(tmp_path, FRAMES)
    grounds = [one for k in range(len(found.joints)) for one in joint_grounds(found.solved, k)]
    grounds += [one for check in found.checks for one in check_grounds(found.solved, check.number)]
    grounds += [one for seat in found.seats for one in seat_grounds(found.solved, seat.part)]
    index = found.assembly.index
    grounds += distance_grounds(found.solved, index["leg.l.left"], index["leg.r.right"])
    told = [one for one in grounds if one.shares]
    assert len(told) >= 3
    for one in told:
        assert sum(share.share for share in one.shares) == pytest.approx(1.0)


def test_a_distance_is_as_sure_as_between_says(tmp_path):
    found = solved(tmp_path, FRAMES)
    index = found.assembly.index
    for start, end in [("leg.l.left", "leg.l.right"), ("leg.l.left", "leg.r.left"), ("apron.l.end", "apron.l.left")]:
        (one,) = distance_grounds(found.solved, index[start], index[end])
        answer = found.between(start, end)
        assert abs(one.value_mm) == pytest.approx(answer.distance_mm, abs=1e-12)
        assert one.expanded_mm == pytest.approx(answer.expanded_mm, rel=1e-12)


@pytest.mark.parametrize("words", [("leg.l.left", "right"), ("leg.l.left..right",), ("leg.l", "left..right"),
                                   ("leg.l", "left", "right")])  # fmt: skip
def test_a_distance_is_named_as_for_between(tmp_path, words):
    at = folder_of(tmp_path / "b", rows=FRAMES)
    assert run("grounds", *words, at=at).stdout.startswith("leg.l left..right")
    assert run("between", *words, at=at).stdout.startswith("leg.l left..right")


class TestTheCommand:
    """`fitsolve grounds`."""

    @pytest.fixture
    def bench(self, tmp_path):
        folder = folder_of(tmp_path / "bench")
        for span in (("leg.l", "left", "right", "3.531"), ("leg.r", "left", "right", "3.488")):
            run("read", *span, "--tool", "caliper", at=folder)
        return folder

    @pytest.mark.parametrize("words", [("dado", "l"), ("leg.l.left", "right"), ("leg.l.left..right",), ("apart",)])
    def test_json_keeps_its_schema(self, bench, words):
        result = run("grounds", *words, "--json", at=bench)
        assert result.exit_code == 0, result.output
        answer = json.loads(result.stdout)
        assert list(faults(answer, SCHEMA["$defs"]["grounds"])) == []
        assert answer["grounds"]

    def test_in_words(self, bench):
        result = run("grounds", "leg.l.left", "right", at=bench)
        assert result.stdout.splitlines() == [
            "leg.l left..right",
            "leg.l left..right   3 17/32 in, ± 0.002",
            "   its ± comes from",
            "     100 %  #1 leg.l left..right by caliper  nothing checks it",
        ]

    def test_what_is_nothing_is_said(self, bench):
        result = run("grounds", "tabletop", at=bench)
        assert result.exit_code == 2
        assert "tabletop" in result.stderr


class TestReadings:
    """`fitsolve grounds --readings`: the smallest error that would show in each."""

    def test_in_words(self, tmp_path):
        at = folder_of(tmp_path / "bench", rows=FRAMES)
        result = run("grounds", "--readings", at=at)
        assert result.exit_code == 0
        assert "off would show" in result.stdout
        assert "chi-square" in result.stdout

    def test_json(self, tmp_path):
        at = folder_of(tmp_path / "bench", rows=FRAMES)
        answer = json.loads(run("grounds", "--readings", "--json", at=at).stdout)
        for one in answer:
            assert list(faults(one, SCHEMA["$defs"]["doubt"])) == []

    @pytest.mark.parametrize("args", [(), ("apart", "--readings")])
    def test_one_or_the_other(self, tmp_path, args):
        assert run("grounds", *args, at=folder_of(tmp_path / "bench")).exit_code == 2
