"""Reconcile: the main job, one function.

    build  ->  assembly, state  ->  graph  ->  pieces solved  ->  findings

Plan and history in; out comes, in millimetres and plain values: what is there, what to cut,
whether each joint and each part goes together, how true the frame is, which readings to
doubt, and what cannot all be had. No file is opened and nothing is printed.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fitsolve.build.assembly import Assembly
from fitsolve.build.folder import Build
from fitsolve.build.place import assemble
from fitsolve.build.state import State, settle
from fitsolve.errors import BuildError, Problem
from fitsolve.findings.solved import Solved, solved
from fitsolve.graph import make_graph
from fitsolve.light import cached_property, dataclass
from fitsolve.solve.pieces import solve_network

if TYPE_CHECKING:
    from fitsolve.findings.causes import Squeeze
    from fitsolve.findings.doubts import Doubted
    from fitsolve.findings.lines import LaidOut
    from fitsolve.findings.oddcuts import OddCut
    from fitsolve.findings.running import Layout
    from fitsolve.findings.values import (
        Agreement,
        Assumption,
        Bent,
        Between,
        CheckFinding,
        ContradictionFinding,
        DistanceFinding,
        Doubt,
        Following,
        JointFinding,
        PegFinding,
        SeatFinding,
        Suspect,
        Suspicion,
        ToolError,
    )

TURNED_MM = 1e-6
"""Marks that change sides by less than this lie flush."""


@dataclass(frozen=True)
class Reconciliation:
    """Everything found, in millimetres; uncertainties are expanded (k = 2).

    The pieces are solved; each finding is worked out from them when it is first asked for: a
    command that tells one distance need not judge every seat.
    """

    solved: Solved
    notices: tuple[Problem, ...] = ()

    @property
    def assembly(self) -> Assembly:
        """The plan worked out."""
        return self.solved.assembly

    @property
    def state(self) -> State:
        """What the history leaves true."""
        return self.solved.state

    @cached_property
    def distances(self) -> tuple[DistanceFinding, ...]:
        """Every distance of every run: as built, or as it is to be cut."""
        from fitsolve.findings.sizes import distance_findings

        return distance_findings(self.solved)

    @cached_property
    def assumed(self) -> tuple[Assumption, ...]:
        """What is made and was never read."""
        from fitsolve.findings.sizes import assumptions

        return assumptions(self.solved, self.distances)

    @cached_property
    def seats(self) -> tuple[SeatFinding, ...]:
        """Whether each part that has to go on something does."""
        from fitsolve.findings.verdicts import seat_findings

        return seat_findings(self.solved)

    @cached_property
    def joints(self) -> tuple[JointFinding, ...]:
        """Whether each joint goes together."""
        from fitsolve.findings.verdicts import joint_findings

        return joint_findings(self.solved, self.seats)

    @cached_property
    def checks(self) -> tuple[CheckFinding, ...]:
        """How true the frame is."""
        from fitsolve.findings.checks import check_findings

        return check_findings(self.solved)

    @cached_property
    def pegs(self) -> tuple[PegFinding, ...]:
        """What each peg draws."""
        if not self.assembly.pegs:
            return ()
        from fitsolve.findings.pegs import peg_findings

        return peg_findings(self.solved)

    @cached_property
    def tools(self) -> tuple[ToolError, ...]:
        """By how much each tool reads long or short, where the readings tell."""
        if not self.solved.graph.shared:
            return ()
        from fitsolve.findings.toolerrors import tool_errors

        return tool_errors(self.solved)

    @cached_property
    def contradictions(self) -> tuple[ContradictionFinding, ...]:
        """What cannot all be had."""
        allocations = [piece.allocation for piece in self.solved.pieces]
        if not any(one.contradictions or one.fact_weight.any() for one in allocations):
            return ()
        from fitsolve.findings.contradictions import contradiction_findings

        return contradiction_findings(self.solved)

    @cached_property
    def _doubtful(self) -> Doubted:
        from fitsolve.findings.doubts import doubted

        return doubted(self.solved)

    @cached_property
    def following(self) -> tuple[Following, ...]:
        """Which contradictions are there only because of something not to be believed: the worst of each suspicion,
        then each reading that nothing checks and the plan speaks against, the order in which they are told."""
        if not self.contradictions:
            return ()
        from fitsolve.findings.following import following

        return following(self.solved, self.contradictions, self.doubted_worst)

    @cached_property
    def bent(self) -> tuple[Bent, ...]:
        """The readings at stations that do not go with what is known of the plain marks."""
        if not any("@" in one.start + one.end for one in self.state.readings):
            return ()
        from fitsolve.findings.bent import bent

        return bent(self.solved)

    @cached_property
    def odd_cuts(self) -> tuple[OddCut, ...]:
        """The sizes said of cuts, far off plan and never read, that look like slips."""
        if not self.state.laid_by:
            return ()
        from fitsolve.findings.oddcuts import odd_cuts

        return odd_cuts(self.solved)

    @property
    def doubted_worst(self) -> tuple[Suspect, ...]:
        """The worst of each thing that is to be settled first, in the order in which they are told."""
        from fitsolve.findings.values import Suspect

        cuts = (Suspect("cut", one.row, 0.0, one.size_mm - one.plan_mm) for one in self.odd_cuts)
        return (*self._doubtful.worst, *cuts)

    @cached_property
    def conflicts(self) -> tuple[ContradictionFinding, ...]:
        """The contradictions that do not follow from something not to be believed."""
        gone = {number for one in self.following for number in one.contradictions}
        return tuple(one for number, one in enumerate(self.contradictions) if number not in gone)

    @cached_property
    def clashes_of(self) -> Mapping[int, tuple[ContradictionFinding, ...]]:
        """The contradictions that the fit of each contact stands in, by its number: those that follow from something
        not to be believed behind the others."""
        found: dict[int, list[ContradictionFinding]] = {}
        for one in dict.fromkeys((*self.conflicts, *self.contradictions)):
            for contact in {demand.number for demand in one.demands if demand.kind in ("contact", "gap")}:
                found.setdefault(contact, []).append(one)
        return {contact: tuple(own) for contact, own in found.items()}

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """How each reading agrees with the others."""
        return self._doubtful.doubts

    @property
    def suspicions(self) -> tuple[Suspicion, ...]:
        """Readings that no other checks, and that the plan speaks against."""
        return self._doubtful.suspicions

    @property
    def agreement(self) -> Agreement:
        """Whether all readings together agree as well as their tools say."""
        return self._doubtful.agreement

    @cached_property
    def problems(self) -> tuple[Problem, ...]:
        """Warnings and notices of plan and log, and of what could not be worked out."""
        found = (*self.notices, *self.assembly.notices, *self.state.problems)
        if self.solved.turned is None:
            return found
        from fitsolve.findings.diagonals import diagonal_problems

        return (*found, *diagonal_problems(self.solved))

    @property
    def warnings(self) -> tuple[Problem, ...]:
        """The problems but for what is noticed of the plan as long as it stays so: that is said where the whole is
        shown, not with each part of it."""
        plan = set(self.assembly.notices)
        return tuple(one for one in self.problems if one.level != "notice" or one not in plan)

    @property
    def proven(self) -> bool:
        """False where some answer could not be certified as the best one: its numbers keep the limits, but may
        not be used as exact."""
        return all(piece.allocation.status == "optimal" for piece in self.solved.pieces)

    @cached_property
    def laid_out(self) -> LaidOut:
        """Where every mark still to be cut is laid out; computed when it is first asked for."""
        from fitsolve.findings.lines import laid_out

        return laid_out(self.solved, self.layouts)

    def asked_of(self, part: str) -> Reconciliation:
        """The same where only the lines of one part are asked for: those of others are not worked out."""
        from fitsolve.findings.lines import lines_of_part

        alone = Reconciliation(self.solved, self.notices)
        alone.__dict__.update(self.__dict__)
        alone.__dict__.setdefault("laid_out", lines_of_part(self.solved, self.layouts, part))
        return alone

    @cached_property
    def layouts(self) -> tuple[Layout, ...]:
        """The running figures of every part and axis with something to cut."""
        from fitsolve.findings.running import layouts

        return layouts(self.solved)

    @cached_property
    def seat_of(self) -> Mapping[str, SeatFinding]:
        """What was found of each part that has to go on something, by its name."""
        return {seat.part: seat for seat in self.seats}

    @cached_property
    def joint_of(self) -> Mapping[int, JointFinding]:
        """What was found of each joint, by its number in the plan."""
        return {joint.number: joint for joint in self.joints}

    @cached_property
    def _squeezes(self) -> dict[str, Squeeze | None]:
        return {}

    def squeeze_of(self, part: str) -> Squeeze | None:
        """The two gaps of a part on its open joints that leave it the least room; worked out once."""
        if part not in self._squeezes:
            from fitsolve.findings.causes import squeeze

            self._squeezes[part] = squeeze(self.solved, part)
        return self._squeezes[part]

    @cached_property
    def turned(self) -> tuple[DistanceFinding, ...]:
        """The distances along a run whose two marks would change sides: no piece can be cut so."""
        x = self.solved.positions_mm
        if all(one.sign * (x[one.end] - x[one.start]) > -TURNED_MM / 2 for one in self.assembly.distances):
            return ()
        return tuple(one for one in self.distances if one.plan_mm > 0.0 and (one.size_mm or 0.0) < -TURNED_MM)

    def between(self, start: str, end: str) -> Between:
        """How far apart two marks are, by whole names; KeyError for a name that is no mark."""
        from fitsolve.findings.sizes import between

        index = self.assembly.index
        return between(self.solved, index[start], index[end])

    def of_part(self, part: str) -> Reconciliation:
        """The findings that are about one part: its distances, joints, pegs, seats, what is assumed of it, and
        the checks that name it."""
        marks, index = self.assembly.marks, self.assembly.index
        rules = self.assembly.checks
        about = {k for k, rule in enumerate(rules) if any(marks[mark].part == part for mark in rule.every_mark)}
        narrowed = Reconciliation(self.solved, self.notices)
        narrowed.__dict__.update(  # in place of what would be worked out when it is asked for
            _squeezes=self._squeezes,
            distances=tuple(one for one in self.distances if one.part == part),
            joints=tuple(one for one in self.joints if part in one.parts),
            seats=tuple(one for one in self.seats if one.part == part),
            pegs=tuple(
                one for one in self.pegs if any(marks[index[hole]].part == part for hole in (one.hole, one.tenon_hole))
            ),
            checks=tuple(one for one in self.checks if one.number in about),
            assumed=tuple(one for one in self.assumed if one.part == part),
            joint_of=self.joint_of,  # words on this part may tell of another's
            seat_of=self.seat_of,
        )
        # worked out once, of the whole
        of_all = ["layouts", "laid_out", "contradictions", "following", "conflicts", "bent", "odd_cuts", "tools"]
        of_all.append("_doubtful")
        narrowed.__dict__.update({name: self.__dict__[name] for name in of_all if name in self.__dict__})
        return narrowed

    @property
    def goes_together(self) -> bool:
        """Whether every joint, seat, check and peg is as it should be."""
        return (
            all(joint.verdict == "fits" for joint in self.joints if not joint.closed)
            and all(joint.verdict in ("fits", "can't tell") for joint in self.joints if joint.closed)
            and all(seat.verdict == "goes on" for seat in self.seats)
            and all(check.verdict == "within" for check in self.checks)
            and all(peg.verdict in ("draws", "can't tell") for peg in self.pegs)
        )

    @property
    def all_well(self) -> bool:
        """Whether there is nothing to warn of: what the exit status 0 says."""
        return (
            self.proven
            and not self.contradictions
            and not self.turned
            and not any(doubt.suspect for doubt in self.doubts)
            and not self.suspicions
            and not self.bent
            and not self.odd_cuts
            and self.agreement.agrees
            and not any(tool.verdict == "further" for tool in self.agreement.tools)
            and not any(problem.level == "warning" for problem in self.problems)
            and self.goes_together
        )


def reconcile(build: Build) -> Reconciliation:
    """Return all findings of a build. Raises BuildError, with every error, when it can't be read."""
    assembly, state = settle(assemble(build.plan), build.log, build.plan.tools())
    errors = [problem for problem in state.problems if problem.level == "error"]
    if errors:
        raise BuildError(errors)
    return findings_of(assembly, state, build.notices)


def findings_of(assembly: Assembly, state: State, notices: tuple[Problem, ...] = ()) -> Reconciliation:
    """Return all findings of a plan worked out and of what its history leaves true."""
    graph = make_graph(assembly, state)
    return Reconciliation(solved(assembly, state, graph, solve_network(graph.network)), notices)
