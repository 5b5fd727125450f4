"""Completion in the shell: parts, marks, joints and tools of the build one stands in.

Whatever goes wrong here is kept silent: a shell that asks for names wants names or nothing.
"""

from __future__ import annotations

from collections.abc import Iterable

import click

from fitsolve.build.assembly import Assembly


def _assembly(context: click.Context) -> tuple[Assembly, Iterable[str]] | None:
    from pathlib import Path

    from fitsolve.build.folder import plan_text
    from fitsolve.build.place import assemble
    from fitsolve.build.plan import read_plan

    folder = context.find_root().meta.get("fitsolve.build", ".")
    try:
        plan = read_plan(plan_text(Path(folder)), rules_apart=True)
        return assemble(plan), plan.tools()
    except Exception:  # the plan cannot be read: no names then
        return None


def _begun(typed: str, names: Iterable[str]) -> list[str]:
    return [name for name in dict.fromkeys(names) if name.startswith(typed)]


def complete_name(context: click.Context, option: click.Parameter, typed: str) -> list[str]:
    """A part first; behind a part its marks; a span `part.mark..` goes on with marks of that part."""
    known = _assembly(context)
    if known is None:
        return []
    assembly = known[0]
    before = [word for word in (context.params.get("words") or ()) if word]
    behind = [word for word in before if any(word == part for part in assembly.parts)]
    before = behind[-1:] or before  # the part named last
    inside = {part: [m.name[len(part) + 1 :] for m in assembly.marks if m.part == part] for part in assembly.parts}
    if ".." in typed:
        first, _, second = typed.partition("..")
        part = next((m.part for m in assembly.marks if m.name == first), before[0] if before else "")
        return [f"{first}..{name}" for name in _begun(second, inside.get(part, []))]
    if isinstance(before, (list, tuple)) and before and before[0] in inside:
        return _begun(typed, inside[before[0]])
    return _begun(typed, [*assembly.parts, *(m.name for m in assembly.marks if "." in typed)])


def complete_place(context: click.Context, option: click.Parameter, typed: str) -> list[str]:
    """A mark of the part named first, or another part."""
    known = _assembly(context)
    if known is None:
        return []
    first = next(iter(context.params.get("words") or ()), "")
    own = [m.name[len(first) + 1 :] for m in known[0].marks if m.part == first]
    return _begun(typed, [*own, *(part for part in known[0].parts if part != first)])


def complete_part(context: click.Context, option: click.Parameter, typed: str) -> list[str]:
    """A part."""
    known = _assembly(context)
    return [] if known is None else _begun(typed, known[0].parts)


def complete_mark(context: click.Context, option: click.Parameter, typed: str) -> list[str]:
    """A mark by its whole name, or a part."""
    known = _assembly(context)
    if known is None:
        return []
    return _begun(typed, [*known[0].parts, *(mark.name for mark in known[0].marks)])


def complete_joint(context: click.Context, option: click.Parameter, typed: str) -> list[str]:
    """A word of a joint's name that goes with the words typed before it."""
    known = _assembly(context)
    if known is None:
        return []
    before = [word for word in (context.params.get("joint") or ()) if word]
    joints = [joint.name.split() for joint in known[0].joints]
    fitting = [words for words in joints if all(word in words for word in before)]
    return _begun(typed, [word for words in fitting for word in words if word not in before])


def complete_change(context: click.Context, option: click.Parameter, typed: str) -> list[str]:
    """What can be tried, word by word inside its quotes: the verb, then the names that go with it.

    A shell closes the quotes behind a word that is the only one. Where the change goes on, what can stand next is
    offered with it.
    """
    known = _assembly(context)
    if known is None:
        return []
    found = _changes(known[0], typed)
    while len(found) == 1 and (further := _changes(known[0], found[0] + ("" if found[0].endswith("..") else " "))):
        found = further
    return found


def _changes(assembly: Assembly, typed: str) -> list[str]:
    """The change as typed so far with each word that may stand last."""
    before, space, last = typed.rpartition(" ")
    return [f"{before}{space}{word}" for word in _begun(last, _next_word(assembly, before.split(), last))]


def _next_word(assembly: Assembly, said: list[str], last: str) -> Iterable[str]:
    """The words that may stand next in a change."""
    if not said:
        return ("give", "hold", "size", "limit", "fit", "keep", "check")
    verb, names = said[0], said[1:]
    if verb in ("give", "hold", "size", "limit") and not any(".." in word for word in names):
        part = names[0] if names else ""
        return [] if len(names) > 1 else _span_words(assembly, part, last)
    if verb == "fit":
        return [] if names else [one.fit for one in assembly.contacts if one.fit != "room"]
    rules = {"keep": assembly.keeps, "check": assembly.checks}.get(verb, ())
    if " ".join(names) in [rule.name for rule in rules]:
        return ("give", "by") if verb == "keep" else ("=", "within")
    return [] if names else [rule.name for rule in rules]


def _span_words(assembly: Assembly, part: str, typed: str) -> list[str]:
    """The part first; then its marks, the first as the beginning of a span, the second behind it."""
    if not part and ".." not in typed:
        return list(assembly.parts)
    first, dots, _ = typed.partition("..")
    part = part or next((mark.part for mark in assembly.marks if mark.name == first), "")
    inside = [mark.name[len(mark.part) + 1 :] for mark in assembly.marks if mark.part == part]
    return [f"{first}..{name}" for name in inside] if dots else [f"{name}.." for name in inside]


def complete_tool(context: click.Context, option: click.Parameter, typed: str) -> list[str]:
    """A tool, built in or of the plan."""
    from fitsolve.build.tools import BUILT_IN

    known = _assembly(context)
    return _begun(typed, sorted({*BUILT_IN, *(known[1] if known else ())}))
