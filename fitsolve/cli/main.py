"""fitsolve on the command line: the group of commands, and what becomes of errors.

The maker's errors (`BuildError`) are printed, all of them; click's own are usage errors. Both
end with status 2. An exception that nobody foresaw is our fault, and is said to be; no
traceback is shown unless FITSOLVE_DEBUG is set.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from importlib import import_module
from typing import Any, NoReturn

import click

from fitsolve import __version__
from fitsolve.cli.common import build_folder, build_option, finish, show_problems, warn
from fitsolve.errors import BuildError

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""The matrices are small: a second thread of the algebra library only gets in the way of the first."""


COMMANDS = {
    "new": "start:new",
    "plan": "show:plan",
    "wanted": "paper:wanted",
    "read": "reading:read",
    "compare": "across:compare",
    "gap": "across:gap",
    "diagonal": "across:diagonal",
    "wind": "wind:wind",
    "made": "cut:made",
    "trim": "cut:trim",
    "remake": "anew:remake",
    "close": "join:close",
    "open": "join:open_joint",
    "apart": "change:apart",
    "rename": "change:rename",
    "undo": "change:undo",
    "strike": "enter:strike",
    "log": "show:log",
    "sizes": "show:sizes",
    "layout": "show:layout",
    "between": "show:between",
    "grounds": "grounds:grounds",
    "draw": "drawn:draw",
    "sheet": "drawn:sheet",
    "strip": "drawn:strip",
}
"""Where each command is; only the one that is called is imported."""

LISTED = {
    "To begin": {
        "new": "start a build: a folder with a plan to change, and a log",
        "plan": "the plan as it was understood, what is wrong with it",
    },
    "What you read": {
        "wanted": "readings still wanted, part by part, each with a tag",
        "read": "enter readings; alone it asks for one after another",
        "compare": "by how much one span is longer than another",
        "gap": "how far a joint stands open",
        "diagonal": "from corner to corner",
        "wind": "wind seen by sticks",
    },
    "What you did": {
        "made": "a part or a mark is cut, and to what",
        "trim": "made wood was cut back",
        "remake": "a part is made anew",
        "close": "a joint is closed: dry, glued or pegged",
        "open": "a joint closed dry is open again",
        "apart": "parts that were only set up have moved",
    },
    "The log": {
        "log": "all its rows, and why a row no longer counts",
        "undo": "take back what was entered last",
        "strike": "take back any row, by its number",
        "rename": "what a name in the log is called in the plan now",
    },
    "The answers": {
        "sizes": "what to settle, what to cut now, how it goes together",
        "layout": "how to lay out one part",
        "between": "how far apart two marks are",
        "grounds": "what a verdict stands on, where its ± comes from",
    },
    "On paper": {
        "draw": "a part, the whole, or the loops of the readings",
        "sheet": "what to settle, cut and read, with boxes to fill in",
        "strip": "one edge of a part at true size, to knife through",
    },
}
"""The commands as the help lists them: by what they are for, each in so few words that none is cut off."""


class _Commands(click.Group):
    """The group; it lists its commands in the order they are used in, and lets no traceback out."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands in the order they are used in."""
        return list(COMMANDS)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The commands by what they are for; nothing is imported for that."""
        for heading, commands in LISTED.items():
            with formatter.section(heading):
                formatter.write_dl(list(commands.items()))

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name, imported now."""
        if cmd_name not in COMMANDS:
            return None
        module, _, name = COMMANDS[cmd_name].partition(":")
        command: click.Command = getattr(import_module(f"fitsolve.cli.{module}"), name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that was typed; one that does not exist is met with what may have been meant."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-") and not ctx.resilient_parsing:
            from fitsolve.cli.misuse import unknown_command

            raise click.UsageError(unknown_command(args[0], list(COMMANDS)), ctx)
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; turn what goes wrong into words and an exit status."""
        try:
            answer = super().invoke(ctx)
            finish()
            return answer
        except BuildError as error:
            show_problems(error.problems)
            ctx.exit(2)
        except KeyboardInterrupt:
            warn("\nstopped; all that was echoed is kept")
            ctx.exit(1)
        except click.UsageError as error:
            from fitsolve.cli.misuse import with_example

            raise with_example(error) from None
        except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise
        except OSError as error:
            _say_what_failed(error)
            ctx.exit(2)
        except Exception as error:
            if os.environ.get("FITSOLVE_DEBUG"):
                raise
            warn(
                f"fitsolve has failed: {type(error).__name__}: {str(error)[:200]}\n"
                "  This is our mistake, not yours, and nothing more was written. "
                "FITSOLVE_DEBUG=1 shows where it happened."
            )
            ctx.exit(2)


@click.group(
    cls=_Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@build_option
@click.version_option(__version__, message="fitsolve %(version)s")
@click.pass_context
def cli(context: click.Context) -> None:
    """What to cut the parts still unmade to, now that the finished ones came out as they did.

    A build is a folder with a plan (plan.toml) and a log (log.csv). Without a command: where
    things stand and what is next. Each command has its own help, with an example: fitsolve read --help.

    Exit status: 0 all well, 1 a warning, 2 bad input.
    """
    if context.invoked_subcommand is None:
        _where_things_stand()


def _where_things_stand() -> None:
    from fitsolve.build.folder import PLAN

    folder = build_folder()
    if folder.is_dir() and not (folder / PLAN).exists():
        from fitsolve.cli.elsewhere import say_how_to_start

        say_how_to_start(folder)
        return
    from fitsolve.cli.show import stand

    stand(folder)


def main() -> NoReturn:
    """The command `fitsolve`."""
    # Looking through every installed package for plugins of the plan's models takes longer than the plan.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        cli(prog_name="fitsolve")
    except SystemExit as done:
        _leave(done.code if isinstance(done.code, int) else 1 if done.code else 0)
    except OSError as error:  # where help itself cannot be shown
        _say_what_failed(error)
        _leave(2)
    _leave(0)


def _say_what_failed(error: OSError) -> None:
    where = f"{error.filename}: " if error.filename else ""
    warn(f"what was to be read or shown could not be: {where}{error.strerror or error}")


def _leave(status: int) -> NoReturn:
    """End the process here and now: all rows are on disk, and taking down some thousand modules one by
    one takes as long as a fifth of the whole run."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        pass
    except OSError as error:
        if status != 2:
            _say_what_failed(error)
        status = 2
    with suppress(OSError):
        sys.stderr.flush()
    os._exit(status)
