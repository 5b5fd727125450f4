"""The built-in tools and fits, with their numbers, below the help of the commands that name them."""

from __future__ import annotations

import click


class ListsTools(click.Command):
    """A command whose help ends with the built-in tools."""

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The tools, below the options."""
        _list_tools(formatter)


class ListsToolsAndFits(click.Command):
    """A command whose help ends with the built-in tools and fits."""

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The tools and the fits, below the options."""
        _list_tools(formatter)
        with formatter.section("Built-in fits, least / aim / most (the plan may change them, fits.NAME)"):
            formatter.write_dl(fit_lines())


def _list_tools(formatter: click.HelpFormatter) -> None:
    with formatter.section("Built-in tools, ± at k = 2 (the plan may change them, [tool.NAME])"):
        formatter.write_dl(tool_lines())


def tool_lines() -> list[tuple[str, str]]:
    """Each built-in tool with what a reading by it is good to: `± 0.3 mm + 0.05 mm a metre (0.012 in)`."""
    from fitsolve.build.tools import BUILT_IN

    lines = []
    for tool in BUILT_IN.values():
        per_metre = f" + {1000 * tool.per_length:g} mm a metre" if tool.per_length else ""
        lines.append((tool.name, f"± {tool.good_to_mm:g} mm{per_metre}   (± {tool.good_to_mm / 25.4:.3f} in)"))
    return lines


def fit_lines() -> list[tuple[str, str]]:
    """Each built-in fit with its least, aim and most: `0.002 / 0.008 / 0.020 in   (0.05 / 0.20 / 0.51 mm)`."""
    from fitsolve.build.fits import BUILT_IN
    from fitsolve.written import write_decimal

    lines = []
    for fit in BUILT_IN.values():
        sizes = (fit.least_mm, fit.aim_mm, fit.most_mm)
        inches = " / ".join(write_decimal(mm, "in", 3) for mm in sizes)
        lines.append((fit.name, f"{inches} in   ({' / '.join(write_decimal(mm, 'mm', 2) for mm in sizes)} mm)"))
    return lines
