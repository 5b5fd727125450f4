"""Asking for readings at the bench, one after another, and asking back before a strange one is kept.

Each prompt names the next reading wanted, its plan and the tool in hand. What is typed may come from
a digital caliper: a number and Enter, without a unit, perhaps with a decimal comma or a space
before it, perhaps the same number sent twice. No solution is computed between two readings.

    number   kept               Enter   skipped
    -        the last one taken back     +   the last one once more, a repeat
    number + kept, and the same once more
    a tool's name changes the tool, behind a number for that one     ?   what can be typed     .   stop

A number whose tool is not known waits for it: Enter then takes the one that is offered.
"""

from __future__ import annotations

import time
from importlib import import_module

from fitsolve.build.logtext import Row
from fitsolve.build.tools import find_tool, reaches
from fitsolve.cli.bench import Bench, Writing, Written
from fitsolve.cli.common import finish, say, show_problems, warn
from fitsolve.cli.questions import agreed, answer, listening, typed_ahead, typed_line
from fitsolve.errors import BuildError, Place, Problem
from fitsolve.findings.slips import slips, worth_asking
from fitsolve.findings.tags import OF_LENGTHS, Tagged
from fitsolve.lengths import LengthError
from fitsolve.light import pattern

SENT_TWICE_S = 0.8
"""The same number again within this is a caliper that sent it twice: no hand sets jaws that fast."""

_COMMA = pattern(r"\s*(\d+),(\d+)\s*")
_PLUS = pattern(r"\+\s*(?=[\d.,])")
"""The sign that some calipers send before their number."""
_WORDS = {"stop": ".", "quit": ".", "exit": ".", "skip": "", "undo": "-", "again": "+", "help": "?"}
"""What somebody may type who does not know the keys."""
_BARE = pattern(r"\s*(?:\d+(?:\.\d*)?|\.\d+)\s*")
_KEYS = (
    "A number and Enter keeps; Enter skips; - takes the last one back; + asks for it once more; . stops; "
    "a tool's name changes the tool; ? shows this."
)


def _say_keys(lead: str = "") -> None:
    """What can be typed, in lines that the terminal has room for."""
    import shutil
    import textwrap

    room = max(shutil.get_terminal_size().columns, 24)
    say(textwrap.fill(f"{lead}{_KEYS}", room, break_long_words=False, break_on_hyphens=False))


# -- strange readings --------------------------------------------------------------------


def off_plan_mm(bench: Bench, start: str, end: str, reading_mm: float) -> float | None:
    """How far a reading is off the plan distance; None where the plan ties the two in no way."""
    assembly = bench.assembly
    if start not in assembly.index or end not in assembly.index:
        return None
    a, b = assembly.index[start], assembly.index[end]
    if assembly.placed[a] != assembly.placed[b] or assembly.marks[a].axis != assembly.marks[b].axis:
        return None
    return reading_mm - abs(assembly.marks[b].plan_mm - assembly.marks[a].plan_mm)


def _points_mm(bench: Bench, row: Row) -> tuple[float, float] | None:
    """How far apart the two points of a diagonal are in the plan, and what play open joints leave them; None where
    the plan does not tie them."""
    from fitsolve.build.points import NoPoint, planned_apart, read_point
    from fitsolve.findings.play import play_mm

    try:
        first, second = (read_point(bench.names.lookup, cell, 0) for cell in (row.start, row.end))
    except NoPoint:
        return None
    if first.keys() != second.keys():
        return None
    ends = [(first[axis], second[axis]) for axis in first]
    apart = planned_apart(bench.assembly, ends)
    return None if apart is None else (apart, sum(play_mm(bench.assembly, pair) for pair in ends))


def strange(bench: Bench, row: Row) -> str:
    """What is strange about a reading, and the slip it looks like; empty where nothing is."""
    try:
        reading_mm = bench.length_mm(row.reading)
    except LengthError:
        return ""
    if row.event == "compare":
        return _strange_comparison(bench, row, reading_mm)
    points = _points_mm(bench, row) if row.event == "diagonal" else None
    off = off_plan_mm(bench, row.start, row.end, reading_mm) if row.event in ("reading", "rough") else None
    if points is not None:
        off = reading_mm - points[0]
    tool = find_tool(row.tool, bench.tools)
    if off is None or tool is None or (row.event == "rough" and off > 0):
        return ""  # rough wood may be longer by anything
    workmanship = bench.assembly.workmanship_mm
    if not worth_asking(off, tool.u_mm(reading_mm), workmanship):
        return ""
    from fitsolve.findings.play import play_mm

    marks = [] if points else [bench.assembly.index[name] for name in (row.start, row.end)]
    play = points[1] if points else play_mm(bench.assembly, marks)
    if not worth_asking(off, tool.u_mm(reading_mm), workmanship, play):
        return ""
    from fitsolve.report.measures import Measures, off_plan
    from fitsolve.report.slipwords import slip_text

    measures = Measures.of(bench.assembly)
    looks = slips(reading_mm, reading_mm - off, bench.assembly.unit, float(measures.step_mm), tool.kind, row.reading)
    guess = f" {slip_text(looks[0], measures)}" if looks else ""
    return f"{off_plan(off, bench.assembly.unit)} than plan, far more than cuts here miss by.{guess}"


def _strange_comparison(bench: Bench, row: Row, reading_mm: float) -> str:
    """The same of a comparison: how far its difference is off that of the plan, where that ties both spans."""
    planned = []
    for span in (row.start, row.end):
        first, _, second = span.partition("..")
        off = off_plan_mm(bench, first, second, 0.0)
        if off is None:
            return ""
        planned.append(-off)
    tool, more = find_tool(row.tool, bench.tools), planned[0] - planned[1]
    workmanship = bench.assembly.workmanship_mm
    if tool is None or not worth_asking(reading_mm - more, tool.u_mm(reading_mm), workmanship * 2**0.5):
        return ""
    from fitsolve.report.measures import off_plan

    other_way = not worth_asking(reading_mm + more, tool.u_mm(reading_mm), workmanship * 2**0.5)
    guess = " Were the two taken the other way round?" if other_way else ""
    return f"{off_plan(reading_mm - more, bench.assembly.unit)} than plan, far more than cuts here miss by.{guess}"


def keep_anyway(bench: Bench, row: Row, typed: str = "") -> bool | str:
    """Ask before a strange reading is kept; where nobody can be asked it is kept, and the warning given.

    Another number typed at the question comes back, where this one came as the number `typed`.
    """
    from fitsolve.cli.odd import odd_fraction

    why = " ".join(filter(None, (strange(bench, row), odd_fraction(row.reading))))
    return _anyway(bench, row, why, typed)


def _anyway(bench: Bench, row: Row, why: str, typed: str = "") -> bool | str:
    if not why:
        return True
    from fitsolve.report.naming import span_named

    return _said_anyway(bench, f"{span_named(bench.assembly, row.start, row.end)}, {row.reading}: {why}", typed)


def _said_anyway(bench: Bench, what: str, typed: str = "") -> bool | str:
    if listening():
        say(what)
        return answer("Keep it?", instead_of=typed)
    problem = Problem(Place(), what, "Kept. Wrong? fitsolve undo", level="warning")
    bench.said.append(problem)
    return True


def strange_cut(bench: Bench, row: Row) -> str:
    """What is strange about a size that a mark is said to be cut to; empty where nothing is.

    It is held against the plan, and where it is far off that against what was advised.
    """
    try:
        size_mm = bench.length_mm(row.reading)
    except LengthError:
        return ""
    off, workmanship = off_plan_mm(bench, row.start, row.end, size_mm), bench.assembly.workmanship_mm
    if off is None or not worth_asking(off, 0.0, workmanship):
        return ""
    from fitsolve.cli.advised import advised_cuts
    from fitsolve.report.measures import Measures, off_plan
    from fitsolve.report.naming import inside
    from fitsolve.report.oddwords import meant_from_text
    from fitsolve.report.slipwords import slip_text

    meant_mm, meant = size_mm - off, "plan"
    try:
        advised = advised_cuts(bench, [bench.assembly.index[row.start]]).values()
    except BuildError:
        advised = {}.values()
    for cut in advised:
        if not cut.planned and bench.assembly.marks[cut.reference].name == row.end:
            meant_mm, meant = cut.size_mm, "advised"
    if not worth_asking(size_mm - meant_mm, 0.0, workmanship):
        return ""
    measures = Measures.of(bench.assembly)
    looks = slips(size_mm, meant_mm, bench.assembly.unit, float(measures.step_mm), "rule", row.reading)
    meant_from = meant_from_text(bench.assembly, row.end, row.start, size_mm)
    guess = f" {meant_from or (slip_text(looks[0], measures) if looks else '')}".rstrip()
    if row.event == "trim" and size_mm < meant_mm / 2:
        start = inside(bench.assembly.marks[bench.assembly.index[row.end]])
        guess = f" SIZE is what is left from {start}, not what came off."
    return f"{off_plan(size_mm - meant_mm, bench.assembly.unit)} than {meant}, far more than cuts here miss by.{guess}"


def cut_anyway(bench: Bench, row: Row) -> bool:
    """Ask before a strange size is written down; where nobody can be asked it is, and the warning given."""
    return bool(_anyway(bench, row, strange_cut(bench, row)))


def wider_anyway(bench: Bench, name: str, other: str, wider: str) -> bool:
    """The same for how much wider something is cut than what it was knifed off: a fit, not a width."""
    try:
        wider_mm = bench.length_mm(wider or "0")
    except LengthError:
        return True
    if not worth_asking(wider_mm, 0.0, bench.assembly.workmanship_mm):
        return True
    meant = "SIZE is the play it was given, the shim beside it, not how wide it is."
    return bool(_said_anyway(bench, f"{name}, {wider} of play on {other}, far more than any fit. {meant}"))


# -- one after another --------------------------------------------------------------------


class _Asking:
    """A conversation: what is wanted, the tool in hand, and the rows written so far."""

    def __init__(
        self, bench: Bench, writing: Writing, listed: tuple[Tagged, ...], tool: str | None
    ) -> None:
        self.bench = bench
        self.writing = writing
        self.listed = listed
        self.tool = bench.names.tool(tool) if tool is not None else bench.last_tool()
        self.written: list[tuple[int, int]] = []  # place in the list, number of the row
        self.as_mm: dict[str, bool] = {}
        self.last = ("", 0.0)
        self.untooled = ""  # a number that waits for the name of its tool
        # a tool that hardly spans what is asked for is believed where it was named for just that
        self.long = self.tool if tool is not None and not listed[0].tag else ""
        self.status = 0

    def run(self) -> None:
        place = 0
        while 0 <= place < len(self.listed):
            ahead = bool(self.last[0] or self.untooled) and typed_ahead()
            line = typed_line(self._prompt(self.listed[place]))
            line = line if line is None else _WORDS.get(line.strip().lower(), line)
            if line is None or line.strip() == ".":
                return
            if line.strip() or not ahead:  # a second line end that came with a number is no Enter
                place = self._answered(place, line)
        if self.listed[-1].tag:
            say("That was all that is wanted.")

    def _prompt(self, one: Tagged) -> str:
        from fitsolve.report.naming import asked
        from fitsolve.report.reading_list import plan_words

        name, other = asked(self.bench.assembly, one), self._suited(one)
        tool = f"{self.tool}? {other}" if self._too_short(one) else self.tool or f"which tool? {other}"
        return f"{name}  {plan_words(self.bench.assembly, one)}  [{tool}]: "

    def _suited(self, one: Tagged) -> str:
        """The tool that suits what is asked for."""
        from fitsolve.report.reading_list import tool_for

        return tool_for(one.plan_mm, self.bench.tools)

    def _answered(self, place: int, line: str) -> int:
        """What becomes of a line; the place in the list to go on at."""
        text = _PLUS.sub("", line.strip(), count=1) if _PLUS.match(line.strip()) else line.strip()
        if not text and self.untooled and listening():
            return self._change_tool(place, self._suited(self.listed[place]))
        if not text or text in ("-", "+"):
            self.let_go()
        if not text:
            return place + 1
        if text == "?":
            _say_keys()
        elif text == "-":
            return self._take_back(place)
        elif text == "+":
            return self._once_more(place)
        elif text[0].isalpha() and text not in ("in", "mm"):
            return self._change_tool(place, text)
        elif self._kept(place, text.removesuffix("+").rstrip()):
            return place if text.endswith("+") else place + 1
        return place

    def _kept(self, place: int, text: str) -> bool:
        """Keep a reading; the name of a tool behind it counts for this one."""
        words = text.split()
        if len(words) < 2 or not words[-1][0].isalpha() or words[-1].lower() in OF_LENGTHS:
            return self._keep(place, text)
        try:
            tool = self.bench.names.tool(words[-1])
        except BuildError as error:
            show_problems(error.problems)
            return False
        before, long = self.tool, self.long
        self.tool = self.long = tool
        kept = self._keep(place, " ".join(words[:-1]))
        self.tool, self.long = before or tool, long
        return kept

    def let_go(self) -> None:
        """Say of a number whose tool was never named that it is not kept."""
        if self.untooled:
            say(f"{self.untooled} is not kept: its tool was not named")
            self.untooled, self.status = "", max(self.status, 1)

    def _change_tool(self, place: int, text: str) -> int:
        try:
            self.tool = self.bench.names.tool(text)
        except BuildError as error:
            show_problems(error.problems)
            return place
        if not self._reaches(self.listed[place]):
            self.long = self.tool
        waiting, self.untooled = self.untooled, ""
        return place + 1 if waiting and self._keep(place, waiting) else place

    def _too_short(self, one: Tagged) -> bool:
        """Whether the tool in hand hardly spans what is asked for, and was not named for that."""
        return bool(self.tool) and self.tool != self.long and not self._reaches(one)

    def _reaches(self, one: Tagged) -> bool:
        return reaches(find_tool(self.tool, self.bench.tools), one.plan_mm or 0.0)

    def _take_back(self, place: int) -> int:
        if not self.written:
            say("nothing was kept yet that could be taken back")
            return place
        from fitsolve.cli.change import TAKEN_BACK

        place, number = self.written.pop()
        written = self.writing.row(Row(event="strike", start=str(number), note=TAKEN_BACK))
        say(f"#{written.row.no} struck #{number}")
        self.last = ("", 0.0)
        return place

    def _once_more(self, place: int) -> int:
        """Back to the last one kept, which stays: the next number is a repeat of it."""
        if not self.written:
            say("nothing was kept yet that could be read once more")
            return place
        self.last = ("", 0.0)
        return self.written[-1][0]

    def _keep(self, place: int, text: str) -> bool:
        if self._sent_twice(text):
            say("the same number again at once: taken for one sent twice, not kept. Type it again to keep it.")
            return False
        comma = _COMMA.fullmatch(text)
        if comma:
            text = f"{comma[1]}.{comma[2]}"
        if not self.tool or self._too_short(self.listed[place]):
            self.let_go()
            self.untooled, self.last = text, ("", 0.0)
            name = self._suited(self.listed[place])
            say(f"Which tool was it? Enter for {name}, or type its name: {text} waits for it.")
            return False
        one = self.listed[place]
        start, end = one.ends(self.bench.assembly)
        text = self._in_its_unit(one, text)
        row = Row(event=one.event, start=start, end=end, reading=text, tool=self.tool)
        return self._written(place, row)

    def _written(self, place: int, row: Row) -> bool:
        from fitsolve.cli.reading import full_echo

        try:
            self.bench.length_mm(row.reading)
            kept = keep_anyway(self.bench, row, self.last[0])
            if isinstance(kept, str):
                return self._keep(place, kept)
            if not kept:
                say("not kept")
                return False
            written: Written = self.writing.row(row)
        except LengthError as error:
            show_problems([error.problem(Place())])
            return False
        except BuildError as error:
            show_problems(error.problems)
            return False
        say(full_echo(written, self.bench))
        self.status = max(self.status, show_problems([*self.bench.said, *written.problems]))
        self.bench.said.clear()
        self.written.append((place, written.row.no))
        return True

    def _sent_twice(self, text: str) -> bool:
        """Whether a caliper has sent this number twice; only somebody at a keyboard has one."""
        before, at = self.last
        now = time.monotonic()
        sent = _BARE.fullmatch(text) or _COMMA.fullmatch(text)
        twice = listening() and bool(sent) and text == before and now - at < SENT_TWICE_S
        self.last = ("", 0.0) if twice else (text, now)
        return twice

    def _in_its_unit(self, one: Tagged, text: str) -> str:
        """The reading with its unit, where a bare number fits the plan in the other unit only."""
        unit = self.bench.assembly.unit
        if not _BARE.fullmatch(text) or one.plan_mm is None:
            return text
        number, other = float(text), "mm" if unit == "in" else "in"
        own_mm, other_mm = (number * 25.4, number) if unit == "in" else (number, number * 25.4)
        near = max(0.05 * one.plan_mm, 1.0)
        fits_own, fits_other = abs(own_mm - one.plan_mm) <= near, abs(other_mm - one.plan_mm) <= near
        if fits_own or not (fits_other or self._known_set_to(other)):
            return text
        if self._set_to(other, text):
            return f"{text.strip()} {other}"
        return text

    def _known_set_to(self, other: str) -> bool:
        """Whether the tool in hand is known to be set to the other unit today: then a slip is one in that unit."""
        return self.as_mm.get(self.tool, False) or _said_today(self.bench, self.tool, other)

    def _set_to(self, other: str, text: str) -> bool:
        """Whether the tool in hand is set to the other unit today: as the log of the day says, or as asked."""
        if self.tool not in self.as_mm:
            said = _said_today(self.bench, self.tool, other)
            self.as_mm[self.tool] = said or agreed(
                f"{text.strip()} fits the plan in {other} only: is the {self.tool} set to {other} today?"
            )
        return self.as_mm[self.tool]


def _said_today(bench: Bench, tool: str, unit: str) -> bool:
    """Whether a reading of today by that tool was entered in that unit."""
    from fitsolve.build.shoplog import now

    today = now()[:10]
    return any(
        row.tool == tool and row.time[:10] == today and row.reading.endswith(unit) for row in bench.log.rows
    )


def ask(bench: Bench, part: str, tool: str | None) -> None:
    """Ask for what is wanted, of one part or of all, until it is read or the maker stops."""
    from fitsolve.cli.paper import begun_now, wanted_now

    listed = wanted_now(bench, part)
    if not listed:
        say(f"{f'{part}: ' if part else ''}no reading is wanted: what is made is read.")
        if begun := begun_now(*bench.settled, [] if part else bench.assembly.parts):
            from fitsolve.report.reading_list import begun_text

            say(begun_text(begun))
        elif not part:
            say("Something else made? fitsolve read PART asks for all that is to be read of it.")
        return
    ask_for(bench, listed, tool)


def ask_for(bench: Bench, listed: tuple[Tagged, ...], tool: str | None) -> None:
    """Ask for the readings of a list, one after another."""
    _say_keys(f"{len(listed)} wanted. " if listed[0].tag else "")
    for needed in ("fitsolve.cli.reading", "fitsolve.report.measures", "fitsolve.report.slipwords"):
        import_module(needed)  # now, and not behind the first reading
    with Writing(bench) as writing:
        writing.get_ready()
        asking = _Asking(bench, writing, listed, tool)
        try:
            asking.run()
        except KeyboardInterrupt:
            warn("\nstopped; all that was echoed is kept")
        asking.let_go()
    kept = len(asking.written)
    say(f"{kept} kept." + (" fitsolve sizes: what to cut now." if kept else ""))
    finish(asking.status)


