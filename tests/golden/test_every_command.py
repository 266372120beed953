"""Every command says in a plain first line of help what it does, and shows an example that it accepts."""

import re
import shlex

import click
import pytest

from pipeline.cli import COMMANDS as NAMES
from pipeline.cli import app

CONTEXT = click.Context(app)
COMMANDS = {name: app.get_command(CONTEXT, name) for name in NAMES}


SENTENCES = re.compile(r"[A-Z][a-z]+ [^.]*[a-z][.](?: [A-Z][^.]*[a-z][.])*")
"""Whole sentences, the first of which begins with a verb: no name of a file, no line that breaks off."""


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_a_command_says_what_it_does_in_whole_sentences(name: str) -> None:
    first = (COMMANDS[name].help or "").split("\n")[0]

    assert SENTENCES.fullmatch(first)


@pytest.mark.parametrize(
    "first", ["", "Fit the market in pairband.duckdb", "Fit the market. Then keep", "Fit the market to the"]
)
def test_a_line_that_breaks_off_says_nothing_in_whole_sentences(first: str) -> None:
    assert not SENTENCES.fullmatch(first)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_a_command_shows_an_example(name: str) -> None:
    assert f"Example: pairband {name}" in (COMMANDS[name].help or "")


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_the_example_of_a_command_uses_options_that_there_are(name: str) -> None:
    example = (COMMANDS[name].help or "").split("Example: pairband ", 1)[1].split("\n")[0]
    words = shlex.split(example.split(" >")[0])[1:]
    known = {option for parameter in COMMANDS[name].params for option in parameter.opts}

    assert {word for word in words if word.startswith("--")} <= known


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_help_calls_the_values_of_options_by_words(name: str) -> None:
    options = "\n".join(
        parameter.make_metavar(CONTEXT)
        for parameter in COMMANDS[name].params
        if isinstance(parameter, click.Option) and not parameter.is_flag
    )
    assert not re.search("%|PATH|FLOAT|INTEGER|RANGE", options)


def test_there_is_a_readme_line_for_every_command() -> None:
    from pathlib import Path

    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")

    assert [name for name in COMMANDS if f"pairband {name}" not in readme] == []
