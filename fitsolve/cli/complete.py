"""Completion in the shell, imported only by a shell that asks for names (completing)."""

from __future__ import annotations

from collections.abc import Callable

import click

Complete = Callable[[click.Context, click.Parameter, str], list[str]]


def _later(kind: str) -> Complete:
    def complete(context: click.Context, option: click.Parameter, typed: str) -> list[str]:
        from fitsolve.cli import completing

        found: list[str] = getattr(completing, f"complete_{kind}")(context, option, typed)
        return found

    return complete


complete_name, complete_place, complete_part = _later("name"), _later("place"), _later("part")
complete_mark, complete_joint, complete_tool = _later("mark"), _later("joint"), _later("tool")
complete_change = _later("change")
