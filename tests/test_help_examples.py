"""Each command's help has one example, and its output is what the command really prints."""

from __future__ import annotations

import pytest
from cli_folder import run
from help_examples import SCENES, command_of, example

from fitsolve.cli.main import COMMANDS


def test_every_command_has_an_example():
    assert sorted(map(command_of, SCENES)) == sorted(COMMANDS)


@pytest.mark.parametrize("scene", SCENES, ids=command_of)
def test_the_example_is_real(scene):
    result = run(command_of(scene), "--help")
    assert result.exit_code == 0
    shown = result.stdout[result.stdout.index("Example:\n") :].split("\n\n")[0].splitlines()[1:]
    assert [line[6:] for line in shown] == example(scene)
