"""What a plan says twice counts once: a wish would weigh double, and a row twice is a joint left out."""

import pytest
from plans import problems

import fitsolve
from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan

PLAN = """
unit = "mm"
give = 1
finest = 0.1
fits = { close = [0, 0.1, 0.6] }
[part.post]
copies = ["u", "v"]
x = "l 60 r"
z = "b 40 t"
[part.beam]
x = ["l 30 a 60 b 200 c 60 d 30 r", "l 380 r"]
z = "under 40 over"
[joint.dado]
each = '''
post  k1 k2
u     a  b
v     c  d
'''
meet = ["post.{post}.l/r in beam.{k1}/{k2}, close", "post.{post}.t against beam.under, tight-up"]
[keep]
ends = "beam.l..a = beam.d..r, give 0.5"
"""
ROWS = [
    fitsolve.Row(event="reading", start="post.u.l", end="post.u.r", reading="61.3", tool="caliper"),
    fitsolve.Row(event="reading", start="post.v.l", end="post.v.r", reading="59.1", tool="caliper"),
]


def sizes(text):
    found = fitsolve.reconcile(fitsolve.Build(read_plan(text), ROWS))
    return [(one.start, one.end, one.size_mm, one.outcome_expanded_mm) for one in found.distances]


def told(text):
    return [(p.level, p.place.line, p.what) for p in problems(text)]


@pytest.mark.parametrize(
    ("old", "new", "line", "what"),
    [
        ("v     c  d\n", "v     c  d\nu     a  b\n", 18, "this row stands in the table already (line 16): it counts once"),
        (
            '"]\n[keep]',
            '"]\n[joint.again]\nmeet = "post.v.t against beam.under, tight-up"\n[keep]',
            21,
            "these marks meet already (row of line 17: v     c  d): it counts once",
        ),
        (
            "give 0.5\"\n",
            "give 0.5\"\nback = 'beam.d..r = beam.l..a, give 0.5'\n",
            22,
            "this keep stands in the plan already (line 21): it counts once",
        ),
    ],
)
def test_it_counts_once_and_is_a_warning(old, new, line, what):
    assert old in PLAN
    text = PLAN.replace(old, new)
    assert told(text) == [("warning", line, what)]
    assert sizes(text) == sizes(PLAN)


def test_rows_that_differ_in_what_a_sentence_does_not_name_say_it_once_without_a_word():
    # Two tongues of one board in one post: their common shoulder is named by both rows.
    text = PLAN.replace("u     a  b\nv     c  d", "u     a  b\nu     c  d\nv     a  b").replace(
        'close", "post', 'close", "post.{post}.b against beam.over, close", "post'
    )
    once = read_plan(text)
    found = fitsolve.reconcile(fitsolve.Build(once)).joints
    assert [len(joint.contacts) for joint in found] == [4, 3]


@pytest.mark.parametrize("sentence", ["post.u.r/l in beam.b/a, slip", "beam.a/b in post.u.l/r, close"])
def test_two_that_differ_are_an_error(sentence):
    text = PLAN.replace('"]\n[keep]', f'"]\n[joint.other]\nmeet = "{sentence}"\n[keep]')
    first = "row of line 16: u     a  b: post.u.l/r in beam.a/b, close"
    assert told(text) == [("error", 21, f"these marks meet already, and otherwise ({first})")]


def test_of_a_plan_made_in_python_the_key_is_named():
    sentence = "a.l/r in b.s/t, slip"
    parts = {"a": {"x": "l 60 r"}, "b": {"x": "l 9 s 60 t 9 r"}}
    joints = {"j": {"meet": [sentence, sentence]}}
    plan = fitsolve.Plan(unit="mm", give=1, part=parts, joint=joints, keep={"k": "a.l..r = 60", "q": "a.l..r = 60"})
    said = [one.what for one in assemble(plan).notices]
    assert said == [
        "these marks meet already (joint.j.meet[1]): it counts once",
        "this keep stands in the plan already (keep.k[1]): it counts once",
    ]
