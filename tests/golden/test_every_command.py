"""Every command has one plain sentence of help and an example that it accepts."""

import shlex

import click
import pytest

from pipeline.cli import COMMANDS as NAMES
from pipeline.cli import app

CONTEXT = click.Context(app)
COMMANDS = {name: app.get_command(CONTEXT, name) for name in NAMES}


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_a_command_says_what_it_does_and_shows_an_example(name: str) -> None:
    text = COMMANDS[name].help or ""

    assert text.split("\n")[0].endswith(".") or "." in text.split("\n")[0]
    assert f"Example: pairband {name}" in text


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_the_example_of_a_command_uses_options_that_there_are(name: str) -> None:
    example = (COMMANDS[name].help or "").split("Example: pairband ", 1)[1].split("\n")[0]
    words = shlex.split(example.split(" >")[0])[1:]
    known = {option for parameter in COMMANDS[name].params for option in parameter.opts}

    assert {word for word in words if word.startswith("--")} <= known


def test_there_is_a_readme_line_for_every_command() -> None:
    from pathlib import Path

    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")

    assert [name for name in COMMANDS if f"pairband {name}" not in readme] == []
