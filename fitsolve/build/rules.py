"""Rules: keeps and checks, one for each copy that a `*` stands for, with every name found.

`*` stands for one copy of a part. All stars of one part mean the same copy, stars of different
parts mean every pair. Where that would compare a thing with itself (`leg.*.head flush with
leg.*.head`) it means every pair of different copies, once; beside a copy named in full, that
copy is left out.

A rule that stands for one thing is named by its key; else by its key and the parts in it.

Not here: signs of spans (place).
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations, product
from typing import TYPE_CHECKING, Literal

from fitsolve.build.assembly import AXES, RuleKind
from fitsolve.build.language import Misread, Name, gathered
from fitsolve.build.locate import Spot
from fitsolve.build.sentences import RuleText, SpanText, read_rule
from fitsolve.build.stock import Stock, nameless
from fitsolve.errors import Problem
from fitsolve.light import dataclass

if TYPE_CHECKING:
    from fitsolve.build.framing import FrameDraft
    from fitsolve.build.plan import Plan

_RULES_MOST = 200_000
Chosen = dict[str, tuple[str, str]]
"""For each part with a star, the copy it stands for; the second copy is for the other of a pair."""


@dataclass(slots=True)
class RuleDraft:
    """A keep or check on its way: spans as pairs of marks."""

    name: str
    kind: RuleKind
    spans: list[tuple[int, int]]
    text: RuleText
    length: Fraction | None
    spot: Spot
    frame: FrameDraft | None = None


def read_rules(plan: Plan, stock: Stock, kind: Literal["keep", "check"], problems: list[Problem]) -> list[RuleDraft]:
    """Return the keeps or checks of a plan; what is wrong is added to `problems`."""
    from fitsolve.build.inline import line_drafts, read_in_line

    drafts: list[RuleDraft] = []
    table = plan.keep if kind == "keep" else plan.check
    for key, texts in table.items():
        found: list[RuleDraft] = []
        lines: list[RuleDraft] = []
        if not key.strip():
            problems.append(Problem(plan.source.key_place((kind, key)), *nameless(kind)))
        if not texts:
            what, hint = f"this {kind} has no sentence", f'As in: {key or "NAME"} = "A..B = C..D"'
            problems.append(plan.source.spot((kind, key), "").problem(what, hint))
        for k, text in enumerate(texts):
            spot = plan.source.spot((kind, key, k), text)
            try:
                line = read_in_line(text, plan.unit) if kind == "check" else None
                name = key if len(texts) == 1 else f"{key} {k + 1}"
                if line is not None:
                    lines += line_drafts(stock, name, line, spot)
                    continue
                if kind == "check" and ".." not in text and " flush with " not in text:  # no check of the frame has
                    from fitsolve.build.framing import frame_drafts, read_framed

                    framed = read_framed(text, plan.unit, key)
                    if framed is not None:
                        lines += frame_drafts(stock, name, framed, spot)
                        continue
                rule = read_rule(text, plan.unit, kind)
                if kind == "keep" and plan.give is None and rule.give is None and rule.limits is None:
                    hint = "Write , give L (soft) or , by L to L (hard), or a give for the whole plan."
                    raise Misread("nothing says how much this may give", len(text.rstrip()), 1, hint)
                found += _Expansion(stock, rule, spot).drafts()
            except Misread as misread:
                problems += [spot.problem(one.what, one.hint, one.column, one.width) for one in misread.all()]
        if kind == "keep":
            found = _each_once(found, drafts, problems)
        _name(key, found, stock)
        drafts += found + lines
    return drafts


def _each_once(found: list[RuleDraft], before: list[RuleDraft], problems: list[Problem]) -> list[RuleDraft]:
    """The keeps that do not stand in the plan already: said twice, one would weigh double."""
    known = {_wished(draft): draft for draft in before}
    once = []
    for draft in found:
        first = known.setdefault(_wished(draft), draft)
        if first is draft:
            once.append(draft)
        elif first.spot.path != draft.spot.path:
            what = f"this keep stands in the plan already ({first.spot.where()}): it counts once"
            text = draft.spot.text
            problems.append(draft.spot.problem(what, "Are other marks meant?", 0, len(text), "warning"))
    return once


def _wished(draft: RuleDraft) -> object:
    spans = frozenset(frozenset(span) for span in draft.spans)
    return draft.kind, spans, draft.length, draft.text.give, draft.text.limits


def _name(key: str, drafts: list[RuleDraft], stock: Stock) -> None:
    """Name the rules of one key: by the key alone where there is only one."""
    taken: dict[str, int] = {}
    for draft in drafts:
        name = key
        if len(drafts) > 1:
            marks = [mark for span in draft.spans for mark in span]
            parts = dict.fromkeys(stock.parts[stock.part[mark]] for mark in marks)
            name = " ".join((key, *parts))
        taken[name] = taken.get(name, 0) + 1
        draft.name = name if taken[name] == 1 else f"{name} ({taken[name]})"


def star_block(stock: Stock, name: Name) -> str:
    """Return the part whose copies the star of a name stands for. Raises Misread where it stands for none."""
    words = name.text.partition("@")[0].split(".")
    if words[0] not in stock.copies:
        raise stock.unknown(name, name.text)
    if words.count("*") != 1 or len(words) < 3 or words[1] != "*" or "*" in name.text.partition("@")[2]:
        hint = f"As in {words[0]}.*.MARK."
        raise Misread("a star stands for the copy of a part, and for nothing else", name.column, name.width, hint)
    if stock.copies[words[0]] == [""]:
        what = f"{words[0]} has no copies a star could stand for"
        hint = f"Write {words[0]}.{'.'.join(words[2:])}."
        silent = words[0] in stock.damaged
        raise Misread(what, name.column, name.width, hint, silent=silent)
    return words[0]


class _Itself(Misread):
    """A thing compared with itself, which says nothing: `leg.*.head flush with leg.fl.head` for fl."""


class _Expansion:
    """One sentence and all the copies its stars stand for."""

    def __init__(self, stock: Stock, rule: RuleText, spot: Spot) -> None:
        self.stock, self.rule, self.spot = stock, rule, spot
        self.starred: dict[str, Name] = {}
        for span in rule.spans:
            for name in (span.start, span.end):
                if "*" in name.text:
                    self.starred.setdefault(self.block(name), name)
        self.paired = self.pairs()

    def drafts(self) -> list[RuleDraft]:
        drafts: list[RuleDraft] = []
        itself: _Itself | None = None
        for chosen in self.choices():
            try:
                drafts.append(self.draft(chosen))
            except _Itself as misread:
                itself = misread
        if itself is not None and not drafts:
            raise itself
        if not drafts:
            block = next(iter(self.paired))
            name = self.starred[block]
            what = f"this needs two copies of {block}, and there is one"
            raise Misread(what, name.column, name.width)
        return drafts

    def block(self, name: Name) -> str:
        return star_block(self.stock, name)

    # -- which copies ------------------------------------------------------------------------

    def pairs(self) -> set[str]:
        """The parts of which two different copies are meant, since one with itself says nothing."""
        spans = self.rule.spans
        halves: list[tuple[set[str], set[str]]] = []
        for span in spans:
            if "*" in span.start.text and span.start.text == span.end.text:
                halves.append((self.blocks(span.start), self.blocks(span.end)))
        texts = [(span.start.text, span.end.text) for span in spans]
        if len(spans) == 2 and texts[0] == texts[1] and not halves:
            names = (spans[0].start, spans[0].end)
            blocks = set().union(*(self.blocks(name) for name in names))
            if blocks:
                halves.append((blocks, blocks))
        return set().union(*(first for first, _ in halves)) if halves else set()

    def blocks(self, name: Name) -> set[str]:
        return {name.text.partition(".")[0]} if "*" in name.text else set()

    def choices(self) -> Iterator[Chosen]:
        """Every way to choose copies."""
        ways: list[list[tuple[str, str]]] = []
        count = 1
        for block in self.starred:
            copies = self.stock.copies[block]
            count *= len(copies) * (len(copies) - 1) // 2 if block in self.paired else len(copies)
            if count > _RULES_MOST:
                name = self.starred[block]
                what = f"these stars stand for more than {_RULES_MOST} rules"
                raise Misread(what, name.column, name.width, "Name some of the copies.")
            ways.append(list(combinations(copies, 2)) if block in self.paired else [(copy, copy) for copy in copies])
        for chosen in product(*ways):
            yield dict(zip(self.starred, chosen, strict=True))

    def filled(self, name: Name, chosen: Chosen, second: bool) -> Name:
        """A name with its copy in place of the star."""
        if "*" not in name.text:
            return name
        block, _, rest = name.text.partition(".*.")
        return Name(f"{block}.{chosen[block][second]}.{rest}", name.column)

    # -- marks ---------------------------------------------------------------------------------

    def draft(self, chosen: Chosen) -> RuleDraft:
        spans: list[tuple[int, int]] = []
        stock = self.stock
        wrong: list[Misread] = []
        for k, span in enumerate(self.rule.spans):
            try:
                spans.append(self.span(k, span, chosen, spans, wrong))
            except _Itself:
                if not wrong:
                    raise
            except Misread as misread:
                wrong.append(misread)
        if wrong:
            raise gathered(wrong)
        across = any(stock.part[start] != stock.part[end] for start, end in spans)
        rule = self.rule
        length = Fraction(0) if rule.flush else rule.length
        kind: RuleKind = "flush" if rule.flush else "length" if len(spans) == 1 else "parallel" if across else "equal"
        return RuleDraft("", kind, spans, rule, length, self.spot)

    def span(
        self, k: int, span: SpanText, chosen: Chosen, before: list[tuple[int, int]], wrong: list[Misread]
    ) -> tuple[int, int]:
        """The marks of the k-th span; one without a part is of the first one's, and waits where that is `wrong`."""
        itself = span.start.text == span.end.text
        later = k > 0 and not itself
        first = self.filled(span.start, chosen, later)
        if wrong and not before and first.text.partition(".")[0] not in self.stock.copies:
            raise Misread("of which part is this?", silent=True)
        start = self.start(first, before)
        end = self.end(span, start, self.filled(span.end, chosen, later or itself))
        if (start, end) in before or (end, start) in before:
            what = "this span is compared with itself"
            raise _Itself(what, span.start.column, span.end.column + span.end.width - span.start.column)
        return start, end

    def start(self, name: Name, before: list[tuple[int, int]]) -> int:
        """The first mark of a span: a whole name, or in a later span a mark of the first span's part."""
        if before:
            mark = self.stock.known(name.text)
            if mark is None and name.text.partition(".")[0] not in self.stock.copies:
                return self.stock.beside(before[0][0], name)
        return self.stock.mark(name)

    def end(self, span: SpanText, start: int, name: Name) -> int:
        """The second mark of a span, beside the first."""
        stock = self.stock
        end = stock.beside(start, name)
        if end == start:
            what = "a span has two different marks"
            raise _Itself(what, span.end.column, span.end.width)
        if stock.axis[start] != stock.axis[end]:
            what = (
                f"{stock.name[start]} lies along {AXES[stock.axis[start]]}, "
                f"{stock.name[end]} along {AXES[stock.axis[end]]}: a span lies along one axis"
            )
            hint = "A diagonal needs marks of two axes, and can't be kept or checked yet."
            raise Misread(what, span.end.column, span.end.width, hint)
        return end
