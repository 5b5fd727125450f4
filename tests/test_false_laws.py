"""Laws that sound true and are not: our builds must be wild enough to show it."""

from __future__ import annotations

from hypothesis import find, settings
from hypothesis import strategies as st

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.build.shoplog import Row
from fitsolve.rows import RowList
from fitsolve.solve.freedom import Freedom

PLAN = """
unit = "mm"
workmanship = "{location}"
workmanship_width = "0.02"
give = "2"
fits = {{ slip = ["0.05", "0.2", "0.4"] }}
[part.leg]
copies = ["l", "r"]
x = "left 90 right"
[part.apron]
x = "end 100 l.a 90 l.b 900 r.a 90 r.b 100 far"
[joint.dado]
each = '''
e
l
r
'''
meet = "leg.{{e}}.left/right in apron.{{e}}.a/b, slip"
"""


def answer(location: float, u_spacing: float, spacing: str = "900.6"):
    plan = read_plan(PLAN.format(location=location) + f'[tool.stick]\ngood_to = "{u_spacing}"\n')
    readings = [("leg.l.left", "leg.l.right", "90.1"), ("leg.r.left", "leg.r.right", "89.9")]
    rows = [Row(k, "2025-03-10T09:00:00", "reading", a, b, r, "feeler") for k, (a, b, r) in enumerate(readings, 1)]
    rows.append(Row(3, "2025-03-10T09:00:00", "reading", "leg.l.right", "leg.r.left", spacing, "stick"))
    return fitsolve.reconcile(fitsolve.Build(plan=plan, log=tuple(rows)))


def test_judging_each_joint_alone_does_not_tell_whether_the_part_goes_on():
    def refutes(case: tuple[int, int]) -> bool:
        found = answer(case[0] / 10, case[1] / 10)
        fits = all(contact.verdict == "fits" for joint in found.joints for contact in joint.contacts)
        apron = next(seat for seat in found.seats if seat.part == "apron")
        return fits and apron.chance < 0.5

    whole = st.tuples(st.integers(1, 20), st.integers(1, 20))
    assert find(whole, refutes, settings=settings(max_examples=200, database=None)) is not None


def rows_of(rows: list[list[tuple[int, float]]]) -> Freedom:
    collected = RowList()
    for row in rows:
        collected.add(row, 0.0, 1.0)
    freedom = Freedom(5)
    freedom.tie(collected.rows())
    return freedom


def test_connectivity_does_not_tell_what_is_settled():
    pairs = st.permutations(range(5)).map(lambda p: [(p[0], 1.0), (p[1], -1.0), (p[2], 1.0), (p[3], -1.0)])
    comparisons = st.lists(pairs, min_size=1, max_size=4)

    def connected_yet_not_settled(rows: list[list[tuple[int, float]]]) -> bool:
        together = {mark for row in rows for mark, _ in row}
        return len(together) == 5 and not rows_of(rows).settled([(0, 1.0), (1, -1.0)])

    found = find(comparisons, connected_yet_not_settled, settings=settings(max_examples=500, database=None))
    assert found is not None


def test_rounding_each_number_by_itself_does_not_keep_loops_closed():
    def refutes(case: tuple[int, int]) -> bool:
        found = answer(0.2, 0.2, f"{900 + case[0] / 10 + case[1] / 100:.2f}")
        sizes = [one.size_mm for one in found.distances if one.part == "apron"]
        return abs(sum(round(2 * size) / 2 for size in sizes) - round(2 * sum(sizes)) / 2) > 0.25

    whole = st.tuples(st.integers(1, 20), st.integers(0, 9))
    assert find(whole, refutes, settings=settings(max_examples=300, database=None)) is not None
