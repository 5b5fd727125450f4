"""Several readings wrong at once: one hides another, and each is named once it can be seen.

Six points, 500 apart, all fifteen spacings by a rod good to 0.2 mm (u = 0.1): redundancies are 2/3
throughout (15 readings less 5 unknowns, all alike).
"""

from __future__ import annotations

import itertools
import math

import pytest

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.report.doubtwords import stop_texts, suspect_groups, waiting

PLAN = """
format = 1
unit = "mm"
finest = 0.5
[tool.rod]
good_to = 0.2
[part.board]
x = "a 500 b 500 c 500 d 500 e 500 f"
"""
PAIRS = list(itertools.combinations("abcdef", 2))


def read(wrong: dict[int, float], backwards: bool = False):
    """All spacings; reading number k (from 1) is off by wrong[k]; entered the other way about if asked."""
    rows = [
        fitsolve.Row(
            no=len(PAIRS) + 1 - k if backwards else k,
            time="2025-11-25T14:10:00+00:00",
            event="reading",
            start=f"board.{a}",
            end=f"board.{b}",
            reading=f"{500 * (ord(b) - ord(a)) + wrong.get(k, 0.0):g}",
            tool="rod",
        )
        for k, (a, b) in enumerate(PAIRS, 1)
    ]
    return fitsolve.reconcile(fitsolve.Build(plan=read_plan(PLAN), log=rows))


def named(found):
    return [one.worst.number for one in found.suspicions]


def test_nothing_wrong():
    found = read({})
    assert found.suspicions == ()
    assert {round(doubt.redundancy, 9) for doubt in found.doubts} == {round(2 / 3, 9)}


def test_one_wrong_is_named_alone_with_its_error():
    (one,) = read({6: 3.0}).suspicions
    assert (one.worst.number, one.equals) == (6, ())
    assert one.worst.error_mm == pytest.approx(3.0, abs=1e-9)
    assert one.rest_chance == pytest.approx(1.0)


def test_two_wrong_are_named_one_after_the_other():
    found = read({6: 3.0, 15: -2.0})
    assert named(found) == [6, 15]
    first, second = found.suspicions
    assert not first.rest_agrees
    assert second.rest_agrees
    assert [who.number for who in second.after] == [6]
    assert second.worst.error_mm == pytest.approx(-2.0, abs=1e-9)


def test_a_small_error_that_a_large_one_hides_is_seen_behind_it():
    # 2 (b..c is 6): of 10 mm; a..c, number 2, 0.5 mm: by itself |w| is small beside what the first does to it.
    found = read({6: 10.0, 2: 0.55})
    assert named(found)[0] == 6
    assert 2 in named(found)
    text = stop_texts(found)
    assert len(text) == len(found.suspicions)


def test_the_order_of_the_log_does_not_matter():
    wrong = {6: 3.0, 15: -2.0}
    there, back = read(wrong), read(wrong, backwards=True)
    assert [16 - row for row in named(back)] == named(there) == [6, 15]
    assert back.agreement.chi_square == pytest.approx(there.agreement.chi_square, rel=1e-9)
    for one, other in zip(there.doubts, reversed(back.doubts), strict=True):
        assert (one.start, one.end) == (other.start, other.end)
        assert one.standardised == pytest.approx(other.standardised, abs=1e-9)


def test_all_of_them_wrong_is_a_tool_that_is_not_as_good_as_said():
    # 0.24 in turn one way and the other, where u is 0.1: too many stand out for them to be slips.
    wrong = {k: 0.24 * (-1) ** k for k in range(1, 16)}
    found = read(wrong)
    assert not found.agreement.agrees
    (tool,) = found.agreement.tools
    assert tool.verdict == "further"
    assert tool.factor == pytest.approx(math.sqrt(found.agreement.chi_square / 10), rel=1e-9)
    assert not found.all_well


def test_a_gang_of_slips_ends_and_loses_none():
    found = read({k: 25.4 * (k % 3) for k in range(1, 16)})
    assert found.suspicions
    suspects = {doubt.row for doubt in found.doubts if doubt.suspect}
    told = {who.number for one in found.suspicions for who in (one.worst, *one.equals, *one.because)}
    said = " ".join(text for group in stop_texts(found) for text in group)
    assert all(row in told or f"#{row}" in said for row in suspects)
    assert waiting(found) == {}


def test_very_many_slips_are_all_stopped_at(monkeypatch):
    from fitsolve.solve import doubts

    monkeypatch.setattr(doubts, "ROUNDS_MOST", 1)
    found = read({6: 30.0, 15: -20.0, 1: 50.0})
    groups, texts = suspect_groups(found), stop_texts(found)
    assert len(groups) == len(texts)
    told = {doubt.row for group in groups for doubt in group}
    assert told >= {doubt.row for doubt in found.doubts if doubt.suspect}
