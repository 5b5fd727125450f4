"""Findings: what a reconciliation comes to, as plain values in millimetres.

Frozen, without methods that compute: `reconcile` fills them, `report` puts them in words. An
uncertainty is expanded (k = 2) and says so. None stands where nothing fixes a number.
"""

from __future__ import annotations

from typing import Literal

from fitsolve.light import dataclass

FitVerdict = Literal["fits", "tight", "loose", "proud", "open", "can't tell"]
SeatVerdict = Literal["goes on", "jams", "can't tell"]
CheckVerdict = Literal["within", "beyond", "can't tell"]
DistanceState = Literal["made", "rough", "uncut"]


ALIKE = 9
"""What is alike to so many decimals stands in the order of the plan and the log: not as rounding has it, which
differs from one machine to the next."""


@dataclass(frozen=True, slots=True)
class DistanceFinding:
    """One plan distance: what it is, or what to cut it to. `number` is its place in the assembly's
    distances."""

    number: int
    part: str
    axis: str
    start: str
    end: str
    plan_mm: float
    size_mm: float | None
    advice_expanded_mm: float | None
    outcome_expanded_mm: float | None
    state: DistanceState


@dataclass(frozen=True, slots=True)
class Slant:
    """What the clearance of a slanted housing is worth along the run of its slope.

    `angle` is the slope as written, `axis` that of its run, `run_per_width` the run for a width of
    1. `travel_mm` is how far the piece goes on until it is tight; negative, how far it stands off.
    `shoulder` is the butt it stands off from, by its number, None where the joint has none along the
    run. `left_mm` is what is left of the joint's room along the run when the piece is tight.
    """

    angle: str
    axis: str
    run_per_width: float
    travel_mm: float | None
    expanded_mm: float | None
    shoulder: int | None = None
    left_mm: float | None = None
    left_expanded_mm: float | None = None

    @property
    def stand_off_mm(self) -> float | None:
        """How far it stands off, never negative."""
        return None if self.travel_mm is None else max(0.0, -self.travel_mm)


@dataclass(frozen=True, slots=True)
class ContactFinding:
    """One contact of a joint. For a butt or a room, clearance is its gap. `unread` are pairs of marks to be read
    before anything is done about a fault: what says so was never read."""

    number: int
    kind: str
    axis: str
    clearance_mm: float | None
    expanded_mm: float | None
    least_mm: float
    aim_mm: float
    most_mm: float
    chance: float | None
    verdict: FitVerdict
    slant: Slant | None = None
    unread: tuple[tuple[int, int], ...] = ()


PegVerdict = Literal["draws", "does not draw", "draws too much", "can't tell"]


@dataclass(frozen=True, slots=True)
class PegFinding:
    """One peg. `layout`, `gap`, `offset` are a value and its U (k = 2), mm, or None: how far the
    tenon's hole lies from the shoulder, what the shoulder was read to stand off, how far the tenon's
    hole lies nearer to the shoulder than the mortise's in the finished piece. `bored` where the
    tenon's hole is there; `read` where readings settle where the mortise's lies; `shut` where it is not bored, and
    can't be any more, for its joint is closed for good."""

    joint: str
    hole: str
    tenon_hole: str
    shoulder: str
    face: str
    diameter_mm: float
    draw_mm: float
    layout: tuple[float, float] | None
    gap: tuple[float, float] | None
    offset: tuple[float, float] | None
    most_mm: float
    chance: float | None
    verdict: PegVerdict
    bored: bool
    read: bool
    shut: bool = False


@dataclass(frozen=True, slots=True)
class JointFinding:
    """One joint: its contacts, and a verdict never better than the seat of its parts."""

    number: int
    name: str
    parts: tuple[str, ...]
    contacts: tuple[ContactFinding, ...]
    verdict: FitVerdict
    closed: bool


@dataclass(frozen=True, slots=True)
class SeatFinding:
    """Whether a part goes on all its open joints at once, and the chance of it.

    `as_planned_mm` is the play left over if every uncut mark were cut to plan instead, negative
    when the part would jam by so much; None where nothing of its joints is still to be cut or bounds it.
    """

    part: str
    chance: float | None
    verdict: SeatVerdict
    joints: tuple[str, ...]
    as_planned_mm: float | None = None


@dataclass(frozen=True, slots=True)
class MissingReading:
    """A reading that was never taken: its event and what stands in from and to of its row."""

    event: str
    start: str
    end: str


@dataclass(frozen=True, slots=True)
class CheckFinding:
    """One check of the frame: its value (signed where it is a difference) and tolerance. `missing` are
    the readings without which it has no value, where it is all made."""

    number: int
    name: str
    kind: str
    value_mm: float | None
    expanded_mm: float | None
    within_mm: float
    chance: float | None
    verdict: CheckVerdict
    missing: tuple[MissingReading, ...] = ()


@dataclass(frozen=True, slots=True)
class Doubt:
    """One reading held against all others. `residual_mm` is adjusted less observed; `would_be_mm`
    is what it would have to read for the others to agree, None where nothing checks it.

    `smallest_error_mm` is the smallest error that would be found with a chance of 0.80, None where
    none would be. `off_plan_mm` is by how much the reading is more than plan, None where the plan
    says nothing of it."""

    row: int
    start: str
    end: str
    tool: str
    reading_mm: float
    residual_mm: float
    standardised: float | None
    redundancy: float
    suspect: bool
    would_be_mm: float | None
    smallest_error_mm: float | None = None
    off_plan_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Bent:
    """A reading at stations, `row` of the log, that is `off_mm` more than goes with what else is read of their plain
    marks, which are `plain_mm` apart, with U (k = 2). `again` where it was read again alike: then it is the shape of
    the wood. Else `moved` are the parts still to be cut whose sizes the plain marks would move. `judged` are the open
    joints and checks that are judged at the plain marks."""

    row: int
    start: str
    end: str
    tool: str
    reading_mm: float
    plain_start: str
    plain_end: str
    plain_mm: float
    expanded_mm: float
    off_mm: float
    again: bool
    moved: tuple[str, ...]
    judged: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Suspect:
    """Something that stands out. `kind` is "reading" or "cut", a size said of one (`number` is its row in the log),
    "contact" (a closed one: it may stand off) or "tool"; `error_mm` is what it holds beyond what the others say."""

    kind: str
    number: int
    standardised: float
    error_mm: float


@dataclass(frozen=True, slots=True)
class Suspicion:
    """Readings and closed contacts that do not agree: `worst` explains it best, `equals` as well,
    `because` stand out only because of it. `after` are those left out before it was found.

    Leaving `worst` out, `others` rows are left; `rest_agrees` says whether those agree, `rest_chance` with
    what chance of scattering so far or further. `by_plan`: of several that explain it alike, the plan speaks
    against `worst`: it alone is far off plan, and would not be. It is left out for the question only: it counts
    all the same.
    """

    worst: Suspect
    equals: tuple[Suspect, ...]
    because: tuple[Suspect, ...]
    after: tuple[Suspect, ...]
    others: int
    rest_agrees: bool
    rest_chance: float
    by_plan: bool = False


@dataclass(frozen=True, slots=True)
class ToolError:
    """What all readings of a tool are off together: its "zero", mm more than is there, or its
    "scale", mm more in a metre. `given_expanded` is what the plan gives it; `told` says that the
    readings can tell."""

    tool: str
    term: Literal["zero", "scale"]
    error: float
    expanded: float
    given_expanded: float
    told: bool


@dataclass(frozen=True, slots=True)
class ToolScatter:
    """How far the readings of a tool scatter beside what it is said to be good to: `factor` times
    as far; `chance` is that of scattering so far or further if what is said is true. `factor_most` is the most it
    may be where they are read no finer than they are written."""

    tool: str
    readings: int
    freedom: float
    factor: float
    chance: float
    verdict: Literal["as stated", "further", "less"]
    factor_most: float


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether readings and closed contacts agree as well as their uncertainties say: chi-square over
    all, with its degrees of freedom, and the chance of a value as large or larger."""

    chi_square: float
    freedom: int
    chance: float
    agrees: bool
    tools: tuple[ToolScatter, ...] = ()


@dataclass(frozen=True, slots=True)
class Demand:
    """One of the things that cannot all be had: a hold, a limit, a fit, wood that is gone. `kind`
    and `number` say where in the assembly it stands; `side` is -1 for its least, +1 for its most,
    0 for a hold; `missed_mm` is by how much the compromise misses it (0 where it is kept). `share` is 1 where
    facts are no longer at odds once this one gains all their excess, less where it takes more, 0 where that is not
    known."""

    kind: str
    number: int
    part: int
    side: int
    missed_mm: float
    share: float = 0.0


@dataclass(frozen=True, slots=True)
class ContradictionFinding:
    """Demands that cannot all be met, and none could be left out; `facts` where only made wood
    is at odds. `rows` are the readings it rests on. `excess_mm` is by how much facts are at odds: what would have to
    come off where all of them bear; None for what the maker asks, of which each demand says what it misses."""

    demands: tuple[Demand, ...]
    rows: tuple[int, ...]
    facts: bool
    excess_mm: float | None = None

    @property
    def amount_mm(self) -> float:
        """By how much it cannot be: of what the maker asks, all that the compromise misses together."""
        return sum(abs(one.missed_mm) for one in self.demands) if self.excess_mm is None else self.excess_mm


@dataclass(frozen=True, slots=True)
class Following:
    """Contradictions that vanish once what is doubted is left out, by their places; `suspects` are the places of
    that among all things to be settled first: one, or all of them where only all together do it."""

    suspects: tuple[int, ...]
    contradictions: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Assumption:
    """A distance of made wood that was never read: it is taken at plan, or at what it was cut to."""

    number: int
    part: str
    axis: str
    start: str
    end: str
    size_mm: float
    expanded_mm: float


@dataclass(frozen=True, slots=True)
class Between:
    """How far apart two marks are, with U (k = 2); None where nothing fixes it. `first` is the one that lies
    further left, in front or down; None where they lie in one place, or nothing fixes where."""

    distance_mm: float | None
    expanded_mm: float | None
    state: DistanceState
    first: str | None = None
