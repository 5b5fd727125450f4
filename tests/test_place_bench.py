"""A bench of legs, rails and aprons put together by its joints; every number worked by hand.

Along x the rail's cheeks (middle at 1 1/4 of the rail) stand in the leg's mortise (middle at 2 of
the leg), so the rail's outer face lies 3/4 in behind the leg's. The front apron's dados, 9 to 13
and 65 to 69, sit over the legs: with leg.fl.outer at 0 the apron begins at -9 and leg.fr lies
from 56 to 60. Along y the rail's shoulder meets the leg's back at 5, so the rail runs from 2 to
22 and its ends leave 1/8 in of the mortises, whose floors lie at 1 7/8 and 22 1/8.
"""

import re

import pytest
from plans import at, gap, names, said, worked

INCH = 25.4
BENCH = '''
format = 1
title = "Saddler's bench"              # an invented example
unit = "in"
finest = "1/32"
workmanship = "1/32"
workmanship_width = "0.004"
give = "1/16"
fits = { slip = ["0.002", "0.008", "0.020"], glue = ["0", "0.004", "0.010"], tight-up = ["0", "0", "0.008"] }

[tool.caliper]
good_to = "0.004"
[tool.tape]
good_to = "1/32"
per_length = 0.0004

[part.leg]
copies = { fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }
x = ["outer 4 inner",
     "outer 1 1/4 low.cheek-o 1 1/2 low.cheek-i 1 1/4 inner"]
y = ["face 5 back", "face 1 seat", "low.floor 3 1/8 back"]
z = ["foot 33 head", "foot 4 1/2 low.edge-b 3 low.edge-t", "foot 23 shoulder 10 head"]

[part.rail]
copies = { left-low = "as drawn", right-low = "left for right" }
x = ["outer 1/2 f.cheek-o 1 1/2 f.cheek-i 1/2 inner", "outer 1/2 r.cheek-o 1 1/2 r.cheek-i 1/2 inner"]
y = "f.end 3 f.shoulder 14 r.shoulder 3 r.end"
z = "bottom 1/2 edge-b 3 edge-t 1/2 top"

[part.apron]
copies = { front = "as drawn", rear = "front for rear" }
x = ["l.end 78 (hold) r.end",
     "l.end 9 (give 1/4) l.dado-o 4 l.dado-i 52 r.dado-i 4 r.dado-o 9 (give 1/4) r.end"]
y = ["show 1 1/2 l.floor 1/2 back", "show 1 1/2 r.floor 1/2 back"]
z = ["low 2 l.step 10 top", "low 2 r.step 10 top"]

[joint.tenon]
each = """
rail       m    e  leg
left-low   low  f  fl
left-low   low  r  rl
right-low  low  f  fr
right-low  low  r  rr
"""
meet = [
  "rail.{rail}.{e}.shoulder against leg.{leg}.back, tight-up",
  "rail.{rail}.{e}.cheek-o/cheek-i in leg.{leg}.{m}.cheek-o/cheek-i, glue",
  "rail.{rail}.edge-b/edge-t in leg.{leg}.{m}.edge-b/edge-t, easy",
  "rail.{rail}.{e}.end short of leg.{leg}.{m}.floor by 1/16 to 1/4",
]

[joint.dado]
each = """
apron  e  leg
front  l  fl
front  r  fr
rear   l  rl
rear   r  rr
"""
meet = ["leg.{leg}.outer/inner in apron.{apron}.{e}.dado-o/dado-i, slip",
        "apron.{apron}.{e}.floor against leg.{leg}.seat, tight-up",
        "apron.{apron}.{e}.step against leg.{leg}.shoulder, tight-up"]

[keep]
apron-ends = "apron.*.l.end..l.dado-o = r.dado-o..r.end, give 1/8"
flush = "apron.*.top flush with leg.*.head, give 1/64"

[check]
parallel = "leg.fl.inner..leg.fr.inner = leg.rl.inner..leg.rr.inner, within 1/16"
'''


@pytest.fixture(scope="module")
def bench():
    return worked(BENCH)


def test_it_is_read_without_a_word():
    assert said(BENCH) == []


def test_it_has_every_mark_and_distance_once(bench):
    # legs: marks 4 + 4 + 5, distances 4 + 3 + 5; rails 6 + 4 + 4 and 6 + 3 + 3;
    # aprons 6 + 4 + 4 and 6 + 4 + 4.
    assert len(bench.marks) == 4 * 13 + 2 * 14 + 2 * 14
    assert len(bench.distances) == 4 * 12 + 2 * 12 + 2 * 14
    assert len({frozenset((d.start, d.end)) for d in bench.distances}) == len(bench.distances)
    assert len(bench.runs) == 4 * 8 + 2 * 4 + 2 * 6
    assert [bench.index[mark.name] for mark in bench.marks] == list(range(len(bench.marks)))


def test_its_joints_are_named_by_block_and_parts_in_the_order_of_the_first_sentence(bench):
    assert [joint.name for joint in bench.joints] == [
        "tenon rail.left-low leg.fl",
        "tenon rail.left-low leg.rl",
        "tenon rail.right-low leg.fr",
        "tenon rail.right-low leg.rr",
        "dado leg.fl apron.front",
        "dado leg.fr apron.front",
        "dado leg.rl apron.rear",
        "dado leg.rr apron.rear",
    ]
    assert [len(joint.contacts) for joint in bench.joints] == [4] * 4 + [3] * 4
    for number, joint in enumerate(bench.joints):
        assert all(bench.contacts[contact].joint == number for contact in joint.contacts)


@pytest.mark.parametrize(
    ("start", "end", "inches"),
    [
        ("leg.fl.outer", "leg.fl.inner", 4),
        ("leg.fl.outer", "rail.left-low.outer", 0.75),
        ("leg.fl.outer", "leg.rl.outer", 0),
        ("leg.fl.outer", "apron.front.l.end", -9),
        ("leg.fl.inner", "leg.fr.inner", 52),
        ("leg.rl.inner", "leg.rr.inner", 52),
        ("leg.fr.inner", "leg.fr.outer", 4),
        ("apron.front.l.end", "apron.front.r.end", 78),
        ("leg.fl.face", "leg.fl.back", 5),
        ("leg.fl.face", "rail.left-low.f.end", 2),
        ("leg.fl.face", "leg.rl.back", 19),
        ("leg.fl.face", "leg.rl.face", 24),
        ("leg.fl.face", "apron.front.show", -0.5),
        ("leg.fl.face", "apron.rear.show", 24.5),
        ("leg.fl.foot", "leg.rr.foot", 0),
        ("leg.fl.foot", "rail.right-low.bottom", 4),
        ("leg.fl.foot", "apron.front.low", 21),
        ("leg.fl.head", "apron.rear.top", 0),
    ],
)
def test_marks_lie_where_the_joints_put_them(bench, start, end, inches):
    assert gap(bench, start, end) == pytest.approx(inches * INCH, abs=1e-9)
    groups = [bench.placed[bench.index[name]] for name in (start, end)]
    assert groups[0] == groups[1]


def test_each_axis_is_a_group_of_its_own_anchored_at_its_first_mark(bench):
    groups = {axis: {bench.placed[k] for k, m in enumerate(bench.marks) if m.axis == axis} for axis in "xyz"}
    assert [len(groups[axis]) for axis in "xyz"] == [1, 1, 1]
    assert len(set.union(*groups.values())) == 3
    assert at(bench, "leg.fl.outer") == at(bench, "leg.fl.face") == at(bench, "leg.fl.foot") == 0


@pytest.mark.parametrize(
    ("joint", "kind", "axis", "marks"),
    [
        ("tenon rail.left-low leg.fl", "butt", "y", "leg.fl.back rail.left-low.f.shoulder"),
        ("tenon rail.left-low leg.rl", "butt", "y", "rail.left-low.r.shoulder leg.rl.back"),
        (
            "tenon rail.right-low leg.fr",
            "housing",
            "x",
            "rail.right-low.f.cheek-i rail.right-low.f.cheek-o leg.fr.low.cheek-i leg.fr.low.cheek-o",
        ),
        (
            "tenon rail.left-low leg.fl",
            "housing",
            "z",
            "rail.left-low.edge-b rail.left-low.edge-t leg.fl.low.edge-b leg.fl.low.edge-t",
        ),
        ("tenon rail.left-low leg.fl", "room", "y", "leg.fl.low.floor rail.left-low.f.end"),
        ("tenon rail.right-low leg.rr", "room", "y", "rail.right-low.r.end leg.rr.low.floor"),
        ("dado leg.fl apron.front", "butt", "y", "apron.front.l.floor leg.fl.seat"),
        ("dado leg.rr apron.rear", "butt", "y", "leg.rr.seat apron.rear.r.floor"),
        ("dado leg.fl apron.front", "butt", "z", "leg.fl.shoulder apron.front.l.step"),
        (
            "dado leg.rr apron.rear",
            "housing",
            "x",
            "leg.rr.inner leg.rr.outer apron.rear.r.dado-i apron.rear.r.dado-o",
        ),
    ],
)
def test_sides_follow_from_where_things_lie(bench, joint, kind, axis, marks):
    own = next(one for one in bench.joints if one.name == joint)
    contacts = [bench.contacts[k] for k in own.contacts]
    assert any((c.kind, c.axis, " ".join(names(bench, c.marks))) == (kind, axis, marks) for c in contacts)


def test_rooms_and_fits_carry_their_limits(bench):
    rooms = [contact for contact in bench.contacts if contact.kind == "room"]
    assert len(rooms) == 4
    for room in rooms:
        assert room.fit == "room"
        assert (room.least_mm, room.aim_mm, room.most_mm) == pytest.approx(
            (INCH / 16, 5 * INCH / 32, INCH / 4)
        )
    slip = next(contact for contact in bench.contacts if contact.fit == "slip")
    assert (slip.least_mm, slip.aim_mm, slip.most_mm) == pytest.approx(
        (0.002 * INCH, 0.008 * INCH, 0.020 * INCH)
    )


def test_handed_copies_turn_around_and_keep_their_lengths(bench):
    for distance in bench.distances:
        turned = (distance.part, distance.axis) in {
            ("leg.fr", "x"), ("leg.rl", "y"), ("leg.rr", "x"), ("leg.rr", "y"),
            ("rail.right-low", "x"), ("apron.rear", "y"),
        }  # fmt: skip
        assert distance.sign == (-1 if turned else 1)
        lies = bench.marks[distance.end].plan_mm - bench.marks[distance.start].plan_mm
        assert distance.plan_mm == pytest.approx(distance.sign * lies, abs=1e-9)


def test_conditions_stand_with_their_distances(bench):
    def of(start, end):
        ends = (bench.index[start], bench.index[end])
        return next(d for d in bench.distances if (d.start, d.end) == ends)

    long = of("apron.front.l.end", "apron.front.r.end")
    assert long.hold
    assert long.plan_mm == pytest.approx(78 * INCH)
    assert of("apron.rear.l.end", "apron.rear.l.dado-o").give_mm == pytest.approx(INCH / 4)
    assert of("apron.rear.l.dado-o", "apron.rear.l.dado-i").give_mm == pytest.approx(INCH / 16)
    place = of("apron.rear.l.end", "apron.rear.l.dado-o").place
    assert BENCH.split("\n")[place.line - 1].strip().startswith('"l.end 9 (give 1/4)')
    assert place.text[place.column : place.column + place.width] == "9"


def test_rules_name_their_copies_and_count_positive_in_the_plan(bench):
    assert [keep.name for keep in bench.keeps] == [
        "apron-ends apron.front",
        "apron-ends apron.rear",
        *(f"flush apron.{a} leg.{leg}" for a in ("front", "rear") for leg in ("fl", "fr", "rl", "rr")),
    ]
    ends = bench.keeps[0]
    assert (ends.kind, ends.give_mm) == ("equal", pytest.approx(INCH / 8))
    assert [names(bench, (s.start, s.end)) for s in ends.spans] == [
        ("apron.front.l.end", "apron.front.l.dado-o"),
        ("apron.front.r.dado-o", "apron.front.r.end"),
    ]
    flush = bench.keeps[2]
    assert (flush.kind, flush.length_mm, flush.give_mm) == ("flush", 0.0, pytest.approx(INCH / 64))
    (check,) = bench.checks
    assert (check.name, check.kind, check.within_mm) == ("parallel", "parallel", pytest.approx(INCH / 16))
    for rule in (*bench.keeps, *bench.checks):
        for span in rule.spans:
            lies = bench.marks[span.end].plan_mm - bench.marks[span.start].plan_mm
            assert span.sign * lies >= -1e-9


def test_marks_face_away_from_the_middle_of_their_part(bench):
    def outward(name):
        return bench.marks[bench.index[name]].outward

    assert (outward("leg.fl.outer"), outward("leg.fl.inner")) == (-1, 1)
    assert (outward("leg.fr.outer"), outward("leg.fr.inner")) == (1, -1)
    assert (outward("rail.left-low.f.end"), outward("rail.left-low.r.shoulder")) == (-1, 1)
    assert (outward("apron.rear.show"), outward("apron.rear.back")) == (1, -1)


def test_inches_and_millimetres_give_the_same_bench(bench):
    # The same plan with every length of a run, a condition or the head marked as inches, read in a
    # build in millimetres: 1 in = 25.4 mm exactly.
    head, body = BENCH.split("[part.leg]")
    body, tail = body.split("[joint.tenon]", 1)
    length = r"(?<![\w.\-])(\d+ \d+/\d+|\d+/\d+|\d+)(?= [a-z(]|\))"
    body = re.sub(length, r"\1 in", body)
    tail = re.sub(r"(?<=[ ])(\d+/\d+)(?=[\" ])", r"\1 in", tail)
    head = re.sub(r'"(\d[\d./]*)"', r'"\1 in"', head).replace('unit = "in"', 'unit = "mm"')
    head = head.replace('"0", ', '"0 in", ')
    other = worked(f"{head}[part.leg]{body}[joint.tenon]{tail}")
    assert [mark.plan_mm for mark in other.marks] == [mark.plan_mm for mark in bench.marks]
    assert [d.plan_mm for d in other.distances] == [d.plan_mm for d in bench.distances]
    assert [d.give_mm for d in other.distances] == [d.give_mm for d in bench.distances]
    assert [c.marks for c in other.contacts] == [c.marks for c in bench.contacts]
