"""Benches drawn as text, plan and log: legs and rails closed into end frames, aprons over the legs.

All three axes, handed copies, loops closed by overall readings over made and unread parts, a
rail that is rough, aprons half cut, an invented shelf that nothing reaches. A plan is drawn, then
worked out, then read in the shop: each made part is off plan by its own amounts.
"""

from __future__ import annotations

from functools import lru_cache

from hypothesis import strategies as st

from fitsolve.build.assembly import Assembly
from fitsolve.build.logtext import parse_log
from fitsolve.build.plan import read_plan
from fitsolve.build.state import settle
from tests.builds import Case
from tests.plans import worked

PLAN = """
format = 1
unit = "mm"
finest = "0.5"
workmanship = "{workmanship}"
workmanship_width = "0.1"
{give}
fits = {{ slip = ["0.05", "0.2", "0.5"], snug = ["-0.1", "0", "0.1"], shoulder = ["0", "0", "0.2"] }}
[tool.fine]
good_to = "0.1"
[tool.coarse]
good_to = "0.8"
per_length = 0.0004

[part.leg]
copies = {{ fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }}
x = ["outer 100 inner", "outer 30 cheek-o 40 cheek-i 30 inner"]
y = ["face 120 back", "face 25 seat", "floor 80 back"]
z = ["foot 800 {head} head", "foot 100 edge-b 80 edge-t", "foot 600 shoulder 200 head"]

[part.rail]
copies = {{ left = "as drawn", right = "left for right" }}
x = ["outer 20 cheek-o 40 cheek-i 20 inner"]
y = "f.end 38 f.shoulder 400 {rail} r.shoulder 38 r.end"
z = "bottom 15 edge-b 80 edge-t 15 top"

[part.apron]
copies = {{ front = "as drawn", rear = "front for rear"{third} }}
x = ["l.end 1800 {overall} r.end",
     "l.end 200 {end} l.dado-o 100 l.dado-i 1200 {middle} r.dado-i 100 r.dado-o 200 {end} r.end"]
y = "show 30 floor 15 back"
z = "low 50 step 200 top"

[part.shelf]
x = "left 900 (give 2) middle 900 right"

[joint.tenon]
each = '''
rail   e  leg
left   f  fl
left   r  rl
right  f  fr
right  r  rr
'''
meet = ["rail.{{rail}}.{{e}}.shoulder against leg.{{leg}}.back, shoulder",
        "rail.{{rail}}.cheek-o/cheek-i in leg.{{leg}}.cheek-o/cheek-i, {cheek}",
        "rail.{{rail}}.edge-b/edge-t in leg.{{leg}}.edge-b/edge-t, slip",
        "rail.{{rail}}.{{e}}.end short of leg.{{leg}}.floor by 1 to 4"]

[joint.dado]
each = '''
apron  e  leg
front  l  fl
front  r  fr
rear   l  rl
rear   r  rr
{more}'''
meet = ["leg.{{leg}}.outer/inner in apron.{{apron}}.{{e}}.dado-o/dado-i, {dado}",
        "apron.{{apron}}.floor against leg.{{leg}}.seat, shoulder",
        "apron.{{apron}}.step against leg.{{leg}}.shoulder, shoulder"]

[keep]
ends = "apron.*.l.end..l.dado-o = r.dado-o..r.end, give 0.8"
flush = "apron.*.top flush with leg.*.head, give 0.4"
[check]
parallel = "leg.fl.inner..leg.fr.inner = leg.rl.inner..leg.rr.inner, within 1.5"
legs = "leg.fl.foot..head = leg.fr.foot..head = leg.rl.foot..head = leg.rr.foot..head, within 1"
"""

GIVES = ['give = "1.5"', ""]
CONDITIONS = ["", "(give 0.5)", "(give 4)"]
TENONS = ["tenon rail.left leg.fl", "tenon rail.left leg.rl", "tenon rail.right leg.fr", "tenon rail.right leg.rr"]


@lru_cache(maxsize=300)
def assembly_of(plan: str) -> Assembly:
    return worked(plan)


@st.composite
def frames(draw: st.DrawFn) -> tuple[str, str]:
    """The texts of a plan and of a log."""
    third = draw(st.booleans())
    plan = PLAN.format(
        workmanship=draw(st.sampled_from(["0.2", "0.8"])),
        give=draw(st.sampled_from(GIVES)),
        head=draw(st.sampled_from(["", "(hold)"])),
        rail=draw(st.sampled_from([*CONDITIONS, "(398 to 400.2)", "(hold)"])),
        third=', upper = "as drawn"' if third else "",
        more="upper  l  fl\nupper  r  fr\n" if third else "",
        overall=draw(st.sampled_from(["", "(hold)", "(give 0.5)"])),
        end=draw(st.sampled_from([*CONDITIONS, "(199.5 to 201)"])),
        middle=draw(st.sampled_from(CONDITIONS)),
        cheek=draw(st.sampled_from(["slip", "snug"])),
        dado=draw(st.sampled_from(["slip", "snug"])),
    )
    return plan, _draw_log(draw, assembly_of(plan))


def _draw_log(draw: st.DrawFn, assembly: Assembly) -> str:
    by_part: dict[str, list[int]] = {}
    for number, mark in enumerate(assembly.marks):
        by_part.setdefault(mark.part, []).append(number)
    truth = {
        number: mark.plan_mm + draw(st.integers(-60, 60)) / 100 for number, mark in enumerate(assembly.marks)
    }
    rows, made = [], []
    for part in assembly.parts:
        stage = draw(st.sampled_from(["made", "made", "part made", "uncut", "rough"]))
        marks = by_part[part]
        if stage == "part made":
            marks = [mark for mark in marks if draw(st.booleans())]
        if stage in ("made", "part made"):
            made += marks
            rows += [f"made,{assembly.marks[mark].name},,,," for mark in marks]
        elif stage == "rough":
            a, b = (marks[0], marks[1])
            rows.append(_row("rough", assembly, truth, a, b, draw(st.sampled_from([0.0, 0.3])), "fine"))
    for _ in range(draw(st.integers(0, 14)) if len(made) > 1 else 0):
        a = draw(st.sampled_from(made))
        near = [mark for mark in made if _readable(assembly, a, mark)]
        if near:
            b, tool = draw(st.sampled_from(near)), draw(st.sampled_from(["fine", "coarse"]))
            rows.append(_row("reading", assembly, truth, a, b, draw(st.integers(-9, 9)) / 100, tool))
    rows += [f"close,{joint},,,,glued" for joint in TENONS if draw(st.booleans())]
    rows = draw(st.permutations(rows)) if draw(st.booleans()) else rows
    # A row that closes a joint makes its marks, so a rough row must not come after it.
    rows = sorted(rows, key=lambda row: row.startswith("close")) if any(r.startswith("rough") for r in rows) else rows
    lines = [f"{no},2025-05-05T10:00:00+00:00,{row}" for no, row in enumerate(rows, 1)]
    return "\n".join(["no,time,event,from,to,reading,tool,note", *lines, ""])


def _readable(assembly: Assembly, a: int, b: int) -> bool:
    first, second = assembly.marks[a], assembly.marks[b]
    return first.axis == second.axis and abs(first.plan_mm - second.plan_mm) > 5.0


def _row(event: str, assembly: Assembly, truth: dict[int, float], a: int, b: int, off: float, tool: str) -> str:
    length = abs(truth[b] - truth[a]) + off
    return f"{event},{assembly.marks[a].name},{assembly.marks[b].name},{length:.2f},{tool},"


def case_of(texts: tuple[str, str]) -> Case:
    """The build that the two texts hold."""
    plan, log = texts
    assembly, state = settle(assembly_of(plan), parse_log(log.encode()), read_plan(plan).tools())
    errors = [str(problem) for problem in state.problems if problem.level == "error"]
    assert not errors, errors
    return Case(assembly, state)
