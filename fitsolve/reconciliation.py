"""Reconcile: the main job, one function.

    build  ->  assembly, state  ->  graph  ->  pieces solved  ->  findings

Plan and history in; out comes, in millimetres and plain values: what is there, what to cut,
whether each joint and each part goes together, how true the frame is, which readings to
doubt, and what cannot all be had. No file is opened and nothing is printed.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import TYPE_CHECKING

from fitsolve.build.assembly import Assembly
from fitsolve.build.folder import Build
from fitsolve.build.place import assemble
from fitsolve.build.state import State, settle
from fitsolve.errors import BuildError, Problem
from fitsolve.findings.checks import check_findings
from fitsolve.findings.contradictions import contradiction_findings
from fitsolve.findings.diagonals import diagonal_problems
from fitsolve.findings.doubts import doubted
from fitsolve.findings.pegs import peg_findings
from fitsolve.findings.sizes import assumptions, between, distance_findings
from fitsolve.findings.solved import Solved, solved
from fitsolve.findings.toolerrors import tool_errors
from fitsolve.findings.values import (
    Agreement,
    Assumption,
    Between,
    CheckFinding,
    ContradictionFinding,
    DistanceFinding,
    Doubt,
    JointFinding,
    PegFinding,
    SeatFinding,
    Suspicion,
    ToolError,
)
from fitsolve.findings.verdicts import joint_findings, seat_findings
from fitsolve.graph import make_graph
from fitsolve.light import dataclass
from fitsolve.solve.pieces import solve_network

if TYPE_CHECKING:
    from fitsolve.findings.lines import LaidOut
    from fitsolve.findings.running import Layout

TURNED_MM = 1e-6
"""Marks that change sides by less than this lie flush."""


@dataclass(frozen=True)
class Reconciliation:
    """Everything found, in millimetres; uncertainties are expanded (k = 2).

    `proven` is false when some answer could not be certified as the best one: its numbers keep
    the limits, but may not be used as exact.
    """

    solved: Solved
    distances: tuple[DistanceFinding, ...]
    joints: tuple[JointFinding, ...]
    seats: tuple[SeatFinding, ...]
    checks: tuple[CheckFinding, ...]
    doubts: tuple[Doubt, ...]
    suspicions: tuple[Suspicion, ...]
    agreement: Agreement
    tools: tuple[ToolError, ...]
    contradictions: tuple[ContradictionFinding, ...]
    assumed: tuple[Assumption, ...]
    problems: tuple[Problem, ...]
    proven: bool
    pegs: tuple[PegFinding, ...] = ()

    @property
    def assembly(self) -> Assembly:
        """The plan worked out."""
        return self.solved.assembly

    @property
    def state(self) -> State:
        """What the history leaves true."""
        return self.solved.state

    @cached_property
    def laid_out(self) -> LaidOut:
        """Where every mark still to be cut is laid out; computed when it is first asked for."""
        from fitsolve.findings.lines import laid_out

        return laid_out(self.solved, self.layouts)

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

    @property
    def turned(self) -> tuple[DistanceFinding, ...]:
        """The distances along a run whose two marks would change sides: no piece can be cut so."""
        return tuple(one for one in self.distances if one.plan_mm > 0.0 and (one.size_mm or 0.0) < -TURNED_MM)

    def between(self, start: str, end: str) -> Between:
        """How far apart two marks are, by whole names; KeyError for a name that is no mark."""
        index = self.assembly.index
        return between(self.solved, index[start], index[end])

    @property
    def all_well(self) -> bool:
        """Whether there is nothing to warn of: what the exit status 0 says."""
        return (
            self.proven
            and not self.contradictions
            and not self.turned
            and not any(doubt.suspect for doubt in self.doubts)
            and not self.suspicions
            and self.agreement.agrees
            and not any(tool.verdict == "further" for tool in self.agreement.tools)
            and not any(problem.level == "warning" for problem in self.problems)
            and all(joint.verdict == "fits" for joint in self.joints if not joint.closed)
            and all(joint.verdict in ("fits", "can't tell") for joint in self.joints if joint.closed)
            and all(seat.verdict == "goes on" for seat in self.seats)
            and all(check.verdict == "within" for check in self.checks)
            and all(peg.verdict in ("draws", "can't tell") for peg in self.pegs)
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
    whole = solved(assembly, state, graph, solve_network(graph.network))
    seated = seat_findings(whole)
    sizes = distance_findings(whole)
    doubtful = doubted(whole)
    return Reconciliation(
        solved=whole,
        distances=sizes,
        joints=joint_findings(whole, seated),
        seats=seated,
        checks=check_findings(whole),
        pegs=peg_findings(whole),
        doubts=doubtful.doubts,
        suspicions=doubtful.suspicions,
        agreement=doubtful.agreement,
        tools=tool_errors(whole),
        contradictions=contradiction_findings(whole),
        assumed=assumptions(whole, sizes),
        problems=(*notices, *assembly.notices, *state.problems, *diagonal_problems(whole)),
        proven=all(piece.allocation.status == "optimal" for piece in whole.pieces),
    )
