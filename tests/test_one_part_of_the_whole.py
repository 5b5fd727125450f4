"""What `sizes` tells of one part is what it tells of that part among all the others, word for word."""

from __future__ import annotations

import json

import pytest
from cli_folder import FRAMES, folder_of, run

ROWS = f"{FRAMES}reading,apron.l.left,apron.l.right,3.400,caliper,\n"
"""The dado of the left leg is narrower than the leg: a conflict, which the right leg has no part in."""


@pytest.mark.parametrize(
    ("part", "joints"),
    [
        ("leg.l", ["dado leg.l apron"]),
        ("leg.r", ["dado leg.r apron"]),
        ("apron", ["dado leg.l apron", "dado leg.r apron"]),
    ],
)
def test_a_conflict_elsewhere_is_told_all_the_same(tmp_path, part, joints):
    at = folder_of(tmp_path / "b", rows=ROWS)
    whole, own = json.loads(run("sizes", "--json", at=at).stdout), run("sizes", "--part", part, "--json", at=at)
    assert own.exit_code == 1
    told = json.loads(own.stdout)
    assert [joint["name"] for joint in told["joints"]] == joints
    assert told["joints"] == [joint for joint in whole["joints"] if joint["name"] in joints]
    assert told["distances"] == [one for one in whole["distances"] if one["part"] == part]
    (conflict,) = told["contradictions"]
    assert [conflict] == whole["contradictions"]
    assert conflict["text"] in " ".join(run("sizes", "--part", part, at=at).stdout.split())
