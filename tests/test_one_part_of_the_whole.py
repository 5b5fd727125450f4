"""What `sizes` tells of one part is what it tells of that part among all the others, word for word."""

from __future__ import annotations

import json

import pytest
from cli_folder import FRAMES, HEAD, folder_of, run

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


PAIRS = f"""\
{HEAD}
[part.leg]
copies = ["l", "r"]
x = "left 3 1/2 right"

[part.apron]
copies = ["l", "r"]
x = "end 6 left 3 1/2 right 6 far"

[joint.dado]
each = '''
leg apron
l   l
r   r
'''
meet = "leg.{{leg}}.left/right in apron.{{apron}}.left/right, slip"
"""
"""Two legs, an apron on each: nothing ties one pair to the other."""
GOOD = "reading,leg.l.left,leg.l.right,3.500,caliper,\nreading,apron.l.left,apron.l.right,3.508,caliper,\n"


class TestTheStatusOfOnePart:
    """0 unless something warns that is about the part: a script that cuts leg.l does not stop for apron.r."""

    def status(self, tmp_path, rows: str) -> dict[str, int]:
        at = folder_of(tmp_path / "b", plan=PAIRS, rows=GOOD + rows)
        assert run("sizes", at=at).exit_code == 1
        return {part: run("sizes", "--part", part, at=at).exit_code for part in ("leg.l", "apron.l", "leg.r", "apron.r")}

    def test_a_joint_that_is_tight_warns_of_its_two_parts(self, tmp_path):
        rows = "reading,leg.r.left,leg.r.right,3.500,caliper,\nreading,apron.r.left,apron.r.right,3.400,caliper,\n"
        assert self.status(tmp_path, rows) == {"leg.l": 0, "apron.l": 0, "leg.r": 1, "apron.r": 1}

    def test_a_reading_not_to_be_believed_warns_of_the_part_it_names(self, tmp_path):
        rows = "".join(f"reading,apron.r.end,apron.r.left,{size},caliper,\n" for size in ("6", "6", "6.1"))
        rows += "reading,leg.r.left,leg.r.right,3.500,caliper,\nreading,apron.r.left,apron.r.right,3.508,caliper,\n"
        told = self.status(tmp_path, rows)
        assert told == {"leg.l": 0, "apron.l": 0, "leg.r": 0, "apron.r": 1}

    def test_a_warning_of_a_row_is_about_the_part_that_the_row_names(self, tmp_path):
        rows = "reading,apron.r.end,apron.r.left,6,caliper,good to 0\n"
        rows += "reading,leg.r.left,leg.r.right,3.500,caliper,\nreading,apron.r.left,apron.r.right,3.508,caliper,\n"
        assert self.status(tmp_path, rows) == {"leg.l": 0, "apron.l": 0, "leg.r": 0, "apron.r": 1}

    def test_so_it_is_with_another_choice(self, tmp_path):
        rows = "reading,leg.r.left,leg.r.right,3.500,caliper,\nreading,apron.r.left,apron.r.right,3.400,caliper,\n"
        self.status(tmp_path, rows)
        tried = ("sizes", "--try", "give apron.l end..left 1/8", "--part")
        assert [run(*tried, part, at=tmp_path / "b").exit_code for part in ("apron.l", "apron.r")] == [0, 1]
