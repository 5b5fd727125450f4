"""Another choice beside the plan's: what a trial changes is what the plan would say if it were edited."""

from __future__ import annotations

import json

import pytest
from cli_folder import FRAMES, PLAN, folder_of, run
from hypothesis import given, settings
from hypothesis import strategies as st
from test_cli_showing import SCHEMA, faults
from test_language_spec import rows

from fitsolve.build.folder import Build
from fitsolve.build.logtext import parse_log
from fitsolve.build.plan import read_plan
from fitsolve.build.trial import read_change
from fitsolve.cli.names import Names
from fitsolve.cli.trying import assembly_tried
from fitsolve.errors import BuildError
from fitsolve.reconciliation import findings_of, reconcile
from tests.cli_folder import log_text

END = "l.end 6 (give 1/8) l.left"


def reconciled(plan: str, rows: str = FRAMES):
    return reconcile(Build(read_plan(plan), parse_log(log_text(rows).encode())))


def tried(plan: str, *changes: str, rows: str = FRAMES):
    found = reconciled(plan, rows)
    names = Names(found.assembly, {})
    return findings_of(assembly_tried(found.assembly, found.state, names, changes), found.state)


def sizes(found) -> dict[tuple[str, str], float]:
    return {(one.start, one.end): one.size_mm for one in found.distances}


def same(one, other, within_mm=1e-9):
    assert sizes(one).keys() >= sizes(other).keys()
    for key, size in sizes(other).items():
        assert sizes(one)[key] == pytest.approx(size, abs=within_mm), key
    assert [joint.verdict for joint in one.joints] == [joint.verdict for joint in other.joints]


EDITS = [
    ("give apron l.end..l.left 1/4", END, "l.end 6 (give 1/4) l.left"),
    ("give apron.l.end..l.left 1/4", END, "l.end 6 (give 1/4) l.left"),
    ("hold apron l.end..l.left", END, "l.end 6 (hold) l.left"),
    ("give apron l.end..r.end 1/64", "60 (hold)", "60 (give 1/64)"),
    ("limit apron l.end..l.left 6 1/32 to 6 1/4", END, "l.end 6 (give 1/8, 6 1/32 to 6 1/4) l.left"),
    ("fit slip 0.010 to 0.030", '["0.002", "0.008", "0.016"]', '["0.010", "0.020", "0.030"]'),
    ("fit slip 0.002 to 0.030, aim 0.020", '["0.002", "0.008", "0.016"]', '["0.002", "0.020", "0.030"]'),
    ("keep ends give 1", "r.right..r.end, give 1/32", "r.right..r.end, give 1"),
    ("keep ends by 5 1/2 to 5 7/8", "give 1/32", "give 1/32, by 5 1/2 to 5 7/8"),
]


class TestAgainstTheEditedPlan:
    """A trial gives what the plan gives once it is edited by hand."""

    @pytest.mark.parametrize(("change", "old", "new"), EDITS)
    def test_one_change(self, change, old, new):
        assert PLAN.count(old) == 1
        same(tried(PLAN, change), reconciled(PLAN.replace(old, new)))

    @given(st.lists(st.sampled_from(range(len(EDITS))), unique=True, min_size=2, max_size=4), st.sampled_from(["", FRAMES]))
    @settings(max_examples=15, deadline=None)
    def test_several_at_once(self, chosen, rows):
        plan, said, taken = PLAN, [], set()
        for change, old, new in (EDITS[k] for k in chosen):
            if old in plan and old not in taken and not change.startswith("keep"):
                plan, said = plan.replace(old, new), [*said, change]
                taken.add(old)
        same(tried(PLAN, *said, rows=rows), reconciled(plan, rows))

    def test_a_size_is_held(self):
        # Limits a thousandth of a micrometre apart come to the same, for a plan can't hold at another size.
        close = "(give 1/8, 6.12499998 to 6.12500002)"
        edited = PLAN.replace("6 (give 1/8) l.left", f"6 {close} l.left")
        same(tried(PLAN, "size apron l.end..l.left 6 1/8"), reconciled(edited), within_mm=1e-5)

    def test_a_check_that_is_held_is_a_keep_with_no_give_to_speak_of(self):
        # Nothing is read: 41 in between the legs is for the apron's dados and the fit to say.
        rows = "reading,leg.l.left,leg.l.right,3.531,caliper,\n"
        edited = PLAN.replace("[check]", 'apart = "leg.l.right..leg.r.left = 41 1/2, give 0.000001"\n[check]')
        one = tried(PLAN, "check apart = 41 1/2", rows=rows)
        same(one, reconciled(edited, rows), within_mm=1e-3)
        terms = [(one.assembly.index["leg.r.left"], 1.0), (one.assembly.index["leg.l.right"], -1.0)]
        assert one.solved.value_mm(terms) == pytest.approx(41.5 * 25.4, abs=1e-9)

    def test_a_tolerance(self):
        [check] = tried(PLAN, "check apart within 1/4").checks
        assert check.within_mm == pytest.approx(25.4 / 4, abs=1e-12)
        assert check.verdict == "within"

    def test_a_span_that_no_run_has(self):
        found = tried(PLAN, "size apron l.left..r.right 48 1/4", rows="")
        told = found.between("apron.l.left", "apron.r.right")
        assert told.distance_mm == pytest.approx(48.25 * 25.4, abs=1e-9)
        # The ends take what is left of 60, equally: by hand (60 - 48 1/4) / 2.
        assert found.between("apron.l.end", "apron.l.left").distance_mm == pytest.approx(5.875 * 25.4, abs=1e-9)

    def test_nothing_there_is_moved(self):
        found, other = reconciled(PLAN), tried(PLAN, "size apron l.end..l.left 5", "fit slip 0 to 1")
        for one, trial in zip(found.distances, other.distances, strict=False):
            if one.state == "made":
                assert trial.size_mm == pytest.approx(one.size_mm, abs=1e-9)

    def test_what_is_made_settles_a_check(self, tmp_path):
        result = run("sizes", "--try", "check apart = 42", at=folder_of(tmp_path / "b", rows=FRAMES))
        assert "check apart stays at 41 3/32: what is made settles it" in " ".join(result.stdout.split())
        assert "no size changes: apron" in result.stdout

    def test_what_can_not_be_had_is_a_conflict_of_the_trial(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        result = run("sizes", "--try", "size apron l.end..l.left 7", "--try", "size apron r.right..r.end 7", at=at)
        assert "CONFLICT  with the change: These can't all be had" in result.stdout
        assert "apron l.end..l.left held at 7 (--try)" in " ".join(result.stdout.split())
        assert result.exit_code == 1


class TestConflictsBeside:
    """A conflict that stands without the change is counted; what the change brings about is told, what it settles is
    counted too."""

    TIGHT = f"{FRAMES}reading,apron.l.left,apron.l.right,3.400,caliper,\n"

    def said(self, tmp_path, *changes):
        at = folder_of(tmp_path / "b", rows=self.TIGHT)
        tries = [word for change in changes for word in ("--try", change)]
        answer = json.loads(run("sizes", "--json", *tries, at=at).stdout)
        return " ".join(run("sizes", *tries, at=at).stdout.split()), [one["new"] for one in answer["contradictions"]]

    @pytest.mark.parametrize("change", ["give apron l.end..l.left 1/4", "fit slip 0 to 0.03"])
    def test_one_that_stood_before_is_only_counted(self, tmp_path, change):
        told, new = self.said(tmp_path, change)
        assert "CONFLICT 1 CONFLICT stands as without the change: fitsolve sizes." in told
        assert told.count("CONFLICT") == 2
        assert new == [False]

    def test_what_is_new_is_told_first(self, tmp_path):
        told, new = self.said(tmp_path, "size apron l.end..l.left 7", "size apron r.right..r.end 7")
        first, second = told.split("CONFLICT ")[1], told.split("CONFLICT ")[2]
        assert first.startswith("with the change: These can't all be had")
        assert second.startswith("1 ")
        assert sorted(new) == [False, True]

    def test_one_that_is_gone_is_counted(self, tmp_path):
        plan = PLAN.replace("l.left 3 1/2 l.right", "l.left 3 1/2 (hold) l.right")
        at = folder_of(tmp_path / "b", plan, "reading,leg.l.left,leg.l.right,3.6,caliper,\n")
        assert "CONFLICT" in run("sizes", at=at).stdout
        told = " ".join(run("sizes", "--try", "give apron l.left..l.right 1/4", at=at).stdout.split())
        assert "CONFLICT 1 CONFLICT of fitsolve sizes is gone with the change." in told


class TestSideBySide:
    """Both choices are shown: size here, size with the change, the difference; verdicts that change."""

    def test_the_whole_text(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        result = run("sizes", "--try", "size apron  l.end..l.left 6 1/8", at=at, width=80)
        # By hand: the apron's ends are held 60 apart and its dados follow the legs, so that all four walls
        # move with the first one, and by as much.
        here, there = (json.loads(run("layout", "apron", "--json", at=at).stdout)["axes"][0]["marks"], 6.125 * 25.4)
        moved = there - here[1]["figure_mm"]
        assert result.stdout.startswith(
            "Sawing bench   Tue 25 Nov 14:04   4 readings, last #4\n"
            "TRIED     size apron l.end..l.left 6 1/8\n"
            "SIZES     apron\n"
            " x from l.end  here                      tried                     difference\n"
            "   l.left      5 15/16, exact - 0.001    6 1/8                     0.188 more\n"
        )
        assert result.stdout.count(f"{moved / 25.4:.3f} more") >= 1
        assert (at / "plan.toml").read_text() == PLAN

    def test_here_are_the_lines_that_sizes_tells(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        beside = run("sizes", "--try", "give apron l.end..l.left 1/4", at=at, width=100).stdout
        told = run("sizes", at=at, width=100).stdout
        lines = [line.split() for line in beside.splitlines() if line.startswith("   ") and ", exact" in line]
        assert len(lines) > 1
        for name, whole, *_ in lines:
            [said] = [line for line in told.splitlines() if line.startswith(f"   {name} ")]
            assert said.split()[1] == whole

    def test_a_verdict_that_changes(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES + "reading,apron.l.left,apron.l.right,3.540,caliper,\n")
        result = run("sizes", "--try", "fit slip 0.012 to 0.030", at=at, width=80)
        assert "dado leg.l apron  can't tell  tight" in result.stdout
        assert result.exit_code == 1

    def test_json(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        result = run("sizes", "--try", "hold apron l.end..l.left", "--json", at=at)
        answer = json.loads(result.stdout)
        assert list(faults(answer, SCHEMA["$defs"]["tried"])) == []
        [moved] = [one for one in answer["sizes"] if one["to"] == "apron.l.left"]
        assert moved["from"] == "apron.l.end"
        assert moved["tried_size_mm"] == pytest.approx(6 * 25.4, abs=1e-9)

    @pytest.mark.parametrize("width", [40, 60, 80, 120])
    def test_nothing_is_wider_than_the_screen(self, tmp_path, width):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        result = run("sizes", "--try", "hold apron l.end..l.left", at=at, width=width)
        assert max(map(len, result.stdout.splitlines())) <= width


BENCH = 'unit = "mm"\ngive = 1\nfits = { slip = [0, 0.1, 1] }\n[part.a]\nx = "l 60 r"\n[part.b]\nx = "l 60 r"\n' \
    '[joint.j]\nmeet = "a.l/r in b.l/r, slip"\n[keep]\nends = "a.l..r = 60"\n[check]\ntrue = "a.l..r = 60, within 1"\n'  # fmt: skip


class TestWhatIsWrong:
    """What can't be tried is said with a caret and a mend, all of it at once, and nothing is computed."""

    @pytest.mark.parametrize(("trial", "what", "column"), rows("a trial"))
    def test_the_table_of_the_language(self, trial, what, column):
        with pytest.raises(BuildError) as caught:
            tried(BENCH, trial, rows="")
        [problem] = caught.value.problems
        assert (problem.what, problem.place.column, problem.place.text) == (what, int(column), trial)

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            ("give leg.l left..right 1", "leg.l.left and leg.l.right are made: no choice moves them"),
            ("give leg.l.right..apron.l.left 1", "lie on no one axis of one part"),
            ("hold apron l.end..l.end", "a span has two different marks"),
            ("hold apron l.ond..l.end", 'apron has no mark "l.ond"'),
            ("fit slop 0 to 1", "Did you mean slip?"),
            ("keep end5 give 1", 'the plan has no keep "end5"'),
            ("check apart = 0", "apart is a length, and can't be 0"),
            ("", "a change is missing"),
        ],
    )
    def test_what_needs_the_build(self, tmp_path, change, said):
        result = run("sizes", "--try", change, at=folder_of(tmp_path / "b", rows=FRAMES))
        assert said in result.stderr
        assert (result.exit_code, result.stdout) == (2, "")

    def test_all_at_once(self, tmp_path):
        result = run("sizes", "--try", "giv a", "--try", "fit slop 0 to 1", at=folder_of(tmp_path / "b", rows=FRAMES))
        assert result.stderr.count("--try: ") == 2

    @given(st.text(max_size=40))
    @settings(max_examples=150, deadline=None)
    def test_anything_typed_is_read_or_refused(self, text):
        try:
            read_change(text, "in")
        except BuildError as error:
            assert all(problem.what for problem in error.problems)


def test_one_part_alone(tmp_path):
    at = folder_of(tmp_path / "b", rows=FRAMES)
    whole, one = (json.loads(run("sizes", "--json", *more, at=at).stdout) for more in ([], ["--part", "leg.l"]))
    assert {joint["name"] for joint in one["joints"]} == {"dado leg.l apron"}
    assert {each["part"] for each in one["distances"]} == {"leg.l"}
    assert [each for each in whole["distances"] if each["part"] == "leg.l"] == one["distances"]
    assert run("sizes", "--part", "leg", at=at).exit_code == 2
    assert "Nothing: leg.l is made." in run("sizes", "--part", "leg.l", at=at).stdout
    assert "leg.r" not in run("sizes", "--part", "leg.l", at=at).stdout.partition("FRAME")[0]  # where a check is off


def test_limits_of_a_width_that_a_slope_makes_hold():
    # By hand: the notch is 60 wide at the leg's inner side and 1/6 of the leg's 90, 15, more at its outer: 75.
    # Its outer width held to 80 to 81, the nearer limit is what it comes to; nothing is asked against that but gives.
    plan = """\
unit = "mm"
finest = "0.5"
give = 1
[part.leg]
x = "outer 90 inner"
z = "foot 100 bottom 60 top 40 head"
slopes = "bottom@inner..bottom@outer 1:6 down"
[part.rail]
x = "end 90 shoulder"
z = "lower 75 upper"
[joint.tail]
meet = "rail.lower/upper in leg.bottom@outer/top, slip"
"""
    found = tried(plan, "limit leg bottom@outer..top 80 to 81", rows="reading,leg.outer,leg.inner,90,caliper,\n")
    assert found.between("leg.bottom@outer", "leg.top").distance_mm == pytest.approx(80.0, abs=1e-6)


def test_a_check_held_on_trial_is_no_better_known_for_that(tmp_path):
    # By hand: a rail still to be cut lands ± 0.3 and between two shoulders; that the distance of the legs is asked to
    # be 839.5 says where to cut it, and nothing of how it lands.
    plan = """
unit = "mm"
workmanship = 0.3
give = 1
[part.leg]
copies = { l = "as drawn", r = "left for right" }
x = "outer 80 inner"
[part.rail]
x = "l.shoulder 840 r.shoulder"
[joint.butt]
each = '''
e
l
r
'''
meet = "rail.{e}.shoulder against leg.{e}.inner, tight-up"
[check]
apart = "leg.l.inner..leg.r.inner = 840, within 0.52"
"""
    at = folder_of(tmp_path / "b", plan=plan, rows="made,leg.l,,,,\nmade,leg.r,,,,\n")
    tried = json.loads(run("sizes", "--try", "check apart = 839.5", "--json", at=at).stdout)
    (one,) = [verdict for verdict in tried["verdicts"] if verdict["name"] == "apart"]
    assert (one["verdict"], one["tried_verdict"]) == ("within", "can't tell")
