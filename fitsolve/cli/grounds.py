"""The command `grounds`: what a verdict or a distance stands on."""

from __future__ import annotations

import click

from fitsolve.cli.common import build_option, finish, refuse, say_as_it_is, show_problems
from fitsolve.cli.complete import complete_name
from fitsolve.cli.names import Names
from fitsolve.cli.show import reconciled
from fitsolve.errors import BuildError
from fitsolve.findings.grounds import Ground, check_grounds, distance_grounds, joint_grounds, seat_grounds
from fitsolve.findings.values import CheckFinding
from fitsolve.reconciliation import Reconciliation


@click.command()
@click.argument("words", nargs=-1, metavar="JOINT|CHECK|PART|FROM TO", shell_complete=complete_name)
@click.option("--readings", is_flag=True, help="Every reading: what checks it, and the smallest error that would show.")
@click.option("--json", "as_json", is_flag=True, help="For other programs: JSON, lengths in mm.")
@build_option
def grounds(words: tuple[str, ...], readings: bool, as_json: bool) -> None:
    """What a verdict stands on: its chances and limits, what U would prove it, where its ± comes from.

    Of a joint, a check, a part that has to go on its joints, or the distance of two marks. Beside each
    reading stands the smallest error that would show in it.

    \b
    Example:
        $ fitsolve grounds dado front fl
        dado leg.fl apron.front   can't tell
        x  housing   0.010 in, ± 0.006; limits 0.002 to 0.022; chance: within 1.00
           proven; it would be with any U up to 0.009 in
           its ± comes from
             58 %  how the cuts still to come land
        ...
    """
    if bool(words) == readings:
        hint = "A joint, a check, a part, two marks; or --readings for all readings."
        raise refuse("of what?" if not words else "--readings lists all of them", hint)
    build, found = reconciled()
    if readings:
        _show_readings(found, as_json)
        finish(show_problems(found.warnings))
    title, told = _asked(found, Names(found.assembly, build.plan.tools()), words)
    if as_json:
        from fitsolve.report.groundwords import grounds_json

        say_as_it_is(grounds_json(found, title, told))
    else:
        from fitsolve.report.groundwords import grounds_blocks
        from fitsolve.report.screen import show

        show(grounds_blocks(found, title, told))
    finish(show_problems(found.warnings))


def _show_readings(found: Reconciliation, as_json: bool) -> None:
    if as_json:
        import json

        from fitsolve.report.machine import doubt_json

        say_as_it_is(json.dumps([doubt_json(one) for one in found.doubts], indent=2, allow_nan=False))
        return
    from fitsolve.report.groundwords import readings_blocks
    from fitsolve.report.screen import show

    show(readings_blocks(found))


def _asked(found: Reconciliation, names: Names, words: tuple[str, ...]) -> tuple[str, list[Ground]]:
    """The title and the grounds of what the words mean: a check, a part, a joint, or two marks."""
    solved, text = found.solved, " ".join(words)
    checks = _checks_named(found, text)
    if checks and text not in found.assembly.parts:
        title = f"{text}   {len(checks)} checks"
        if len(checks) == 1:
            title = f"{checks[0].name}   {checks[0].verdict}"
        return title, [one for check in checks for one in check_grounds(solved, check.number)]
    seats = [seat for seat in found.seats if seat.part == text]
    if seats:
        return f"{text}   {seats[0].verdict}, chance {seats[0].chance or 0.0:.2f}", seat_grounds(solved, text)
    if text in found.assembly.parts:
        raise _no_seat(found, text)
    try:
        joint = names.joint(text)
    except BuildError as no_joint:
        try:
            pair = names.pair(words)
        except BuildError as no_pair:
            raise (no_pair if len(words) == 2 or ".." in text else no_joint) from None
        return _distance(found, *pair)
    number = next(one.number for one in found.joints if one.name == joint)
    return f"{joint}   {found.joints[number].verdict}", joint_grounds(solved, number)


def _no_seat(found: Reconciliation, part: str) -> BuildError:
    """Why nothing is known of a part as a whole: nothing of it is still to be put on, or it goes over nothing."""
    left = [one.name for one in found.joints if part in one.parts and not one.closed]
    if not left:
        return refuse(f"{part} has no joint still to be put on", "Name a joint, a check, or two marks.", part)
    from fitsolve.cli.names import listed

    what = f"{part} goes in or over nothing that is still open: its joints are judged each by itself"
    return refuse(what, f"Name one of them: {listed(left)}; or a check, or two marks.", part)


def _checks_named(found: Reconciliation, text: str) -> list[CheckFinding]:
    """The checks that words name: one by its name, else all of that key, else one whose name begins so."""
    exact = [check for check in found.checks if check.name == text]
    of_key = [check for check in found.checks if check.name.startswith(f"{text} ")]
    begun = [check for check in found.checks if " " not in text and check.name.startswith(text)]
    return exact or of_key or (begun if len(begun) == 1 else [])


def _distance(found: Reconciliation, first: str, second: str) -> tuple[str, list[Ground]]:
    index, marks = found.assembly.index, found.assembly.marks
    for name in (first, second):
        if name not in index:
            raise refuse(f"{name} is no mark of the plan or the log", "", name)
    one, other = marks[index[first]], marks[index[second]]
    if one.axis != other.axis:
        raise refuse(f"{first} lies along {one.axis}, {second} along {other.axis}", "Name two of one axis.", second)
    from fitsolve.report.naming import span_of

    return span_of(found.assembly, index[first], index[second]), distance_grounds(
        found.solved, index[first], index[second]
    )
