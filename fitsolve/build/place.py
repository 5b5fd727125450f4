"""Place: parts put together by their joints, and everything that follows: sides, signs, loops."""

from __future__ import annotations

import difflib
from collections import defaultdict, deque
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from typing import Any

from fitsolve.build.assembly import Assembly, Contact, Distance, Joint, Mark, Rule, Span
from fitsolve.build.draft_language import Misread, Run, read_run
from fitsolve.build.draft_sentences import (
    Named, TableMisread, not_yet, read_contact, read_rule, read_table,
)
from fitsolve.build.plan import Plan, Settings, known_fits
from fitsolve.errors import BuildError, Place, Problem

HANDS = {"as drawn": "", "left for right": "x", "front for rear": "y", "top for bottom": "z", "both": "xy"}


class _Work:
    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.settings = Settings.of(plan)
        self.problems: list[Problem] = list(self.settings.problems)
        self.parts: list[str] = []
        self.block_of: dict[str, str] = {}
        self.marks: list[dict[str, Any]] = []
        self.index: dict[str, int] = {}
        self.runs: list[tuple[int, ...]] = []
        self.distances: list[dict[str, Any]] = []
        self.contacts: list[dict[str, Any]] = []
        self.joints: list[Joint] = []

    def report(self, path, number, misread, what=None, hint="", level="error"):
        if isinstance(misread, Misread):
            place = self.plan.source.place(path, number, misread.column, misread.width)
            self.problems.append(Problem(place, misread.what, misread.hint))
        else:
            self.problems.append(Problem(self.plan.source.place(path, number), what, hint, level=level))

    def build_parts(self):
        for block, body in self.plan.part.items():
            axes = {}
            for axis in "xyz":
                texts = getattr(body, axis)
                texts = [texts] if isinstance(texts, str) else texts
                runs = []
                for k, text in enumerate(texts):
                    try:
                        runs.append((k, read_run(text, self.plan.unit)))
                    except Misread as wrong:
                        self.report(("part", block, axis), k, wrong)
                if runs:
                    axes[axis] = (runs, self.solve_axis(block, axis, runs))
            copies = body.copies
            if copies is None:
                copies = {"": "as drawn"}
            elif not isinstance(copies, dict):
                copies = dict.fromkeys(copies, "as drawn")
            for copy, hand in copies.items():
                flips = "".join(HANDS.get(h.strip(), "") for h in hand.split(","))
                self.instance(block, f"{block}.{copy}" if copy else block, axes, flips)

    def solve_axis(self, block, axis, runs):
        pos = {}
        known = defaultdict(dict)
        steps = []
        for k, run in runs:
            for a, b, step in zip(run.marks, run.marks[1:], run.steps):
                if step.length is not None:
                    known[a][b] = step.length; known[b][a] = -step.length
        def path(a, b):
            seen = {a: Fraction(0)}; queue = deque([a])
            while queue:
                n = queue.popleft()
                for m, d in known[n].items():
                    if m not in seen:
                        seen[m] = seen[n] + d; queue.append(m)
            return seen.get(b)
        for k, run in runs:
            eq = [i for i, s in enumerate(run.steps) if s.length is None]
            if not eq: continue
            whole = path(run.marks[eq[0]], run.marks[eq[-1] + 1])
            if whole is None:
                self.report(("part", block, axis), k, None, "nothing says how long the equal distances are together"); continue
            rest = whole - sum(s.length for s in run.steps[eq[0]:eq[-1] + 1] if s.length is not None)
            each = rest / len(eq)
            for i in eq:
                a, b = run.marks[i], run.marks[i + 1]
                known[a][b] = each; known[b][a] = -each
        first = runs[0][1].marks[0]
        seen = {first: Fraction(0)}; queue = deque([first])
        while queue:
            n = queue.popleft()
            for m, d in known[n].items():
                if m not in seen:
                    seen[m] = seen[n] + d; queue.append(m)
                elif abs(seen[m] - seen[n] - d) >= self.settings.finest / 2:
                    self.report(("part", block, axis), 0, None, f"the runs of part.{block} don't agree at {m}")
        return seen

    def instance(self, block, name, axes, flips):
        self.parts.append(name); self.block_of[name] = block
        for axis, (runs, pos) in axes.items():
            flip = -1 if axis in flips else 1
            for mark, at in pos.items():
                base, _, station = mark.partition("@")
                whole = f"{name}.{mark}"
                self.index[whole] = len(self.marks)
                self.marks.append(dict(name=whole, part=name, axis=axis, at=flip * at, station_of=None))
            done = {}
            for k, run in runs:
                self.runs.append(tuple(self.index[f"{name}.{m}"] for m in run.marks))
                for a, b, step in zip(run.marks, run.marks[1:], run.steps):
                    i, j = self.index[f"{name}.{a}"], self.index[f"{name}.{b}"]
                    c = step.conditions
                    key = (min(i, j), max(i, j))
                    give = c.give if c.give is not None else self.settings.give
                    entry = dict(part=name, axis=axis, start=i, end=j, sign=flip, plan=pos[b] - pos[a],
                                 give=give, hold=c.hold, limits=c.limits, finest=c.finest,
                                 place=self.plan.source.place(("part", block, axis), k, step.column))
                    if key in done:
                        old = done[key]
                        if c.give is not None: old["give"] = c.give
                        old["hold"] |= c.hold
                        old["limits"] = old["limits"] or c.limits
                        continue
                    done[key] = entry; self.distances.append(entry)

    # names
    def part_of(self, name):
        for k in (2, 1):
            head = ".".join(name.split(".")[:k])
            if head in self.block_of and (len(name.split(".")) > k): return head
        return None

    def mark(self, name, path, number, column=0, near=None):
        tries = [name]
        if near:
            part = self.part_of(near)
            rest = near[len(part) + 1:]
            stem = rest.split("@")[0]
            if "." in stem: tries.insert(0, f"{part}.{stem.rsplit('.', 1)[0]}.{name}")
            tries.insert(1, f"{part}.{name}")
        for one in tries:
            if one in self.index: return self.index[one]
            base, at, station = one.partition("@")
            if at and base in self.index:
                self.add_station(one); return self.index[one]
        like = difflib.get_close_matches(tries[0], list(self.index), 1)
        self.problems.append(Problem(self.plan.source.place(path, number, column, len(name)),
            f"{name} is no mark of this plan", f"Did you mean {like[0]}?" if like else ""))
        return None

    def add_station(self, name):
        base = self.index[name.partition("@")[0]]
        self.index[name] = len(self.marks)
        self.marks.append(dict(self.marks[base], name=name, station_of=base))

    def build_joints(self):
        fits = known_fits(self.settings)
        for block, body in self.plan.joint.items():
            meet = [body.meet] if isinstance(body.meet, str) else body.meet
            rows = [{}]
            if body.each is not None:
                try:
                    table = read_table(body.each)
                    rows = [dict(zip(table.columns, row)) for row in table.rows]
                except TableMisread as wrong:
                    self.report(("joint", block, "each"), 0, Misread(0, wrong.what, wrong.hint)); continue
            for row in rows:
                number = len(self.joints)
                own, parts = [], []
                for k, text in enumerate(meet):
                    if not_yet(text):
                        self.report(("joint", block, "meet"), k, None, f"{not_yet(text)}: not supported yet", level="warning"); continue
                    try:
                        filled = text.format_map(row)
                        s = read_contact(filled, self.plan.unit)
                    except Misread as wrong:
                        self.report(("joint", block, "meet"), k, wrong); continue
                    except (KeyError, ValueError, IndexError) as wrong:
                        self.report(("joint", block, "meet"), k, None, f"{wrong} is no column of the table"); continue
                    path = ("joint", block, "meet")
                    ms = []
                    for side in (s.first, s.second):
                        near = None
                        for named in side:
                            ms.append(self.mark(named.text, path, k, named.column, near)); near = near or named.text
                    if None in ms: continue
                    axes = {self.marks[m]["axis"] for m in ms}
                    if len(axes) > 1:
                        self.report(path, k, None, f"these marks lie on different axes: {', '.join(sorted(axes))}"); continue
                    for m in ms:
                        if self.marks[m]["part"] not in parts: parts.append(self.marks[m]["part"])
                    if s.kind == "room":
                        lo, hi = s.limits; fit = ("room", float(lo), float(lo + hi) / 2, float(hi))
                    else:
                        f = fits.get(s.fit.text)
                        if f is None:
                            self.report(path, k, None, f"{s.fit.text} is no fit"); continue
                        fit = (f.name, f.least_mm, f.aim_mm, f.most_mm)
                    own.append(dict(kind=s.kind, marks=ms, fit=fit, axis=axes.pop(), rests=s.rests, above=s.above, below=s.below,
                                    place=self.plan.source.place(path, k), path=path, k=k))
                if not own: continue
                name = " ".join([block, *parts])
                joint = next((n for n, j in enumerate(self.joints) if j.name == name), None)
                first = len(self.contacts)
                for c in own: c["joint"] = number if joint is None else joint
                self.contacts += own
                ids = tuple(range(first, len(self.contacts)))
                if joint is None:
                    self.joints.append(Joint(name, block, tuple(parts), ids, self.plan.source.place(("joint", block))))
                else:
                    self.joints[joint] = replace(self.joints[joint], contacts=self.joints[joint].contacts + ids)

    def place(self):
        self.shift = {}
        self.group = {}
        ties = defaultdict(list)
        for c in self.contacts:
            a, b = self.marks[c["marks"][0]]["part"], self.marks[c["marks"][-1]]["part"]
            n = len(c["marks"]) // 2
            ca = sum((self.marks[m]["at"] for m in c["marks"][:n]), Fraction(0)) / n
            cb = sum((self.marks[m]["at"] for m in c["marks"][n:]), Fraction(0)) / n
            if c["kind"] != "room":
                ties[a, c["axis"]].append((b, ca - cb)); ties[b, c["axis"]].append((a, cb - ca))
        groups = 0
        for part in self.parts:
            for axis in "xyz":
                if (part, axis) in self.shift: continue
                self.shift[part, axis] = Fraction(0); self.group[part, axis] = groups
                queue = deque([part])
                while queue:
                    p = queue.popleft()
                    for q, d in ties[p, axis]:
                        if (q, axis) not in self.shift:
                            self.shift[q, axis] = self.shift[p, axis] + d; self.group[q, axis] = groups
                            queue.append(q)
                groups += 1
        self.middle = {}
        ext = defaultdict(list)
        for m in self.marks:
            m["x"] = m["at"] + self.shift[m["part"], m["axis"]]
            ext[m["part"], m["axis"]].append(m["x"])
        for key, xs in ext.items(): self.middle[key] = (min(xs) + max(xs)) / 2

    def contact(self, c):
        ms = c["marks"]
        x = lambda m: self.marks[m]["x"]
        rests = None
        if c["kind"] == "housing":
            t, s = sorted(ms[:2], key=x), sorted(ms[2:], key=x)
            ordered = (*t, *s)
            if c["rests"]:
                low = any(self.marks[m]["name"].endswith("." + c["rests"].text) or self.marks[m]["name"] == c["rests"].text for m in (t[0], s[0]))
                rests = "low" if low else "high"
        else:
            a, b = ms
            ma, mb = (self.middle[self.marks[m]["part"], c["axis"]] for m in ms)
            if c["above"] or c["below"]:
                named = (c["above"] or c["below"]).text
                na = self.marks[a]["name"]
                upper_is_a = na == named or self.marks[a]["part"] == named
                if c["below"]: upper_is_a = not upper_is_a
            elif ma == mb:
                self.report(c["path"], c["k"], None, "the plan does not tell which of the two lies above", "Add `, B above` or `, B below`."); return None
            else: upper_is_a = ma > mb
            ordered = (b, a) if upper_is_a else (a, b)
        f = c["fit"]
        return Contact(c["joint"], c["kind"], c["axis"], ordered, f[0], f[1], f[2], f[3], rests, c["place"])

    def rules(self, section):
        out = []
        for key, texts in getattr(self.plan, section).items():
            texts = [texts] if isinstance(texts, str) else texts
            for k, text in enumerate(texts):
                try: s = read_rule(text, self.plan.unit)
                except Misread as wrong: self.report((section, key), k, wrong); continue
                if section == "check" and s.within is None:
                    self.report((section, key), k, None, "a check needs a tolerance", "Add `, within 1/16`."); continue
                out += self.expand(section, key, k, s)
        return out

    def expand(self, section, key, k, s):
        names = [n for sp in s.spans for n in (sp.start.text, sp.end.text)]
        blocks = []
        for n in names:
            if ".*" in n:
                b = n.split(".*")[0]
                if b not in blocks: blocks.append(b)
        combos = [{}]
        for b in blocks:
            copies = [p[len(b) + 1:] for p in self.parts if self.block_of[p] == b]
            combos = [{**c, b: copy} for c in combos for copy in copies]
        found = []
        for combo in combos:
            def fill(n):
                b = n.split(".*")[0]
                return n.replace("*", combo[b], 1) if ".*" in n else n
            spans, parts, near0 = [], [], None
            for sp in s.spans:
                a = fill(sp.start.text); 
                i = self.mark(a, (section, key), k, sp.start.column, near0)
                near0 = near0 or a
                j = self.mark(fill(sp.end.text), (section, key), k, sp.end.column, a if self.part_of(a) else near0)
                if i is None or j is None: return found
                if self.marks[i]["axis"] != self.marks[j]["axis"]:
                    self.report((section, key), k, None, "the two marks of a span lie on different axes"); return found
                gi, gj = (self.group[self.marks[m]["part"], self.marks[m]["axis"]] for m in (i, j))
                xi, xj = (self.marks[m]["x"] if "x" in self.marks[m] else self.marks[self.marks[m]["station_of"]]["x"] for m in (i, j))
                spans.append(Span(i, j, -1 if gi == gj and xj < xi else 1))
                parts += [self.marks[m]["part"] for m in (i, j)]
            inpart = all(self.marks[x.start]["part"] == self.marks[x.end]["part"] for x in spans)
            kind = "flush" if s.flush else "length" if len(spans) == 1 else "equal" if inpart else "parallel"
            name = key if len(combos) == 1 else " ".join([key, *dict.fromkeys(parts)])
            give = s.give
            if section == "keep" and give is None and s.limits is None: give = self.settings.give
            fl = lambda v: None if v is None else float(v)
            found.append(Rule(name, kind, tuple(spans), 0.0 if s.flush else fl(s.length), fl(give),
                              fl(s.limits[0]) if s.limits else None, fl(s.limits[1]) if s.limits else None, fl(s.within),
                              self.plan.source.place((section, key), k)))
        return found


def assemble(plan: Plan) -> Assembly:
    """Return the plan worked out. Raises BuildError with every error."""
    work = _Work(plan)
    work.build_parts()
    if any(p.level == "error" for p in work.problems): raise BuildError(work.problems)
    work.build_joints()
    work.place()
    contacts = [work.contact(c) for c in work.contacts]
    keeps, checks = work.rules("keep"), work.rules("check")
    if any(p.level == "error" for p in work.problems): raise BuildError(work.problems)
    reached = {p for j in work.joints for p in j.parts} | {work.marks[m]["part"] for r in keeps for s in r.spans for m in (s.start, s.end)}
    alone = tuple(p for p in work.parts if p not in reached)
    marks = []
    for m in work.marks:
        x = m.get("x", work.marks[m["station_of"]]["x"] if m["station_of"] is not None else 0)
        mid = work.middle[m["part"], m["axis"]]
        marks.append(Mark(m["name"], m["part"], m["axis"], float(x), m["station_of"], (x > mid) - (x < mid)))
    fl = lambda v: None if v is None else float(v)
    distances = tuple(Distance(d["part"], d["axis"], d["start"], d["end"], d["sign"], float(d["plan"]), fl(d["give"]), d["hold"],
                               fl(d["limits"][0]) if d["limits"] else None, fl(d["limits"][1]) if d["limits"] else None, fl(d["finest"]), d["place"]) for d in work.distances)
    s = work.settings
    notices = [p for p in work.problems] + [Problem(Place(plan.source.file), f"{p} stands alone: no joint or keep reaches it", level="notice") for p in alone]
    return Assembly(plan.title, plan.unit, float(s.finest), float(s.workmanship), float(s.workmanship_width), tuple(work.parts), tuple(marks),
                    dict(work.index), tuple(work.runs), distances, tuple(contacts), tuple(work.joints), tuple(keeps), tuple(checks),
                    tuple(work.group[m["part"], m["axis"]] for m in work.marks), alone, tuple(notices))


def with_stations(assembly: Assembly, names: Iterable[str]) -> Assembly:
    """The assembly with the stations of these names that it lacks (`mark@foot` of a known mark)."""
    marks, index, placed = list(assembly.marks), dict(assembly.index), list(assembly.placed)
    for name in names:
        base = name.partition("@")[0]
        if name not in index and "@" in name and base in index:
            index[name] = len(marks)
            old = index[base]
            marks.append(replace(marks[old], name=name, station_of=old))
            placed.append(placed[old])
    return replace(assembly, marks=tuple(marks), index=index, placed=tuple(placed))
