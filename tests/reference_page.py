"""docs/reference.md, made from the commands and the models.

    python tests/reference_page.py       writes it anew
"""

from __future__ import annotations

import inspect
import json
from pathlib import Path
from typing import get_args

import click

from fitsolve.build import logtext
from fitsolve.build.fits import BUILT_IN as FITS
from fitsolve.build.planschema import plan_schema
from fitsolve.build.tools import BUILT_IN as TOOLS
from fitsolve.cli.main import COMMANDS, cli
from fitsolve.findings.values import CheckVerdict, FitVerdict, PegVerdict, SeatVerdict
from fitsolve.report.pegwords import NOT_BORED
from fitsolve.written import write_length

REFERENCE = Path(__file__).parents[1] / "docs" / "reference.md"

VERDICTS = {
    "fits": "proven to lie between the fit's least and most, with a chance of 95 % or better",
    "tight": "proven too tight; or a part it belongs to is proven to jam",
    "loose": "proven wider than the fit's most",
    "proud": "a shoulder proven to stand off its face the wrong way: it keeps the joint from closing",
    "open": "a shoulder proven to leave more than the fit's most",
    "can't tell": "neither proven nor ruled out by these readings; the line says what would tell",
    "goes on": "one placement keeps all the part's joints, with a chance of 95 % or better",
    "jams": "no placement does, with a chance of 95 % or better",
    "draws": "the peg pulls the shoulder home: its holes lie 0 to a quarter of its diameter apart, that way",
    "draws too much": "the holes lie further apart than its taper finds",
    "does not draw": "the tenon's hole lies level with the mortise's or on the far side",
    "not bored": "the joint is glued, and nobody said that the tenon's hole is bored: too late to offset it",
    "within": "proven within the tolerance chosen",
    "beyond": "proven beyond it",
}

TO_BE_READ = (
    "the fault rests on made wood that was never read: read what is named before anything is taken off "
    "(`read_first` in `--json`)"
)

CHECKS = {
    "parallel, equal": "each two spans, the first less the second; the worst pair",
    "length, flush, in line": "a span less its length; how far two marks stand apart",
    "plumb": "how far an edge leans from one station to the other",
    "wind": "how far a mark stands off the best plane of the others; the worst mark",
    "level": "the highest mark less the lowest, over the plane of what the frame stands on",
    "rock": "what a foot stands off when the frame stands on three others",
    "rack": "of a square: one diagonal less the other",
    "taper": "of a square: a side less the opposite one; the worse pair",
    "twist": "of a square: by how much more one edge of a side leans than the other, between two stations",
}


def reference() -> str:
    """The page as the code has it."""
    pieces = [
        "# Reference\n\nMade from the commands and the models; looked up, not read. The plan's language is in "
        "[language](../specs/language.md), the log in [log](../specs/log.md), lengths in "
        "[lengths](../specs/lengths.md).\n",
        "## Commands\n\nExit status: 0 all well, 1 a warning (of `sizes --part` only what is about that part), 2 bad input.\n",
        *(_command(name) for name in COMMANDS),
        "## Keys of the plan\n\n| table | key | what it is |\n| --- | --- | --- |\n" + "\n".join(_keys()) + "\n",
        f"## Events of the log\n\n{', '.join(f'`{event}`' for event in logtext.EVENTS)}: see [log](../specs/log.md).\n",
        "## Checks of the frame\n\n| what | value |\n| --- | --- |\n" + "\n".join(_checks()) + "\n",
        "## Verdicts\n\n| word | means |\n| --- | --- |\n" + "\n".join(_verdicts()) + "\n",
        _tags(),
        "## Built-in tools\n\nA reading is good to U = good to + per metre × its length, at k = 2.\n\n"
        "| tool | good to | per metre | from |\n| --- | --- | --- | --- |\n" + "\n".join(_tools()) + "\n",
        "## Built-in fits\n\n| fit | least | aim | most |\n| --- | --- | --- | --- |\n" + "\n".join(_fits()) + "\n",
    ]
    return "\n".join(pieces)


def _command(name: str) -> str:
    whole = click.Context(cli, info_name="fitsolve", **cli.context_settings)
    command = cli.get_command(whole, name)
    assert command is not None
    context = click.Context(command, info_name=name, parent=whole, terminal_width=80, max_content_width=80)
    return f"### {name}\n\n```text\n{command.get_help(context).rstrip()}\n```\n"


def _keys() -> list[str]:
    schema = json.loads(plan_schema())
    rows = []
    for table, one in [("", schema), *schema["$defs"].items()]:
        for key, said in one["properties"].items():
            text = said.get("description") or said.get("type") or ""
            rows.append(f"| {table.removesuffix('Table').lower() or 'top'} | `{key}` | {text or 'see language.md'} |")
    return rows


def _checks() -> list[str]:
    return [f"| {word} | {means} |" for word, means in CHECKS.items()]


def _verdicts() -> list[str]:
    kinds = (FitVerdict, SeatVerdict, PegVerdict, CheckVerdict)
    words = [*dict.fromkeys(word for kind in kinds for word in get_args(kind)), NOT_BORED]
    return [*(f"| {word} | {VERDICTS[word]} |" for word in words), f"| ..., to be read | {TO_BE_READ} |"]


def _tags() -> str:
    return inspect.cleandoc("""
        ## What `sizes` leads its lines with

        | word | means |
        | --- | --- |
        | STOP | a reading not to be believed, a size said of a cut that looks like a slip, or a joint that may stand off: settle it first |
        | TOOLS | what the readings tell of the tools they were taken with |
        | CONFLICT | what cannot all be had, or made wood that cannot go together |
        | SHAPE | what was read at stations does not go with the plain marks: a slip, or wood that is bent or leans |
        | UNPROVEN | sizes that keep every limit, but may not be the best |
        | CUT NOW | sizes that nothing in doubt moves |
        | WAIT | sizes that a doubt or a conflict moves; it says which |
        | JOINTS, PEGS, SEATS, FRAME | verdicts, the bad ones in full |
        | UNCHECKED | readings in which a slip would not show |
        | ASSUMED | wood that is made and was never read: known only as well as cuts land |

        A joint, a peg, a part or a check that *rests on #9: see STOP* is only as good as that reading: read it again
        before any wood comes off.

        ## What `fitsolve` alone leads its lines with

        | word | means |
        | --- | --- |
        | NEXT | what to do next, and the command for it |
        | LAST | the last row of the log |
        | GLUED, PEGGED, WEDGED, DRY | the joints that are closed, by what holds them |
        | WAIT | parts that are not to be cut yet, and what for |
        | TO CUT, TO READ | parts with marks still to be cut; readings still wanted |
        | TO PEG | joints that are glued, with a peg in the plan that is not driven |
        | BEYOND | checks of the frame that are not kept |
        | OLD | widths read so long ago that the wood may have moved |
        """) + "\n"


def _tools() -> list[str]:
    return [
        f"| {tool.name} | {tool.good_to_mm:g} mm | {1000 * tool.per_length:g} mm | {tool.source} |"
        for tool in TOOLS.values()
    ]


def _fits() -> list[str]:
    return [
        f"| {fit.name} | " + " | ".join(f"{write_length(mm, 'in')} in" for mm in (fit.least_mm, fit.aim_mm, fit.most_mm)) + " |"
        for fit in FITS.values()
    ]


if __name__ == "__main__":
    REFERENCE.write_text(reference(), encoding="utf-8")
