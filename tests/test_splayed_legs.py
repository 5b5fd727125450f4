"""Legs that lean, with slanted shoulders and pegs: specs/hand_cases.md, 9 and 10. All lengths in mm; all builds
are invented."""

from __future__ import annotations

from fractions import Fraction
from math import hypot, radians, sqrt, tan

import pytest
from cli_folder import run
from plans import at, gap, problems, warnings, worked

import fitsolve
from fitsolve.build.history import MarkState
from fitsolve.report.demands import contradiction_text
from fitsolve.report.fitwords import joint_lines
from fitsolve.report.layout import part_layout
from tests.builds import Case
from tests.test_exact_against_oracle import disagreements
from tests.test_hand_cases import U_CUT, U_FINE, U_ROD, found, near, size

HEAD = 'unit = "mm"\nfinest = 0.5\ngive = 1\n'
LEG = """
[part.leg]
copies = { l = "as drawn", r = "left for right" }
x = ["outer@foot 80 (give 1) inner@foot", "outer@low.b 80 (give 1) inner@low.b"]
z = "foot 160 low.b 80 low.t 240 head"
slopes = ["outer@foot..outer@head 1:8 right", "inner@foot..inner@head 1:8 right"]
holes = { pin = ["20 from inner@low.b", "200 from foot"] }
"""
RAIL = """
[part.rail]
x = "l.end 40 l.shoulder@b 400 r.shoulder@b 40 r.end"
z = "b 80 (hold) t"
slopes = ["l.shoulder@b..l.shoulder@t 1:8{give} right", "r.shoulder@b..r.shoulder@t 1:8{give} left"]
"""
JOINT = """
[joint.tenon]
each = \"\"\"
e
l
r
\"\"\"
meet = ["rail.{e}.shoulder@b against leg.{e}.inner@low.b, shoulder",
        "rail.{e}.shoulder@t against leg.{e}.inner@low.t, shoulder",
        "rail.b/t in leg.{e}.low.b/t, easy",
        "peg leg.{e}.pin 10, draw 2"]
"""
NAMED = '[check]\na = "leg.l.outer@low.t..inner@low.t = 80, within 9"\n'
TRESTLE = LEG + RAIL.replace("{give}", "") + JOINT
COPIES = pytest.mark.parametrize("e", ["l", "r"])


def inward(e: str, mm: float) -> float:
    """What lies to the right on the left leg lies to the left on the right one."""
    return mm if e == "l" else -mm


class TestWhereAMakerMeansThemToLie:
    """1 in 8 over 160 is 20, over 240 30, over 480 60."""

    @COPIES
    def test_runs_at_two_heights_are_tied_by_the_faces_between_them(self, e):
        leg = worked(HEAD + LEG)
        for face in ("outer", "inner"):
            assert gap(leg, f"leg.{e}.{face}@foot", f"leg.{e}.{face}@low.b") == near(inward(e, 20))
            assert gap(leg, f"leg.{e}.{face}@foot", f"leg.{e}.{face}@head") == near(inward(e, 60))
        assert gap(leg, f"leg.{e}.outer@low.b", f"leg.{e}.inner@low.b") == near(inward(e, 80))

    @COPIES
    def test_a_hole_is_counted_from_a_face_at_its_height_toward_the_inside(self, e):
        leg = worked(HEAD + LEG)
        assert gap(leg, f"leg.{e}.outer@foot", f"leg.{e}.pin.x") == near(inward(e, 20 + 80 - 20))

    @COPIES
    def test_a_station_that_a_sentence_names_lies_on_the_face(self, e):
        frame = worked(HEAD.replace("give", "fits = { shoulder = [0, 0, 0.8] }\ngive") + TRESTLE)
        assert gap(frame, f"leg.{e}.inner@foot", f"leg.{e}.inner@low.t") == near(inward(e, 30))
        assert warnings(HEAD + 'fits = { shoulder = [0, 0, 0.8] }\n' + TRESTLE) == []

    def test_the_frame_spreads_by_what_both_legs_lean(self):
        """Shoulders 400 apart at the lower edge: 440 at the feet, 380 at the upper edge of the rail."""
        frame = worked(HEAD + 'fits = { shoulder = [0, 0, 0.8] }\n' + TRESTLE)
        assert gap(frame, "leg.l.inner@foot", "leg.r.inner@foot") == near(440)
        assert gap(frame, "leg.l.inner@low.t", "leg.r.inner@low.t") == near(380)
        assert gap(frame, "rail.l.shoulder@t", "rail.r.shoulder@t") == near(380)

    def test_a_face_may_stand_in_runs_between_its_ends_alone(self):
        leg = worked(HEAD + LEG.replace('"outer@foot 80 (give 1) inner@foot", ', ""))
        assert gap(leg, "leg.l.outer@foot", "leg.l.outer@low.b") == near(20)
        assert gap(leg, "leg.r.outer@low.b", "leg.r.outer@head") == near(-40)

    def test_a_mark_of_its_own_serves_as_well(self):
        leg = worked(HEAD + LEG.replace("outer@foot 80 (give 1) inner@foot", "outer 80 inner"))
        assert gap(leg, "leg.l.outer", "leg.l.outer@low.b") == near(20)

    @pytest.mark.parametrize("angle", ["45°", "80°", "7°"])
    def test_any_angle(self, angle):
        leg = worked(HEAD + LEG.replace("1:8", angle))
        slope = tan(radians(float(angle[:-1])))
        assert gap(leg, "leg.l.outer@foot", "leg.l.outer@low.b") == pytest.approx(160 * slope, abs=1e-4 * slope)
        assert gap(leg, "leg.l.inner@low.b", "leg.l.pin.x") == near(-20)

    def test_a_leg_may_lean_two_ways(self):
        leg = worked(
            HEAD + LEG.replace('["outer@foot..', '["face@foot..face@head 1:12 back", "outer@foot..')
            .replace('\nz =', '\ny = "face 60 back"\nz =').replace('"left for right"', '"both"')
            + '[check]\na = "leg.r.face@low.t..back = 60, within 90"\n'
        )  # fmt: skip
        assert gap(leg, "leg.r.face", "leg.r.face@low.t") == near(-20)
        assert gap(leg, "leg.r.outer@foot", "leg.r.outer@low.b") == near(-20)


class TestWhatIsSaid:
    def said(self, plan: str, what: str) -> str:
        problem, *_ = [one for one in problems(HEAD + plan) if what in one.what]
        assert problem.place.text, "it has a caret"
        assert problem.hint, "it says what to do"
        return f"{problem.level}: {problem.what}. {problem.hint}"

    def test_a_run_off_the_face_is_a_misprint_with_both_numbers(self):
        said = self.said(LEG.replace("outer@low.b 80 (give 1)", "outer@foot 24 outer@low.b 80"), "it lies on this slope")
        assert "the runs have outer@low.b 24 mm from outer@foot" in said
        assert "1:8 over 160 mm makes 20 mm" in said

    def test_so_are_two_widths_that_two_faces_do_not_have(self):
        said = self.said(LEG.replace("outer@low.b 80", "outer@low.b 82"), "it lies on this slope")
        assert "inner@low.b 22 mm from inner@foot" in said

    def test_a_station_beyond_a_slope_is_asked_for(self):
        said = self.said(LEG.replace("inner@head", "inner@low.t") + '[check]\na = "leg.*.inner@head..outer@head = 80, within 9"',
                         "inner@head")  # fmt: skip
        assert "Does it go on? Say it so far: inner@foot..inner@head 1:8 right." in said

    def test_one_that_would_lie_back_where_its_mark_lies_is_told(self):
        plan = LEG.replace("outer@foot 80 (give 1) inner@foot", "outer 80 inner").replace("inner@head", "inner@low.t")
        said = self.said(plan + '[check]\na = "leg.*.inner@head..outer@head = 80, within 9"', "beyond this slope")
        assert said.startswith("warning: inner@head lies beyond this slope: taken where inner lies")

    def test_a_slope_said_twice_counts_once(self):
        plan = LEG.replace('["outer@foot..outer@head 1:8 right",', '["outer@foot..outer@head 1:8 right", "outer@foot..outer@head 1:8 right",')
        assert "counts once" in self.said(plan, "stands in line 9 already")
        assert len(worked(HEAD + plan).slopes) == len(worked(HEAD + LEG).slopes)

    def test_the_mark_of_another_part_is_none_of_the_run(self):
        plan = LEG.replace("outer@head 1:8", "outer@top 1:8") + '[part.seat]\nz = "top"\n'
        assert "seat.top belongs to another part" in self.said(plan, 'no mark "top"')

    def test_no_slope_needs_no_sentence(self):
        assert "leave it out" in self.said(LEG.replace("inner@head 1:8", "inner@head 0:8"), "a slope of 0 is none")

    def test_a_face_tied_without_a_word_is_told_once(self):
        said = self.said(LEG.replace("outer@head 1:8 right", "outer@head 1:8"), "nothing says which way")
        assert said.startswith("notice")

    def test_a_run_beyond_a_slope_is_told_of_it(self):
        plan = LEG.replace("outer@low.b 80 (give 1) inner@low.b", "outer@head 80 inner@head").replace("..outer@head", "..outer@low.t")
        plan = plan.replace("..inner@head", "..inner@low.t").replace("from inner@low.b", "from inner@foot")
        assert "does not reach outer@head: say it so far" in self.said(plan, "nothing says where outer@head lies")

    def test_a_conflict_names_the_slope_of_a_face_once(self):
        """The shoulder is made 2.5 steeper over its height than the leg, still uncut, may be cut: 0.8 is let pass."""
        result = found(TRESTLE, "reading rail.l.shoulder@b rail.l.shoulder@t 12.5 fine", "reading rail.b rail.t 80 fine",
                       "reading leg.l.foot leg.l.low.b 160 fine", "reading leg.l.low.b leg.l.low.t 80 fine")  # fmt: skip
        (conflict,) = result.contradictions
        text = contradiction_text(result, conflict)
        assert "the slope 1:8 of leg.l inner@foot..inner@head" in text
        assert "inner@foot..inner@low" not in text

    def test_a_slope_has_no_limits(self):
        assert "(give 1/32)" in self.said(LEG.replace("1:8 right", "1:8 (1 to 2) right", 1), "no other condition")


class TestAsBuilt:
    def test_a_face_is_straight_between_what_was_read_of_it(self):
        """It leans 63 over 480: 31.5 at half of that. Straight to within a cut."""
        result = found(LEG + NAMED, "reading leg.l.outer@foot leg.l.outer@head 63 stick")
        there = result.between("leg.l.outer@foot", "leg.l.outer@low.t")
        t = 240 / 480
        assert there.distance_mm == near(63 * t)
        assert there.expanded_mm == near(2 * hypot(t * U_ROD, U_CUT))

    @pytest.mark.parametrize(("station", "t"), [("low.b", 160 / 480), ("low.t", 0.5), ("seat", 450 / 480)])
    def test_a_lean_read_short_of_the_end_is_believed_there_the_more_the_nearer(self, station, t):
        """Read 1.5 off at t: at the end minimise e^2 + (1.5 - t e)^2 / (4 t (1 - t)) in units of a cut."""
        plan = LEG.replace("240 head", "210 seat 30 head")
        result = found(plan, f"reading leg.l.outer@foot leg.l.outer@{station} {60 * t + 1.5} exact")
        there = result.between("leg.l.outer@foot", "leg.l.outer@head").distance_mm
        share = Fraction(t).limit_denominator(100)
        assert there - 60 == pytest.approx(float(share * 3 / 2 / (share**2 + 4 * share * (1 - share))), abs=1e-6)

    def test_two_widths_that_differ_conflict_with_nothing(self):
        """The faces are planed before the mortise is marked: the heights are still to be cut."""
        rows = ("reading leg.l.outer@foot leg.l.inner@foot 80.4 fine", "reading leg.l.outer@low.t leg.l.inner@low.t 80.1 fine")
        result = found(TRESTLE, *rows)
        assert result.contradictions == ()
        assert result.between("leg.l.outer@low.t", "leg.l.inner@low.t").distance_mm == near(80.1)

    def test_a_station_that_only_the_log_names_lies_on_its_face(self):
        result = found(LEG.replace("240 head", "140 seat 100 head"), "reading leg.r.outer@foot leg.r.inner@seat 127.9 fine")
        assert result.between("leg.r.outer@foot", "leg.r.inner@seat").distance_mm == near(127.9)
        assert at(result.assembly, "leg.r.inner@seat") - at(result.assembly, "leg.r.outer@foot") == near(-80 - 380 / 8)

    @COPIES
    def test_the_pegs_hole_goes_by_the_face_it_is_counted_from(self, e):
        result = found(TRESTLE, f"reading leg.{e}.inner@low.b leg.{e}.pin.x 21.5 fine")
        peg = next(one for one in result.pegs if one.hole == f"leg.{e}.pin.x")
        assert peg.layout == (near(21.5 - 2), near(2 * U_FINE))
        assert result.between(f"rail.{e}.shoulder@b", f"rail.{e}.pin").distance_mm == near(19.5)

    @pytest.mark.parametrize("g", [0.5, 1.0, 2.0])
    def test_a_shoulder_with_a_give_follows_the_lean_of_its_leg(self, g):
        """The leg leans d more over the rail's height than it should. With gaps wished at a to a band of b, and
        the shoulder's rise off its slope by e with a give of g:  e = d g^2 / (g^2 + 2 b^2)."""
        d, b = 0.3, 0.3
        plan = (LEG + RAIL.replace("{give}", f" (give {g})") + JOINT).replace("shoulder,", "wide,").replace("\nr\n\"", "\n\"")
        plan = plan.replace("low.b/t, easy", "low.b/t, easy").replace('low.b, shoulder"', 'low.b, wide"').replace('low.t, shoulder"', 'low.t, wide"')
        result = found(plan, f"reading leg.l.inner@low.b leg.l.inner@low.t {10 + d} exact",
                       "reading leg.l.foot leg.l.low.b 160 exact", "reading leg.l.low.b leg.l.low.t 80 exact",
                       "reading rail.b rail.t 80 exact")  # fmt: skip
        rise = result.between("rail.l.shoulder@b", "rail.l.shoulder@t").distance_mm
        assert rise - 10 == pytest.approx(d * g**2 / (g**2 + 2 * b**2), abs=1e-6)

    def test_the_independent_solver_has_the_same(self):
        rows = [
            "reading leg.l.outer@foot leg.l.inner@foot 80.4 fine", "reading leg.l.outer@low.b leg.l.inner@low.b 80.3 fine",
            "reading leg.l.outer@foot leg.l.outer@head 61.2 stick", "reading leg.l.foot leg.l.low.b 160.2 fine",
            "reading rail.l.shoulder@b rail.r.shoulder@b 400.3 stick", "reading rail.l.shoulder@t rail.r.shoulder@t 380.6 stick",
            "reading leg.r.inner@low.t leg.r.outer@low.t 79.8 fine", "reading leg.l.inner@low.b leg.l.pin.x 20.4 fine",
        ]  # fmt: skip
        for plan in (TRESTLE, LEG.replace("1:8", "7°") + RAIL.replace("{give}", " (give 1)").replace("1:8", "7°") + JOINT):
            result = found(plan, *rows)
            assert disagreements(Case(result.assembly, result.state)) == []


class TestACrossing:
    """A half dovetail of 1:6 on a leg that leans 1:6. Its side falls from the inner face, 90 away from the outer at
    one height; but the outer face leans away below, so it falls 15 / (1 - 1/36) = 15.4286 until it meets it."""

    PLAN = """
[part.leg]
copies = { l = "as drawn", r = "left for right", rl = "left for right, front for rear" }
x = "outer@foot 90 inner@foot"
z = "foot 240 lap-low 60 lap-top 390 head"
slopes = ["lap-low@inner..lap-low@outer 1:6 down", "outer@foot..outer@head 1:6 right", "inner@foot..inner@head 1:6 right"]
"""

    @pytest.mark.parametrize("e", ["l", "r", "rl"])
    def test_both_lines_end_where_they_cross(self, e):
        leg = worked(HEAD + self.PLAN)
        assert gap(leg, f"leg.{e}.lap-low@inner", f"leg.{e}.lap-low@outer") == near(-15 / (1 - 1 / 36))

    @pytest.mark.parametrize("e", ["l", "r"])
    def test_a_leg_that_came_out_narrower_has_less_of_it(self, e):
        result = found(self.PLAN, f"reading leg.{e}.outer@foot leg.{e}.inner@foot 87 exact")
        fall = result.between(f"leg.{e}.lap-low@inner", f"leg.{e}.lap-low@outer").distance_mm
        assert fall == pytest.approx(87 / 6 / (1 - 1 / 36), abs=1e-6)

    def test_the_tail_that_goes_into_it_ends_below_the_slope_of_its_end(self):
        """Shoulder and end of the tail slant alike, 90 apart at one height: its side falls as far as that of the lap."""
        tail = """
[part.stretcher]
x = "l.end@lower 90 l.shoulder@lower 600 middle"
z = "lower 60 upper"
slopes = ["l.shoulder@lower..l.shoulder@upper 1:6 right", "l.end@lower..l.end@upper 1:6 right",
          "lower@l.shoulder..lower@l.end 1:6 down"]
[joint.lap]
meet = ["stretcher.l.shoulder@lower against leg.l.inner@lap-low, shoulder",
        "stretcher.l.shoulder@upper against leg.l.inner@lap-top, shoulder",
        "stretcher.lower@l.shoulder/upper in leg.l.lap-low@inner/lap-top, slip",
        "stretcher.lower@l.end/upper in leg.l.lap-low@outer/lap-top, slip"]
"""
        result = found(self.PLAN + tail)
        assert gap(result.assembly, "stretcher.lower@l.shoulder", "stretcher.lower@l.end") == near(-15 / (1 - 1 / 36))
        assert result.contradictions == ()
        told = [text for axis in part_layout(result, "stretcher").axes for text in axis.notes if text.startswith("slope")]
        assert any("(l.shoulder..l.end 92.5" in text for text in told)  # 90 + 15.43 / 6 = 92.57
        rows = ["reading stretcher.lower@l.end stretcher.upper 75.6 fine", "made leg.l - - -",
                "reading leg.l.outer@foot leg.l.inner@foot 90.3 fine"]  # fmt: skip
        read = found(self.PLAN + tail, *rows)
        assert disagreements(Case(read.assembly, read.state)) == []

    def test_it_has_to_reach_the_lap(self):
        (problem,) = problems(HEAD + self.PLAN.replace("inner@head", "inner@lap-low").replace("240 lap-low 60", "240 lap-low 60")
                              .replace("lap-low@inner..", "lap-top@inner..").replace("..lap-low@outer", "..lap-top@outer"))  # fmt: skip
        assert problem.what == "inner slants from foot to lap-low, and lap-top@inner lies beyond that"


class TestOneLineForOneCut:
    def test_a_layout_tells_a_face_once_with_all_that_is_on_it(self):
        layout = part_layout(found(LEG + NAMED), "leg.l")
        notes = [text for axis in layout.axes for text in axis.notes if text.startswith("slope")]
        assert notes == [
            "slope 1:8: outer@foot at 0, outer@low.b at 20, outer@low.t at 30, outer@head at 60 (foot..head 480)",
            "slope 1:8: inner@foot at 80, inner@low.b at 100, inner@low.t at 110, inner@head at 140 (foot..head 480)",
        ]

    def test_every_line_can_be_cut_though_no_station_stands_on_one(self):
        """At 7 degrees no station is a multiple of 0.5, and the pegs' holes are laid out from one."""
        plan = (LEG + RAIL.replace("{give}", "") + JOINT).replace("1:8", "7°")
        laid = found(plan).laid_out
        assert [line for line in laid.lines.values() if line.line_mm is None] == []
        outer = found(plan).assembly.index["leg.l.outer@low.b"]
        assert outer not in laid.lines

    def test_two_stations_of_one_wall_are_one_line_of_a_joint(self):
        """The mortise's face 1 too far in at both edges of the shoulder."""
        result = found(TRESTLE, "reading leg.l.low.b leg.l.low.t 80 fine", "made leg.l - - -", "made leg.r - - -", "made rail - - -",
                       "reading rail.l.shoulder@b leg.l.inner@low.b 1.4 fine", "reading rail.l.shoulder@t leg.l.inner@low.t 1.4 fine")  # fmt: skip
        joint = next(one for one in result.joints if "leg.l" in one.name)
        lines = [text for text in joint_lines(result, joint) if "shoulder@" in text]
        assert len(lines) == 1
        assert "as much at" in lines[0]


def test_u_of_a_width_by_two_leans():
    """Both faces lean as read, and the width at the foot is read: at the head it is w + b - a, u of the three."""
    rows = ["reading leg.l.outer@foot leg.l.inner@foot 80 fine", "reading leg.l.outer@foot leg.l.outer@head 61 stick",
            "reading leg.l.inner@foot leg.l.inner@head 60.5 stick"]  # fmt: skip
    width = found(LEG, *rows).between("leg.l.outer@head", "leg.l.inner@head")
    assert width.distance_mm == near(79.5)
    assert width.expanded_mm == near(2 * sqrt(U_FINE**2 + 2 * U_ROD**2))


def test_a_width_at_a_station_is_a_size_of_its_own():
    assert size(found(LEG), "leg.l.outer@low.b", "leg.l.inner@low.b").size_mm == near(80)


def typed(folder, *words: str) -> str:
    answer = run(*words, at=folder)
    assert answer.exit_code in (0, 1), answer.stderr
    return answer.stdout + answer.stderr


def test_at_the_bench_a_bevel_set_on_the_leg_carries_its_lean_to_the_shoulder(tmp_path):
    """The leg leans 63 over 480, its rail is 80 high: 10.5 (as straight as a cut), whatever the plan's 10."""
    head = HEAD + 'workmanship = 0.6\nfits = { shoulder = [0, 0, 0.8] }\n'
    (tmp_path / "plan.toml").write_text(head + LEG.replace("240 head", "140 seat 100 head") + RAIL.replace("{give}", " (give 1)") + JOINT)
    assert "3 more" in typed(tmp_path, "read", "leg.l", "outer@foot", "outer@head", "63", "--tool", "square")
    both = typed(tmp_path, "read", "leg.l.inner@seat..outer@seat", "80.2", "--tool", "caliper")
    assert "plan 80: 0.2 more" in both
    typed(tmp_path, "made", "leg.l")
    typed(tmp_path, "made", "rail", "l.shoulder@b")
    knifed = typed(tmp_path, "made", "rail", "l.shoulder@t", "--from", "leg.l", "--held", "l.shoulder@b")
    assert "rail l.shoulder@b..l.shoulder@t knifed off leg.l inner@low.b..inner@low.t" in knifed
    found = fitsolve.reconcile(fitsolve.load(tmp_path))
    rise = found.between("rail.l.shoulder@b", "rail.l.shoulder@t").distance_mm
    assert rise == near(found.between("leg.l.inner@low.b", "leg.l.inner@low.t").distance_mm)
    assert "1 marks to cut" not in typed(tmp_path, "layout", "rail")
    assert found.state.marks[found.assembly.index["rail.r.shoulder@t"]] == MarkState.UNCUT


def test_a_shoulder_laid_out_at_both_ends_is_not_all_made_by_one():
    made = found(RAIL.replace("{give}", " (give 1)"), "made rail.l.shoulder@b - - -")
    assert made.state.marks[made.assembly.index["rail.l.shoulder@t"]] == MarkState.UNCUT
    whole = found(RAIL.replace("{give}", ""), "made rail.l.shoulder@b - - -")
    assert whole.state.marks[whole.assembly.index["rail.l.shoulder@t"]] == MarkState.MADE


def test_an_angle_is_no_reading_and_what_it_comes_to_is_told(tmp_path):
    """tan 7° over 480 is 58.94, and 0.2° more is 1.70 more there (480 / cos² 7° times 0.2° in radians)."""
    (tmp_path / "plan.toml").write_text(HEAD + LEG)
    answer = run("read", "leg.l", "outer@foot", "outer@head", "7°", "--tool", "square", at=tmp_path)
    assert answer.exit_code == 2
    assert "7° over 480 is 59 - 0.06, and 0.2° of a bevel is 1.70 there" in " ".join(answer.stderr.split())
    assert 480 * tan(radians(7)) == pytest.approx(59 - 0.06, abs=0.005)
    assert 480 * (tan(radians(7.1)) - tan(radians(6.9))) == pytest.approx(1.70, abs=0.005)


def test_a_face_that_slants_is_not_asked_to_be_plumb():
    plan = HEAD + LEG + '[check]\nplumb = "leg.l.outer at foot and at head, within 2"\n'
    (warning,) = [one for one in problems(plan) if one.level == "warning"]
    assert "by the plan itself it is off by 60 mm" in warning.what
    assert "check the lean itself, as in leg.l.outer@foot..outer@head = 60, within 2" in warning.hint
    assert warnings(HEAD + LEG + '[check]\nlean = "leg.l.outer@foot..outer@head = 60, within 2"\n') == []
