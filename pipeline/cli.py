"""The command line: finds the command that is called; errors to exit codes, nothing else."""

import gc
import os
import sys
from importlib import import_module

import click

from pipeline import __version__
from pipeline.errors import PairbandError

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: its matrices are small here
os.environ.setdefault(
    "PYDANTIC_DISABLE_PLUGINS", "__all__"
)  # none is meant for us, and the search takes long

COMMANDS = {
    "init": ("market_file", "init"),
    "check": ("market_file", "check"),
    "columns": ("market_file", "columns"),
    "map": ("market_file", "propose"),
    "ingest": ("records", "ingest"),
    "quarantine": ("records", "quarantine"),
    "review": ("records", "review"),
    "rule": ("records", "rule"),
    "fit": ("market", "fit"),
    "appraise": ("appraise", "appraise"),
    "consign": ("consign", "consign"),
    "lots": ("lots", "lots"),
    "restore": ("restore", "restore"),
    "market": ("market", "view"),
    "audit": ("market", "audit"),
    "pricing": ("pages", "pricing"),
    "report": ("pages", "report"),
    "demo": ("pages", "demo"),
    "doctor": ("care", "doctor"),
    "backup": ("care", "backup"),
    "recover": ("care", "bring_back"),
}
"""Each command: the module of `pipeline.commands` that holds it, and its name there."""


class _Commands(click.Group):
    """The commands, each loaded when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module, name = COMMANDS[cmd_name]
        command: click.Command = getattr(import_module(f"pipeline.commands.{module}"), name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args[0] not in COMMANDS and not args[0].startswith("-"):
            raise click.exceptions.NoSuchCommand(args[0], possibilities=COMMANDS, ctx=ctx)
        return super().resolve_command(ctx, args)


@click.command(cls=_Commands, name="pairband")
@click.option("--debug", is_flag=True, help="Show the traceback of an error.")
@click.version_option(__version__, message="pairband %(version)s", help="Print the version.")
def app(debug: bool) -> None:
    """Fair-value bands for vintage pairs, from the sale records that you export yourself."""


def main() -> None:
    """Run the command line: exit code 0 done, 1 an error that is told, 2 wrong usage, 3 an audit not passed."""
    try:
        app(prog_name="pairband")
    except PairbandError as exc:
        if "--debug" in sys.argv:
            raise
        sys.stderr.write(f"pairband: {exc}\n")
        sys.exit(1)
    finally:
        gc.freeze()  # the process ends: to look for garbage in all that was loaded takes longer than an answer
