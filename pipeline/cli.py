"""The command line: finds the command that is called; errors to exit codes, nothing else."""

import gc
import os
import sys
from contextlib import suppress
from importlib import import_module

import click

from pipeline import __version__
from pipeline.last_catch import words_of
from pipeline.streams import leave_full_streams, open_standard_streams, write_text

# What makes the command line start sooner, each with the share of the CPU time of `pairband appraise --silhouette …`
# that it saves (medians of 30 alternating runs on two cores): one BLAS thread 15 %, no last search for garbage 17 %,
# few Gaussian chances without scipy.special (pipeline/hedonic/distributions.py) 17 %.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy loads: its matrices are small here

COMMANDS = {
    "init": ("answers.market_file", "init"),
    "check": ("answers.market_file", "check"),
    "columns": ("answers.market_file", "columns"),
    "phrases": ("answers.market_file", "phrases"),
    "map": ("answers.market_file", "propose"),
    "ingest": ("answers.ingest", "ingest"),
    "understood": ("answers.understood", "understood"),
    "quarantine": ("answers.ingest", "quarantine"),
    "records": ("answers.records", "records"),
    "correct": ("answers.corrections", "correct"),
    "remove": ("answers.corrections", "remove"),
    "add": ("answers.corrections", "add"),
    "undo": ("answers.corrections", "undo"),
    "review": ("answers.review", "review"),
    "decisions": ("answers.review", "decisions"),
    "rule": ("answers.review", "rule"),
    "fit": ("answers.fit", "fit"),
    "appraise": ("answers.appraisal", "appraise"),
    "consign": ("answers.consignment", "consign"),
    "lots": ("answers.lots", "lots"),
    "restore": ("answers.restoration", "restore"),
    "stock": ("answers.stock", "stock"),
    "changed": ("answers.changed", "changed"),
    "outcomes": ("answers.outcomes", "outcomes"),
    "market": ("answers.market_view", "view"),
    "audit": ("answers.audit", "audit"),
    "words": ("answers.title_words", "title_words"),
    "pricing": ("answers.pricing", "pricing"),
    "report": ("answers.report", "report"),
    "demo": ("answers.demo", "demo"),
    "doctor": ("answers.care", "doctor"),
    "backup": ("answers.care", "backup"),
    "recover": ("answers.care", "bring_back"),
    "compact": ("answers.care", "compact"),
    "desk": ("desk", "desk"),
}
"""Each command: the folder of `pipeline` that holds it, and its name there."""


class _Commands(click.Group):
    """The commands, each loaded when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        folder, name = COMMANDS[cmd_name]
        command: click.Command = getattr(import_module(f"pipeline.{folder}.command"), name)
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
    """Run the command line: exit code 0 done, 1 an error in plain words, 2 wrong usage, 3 an audit not passed.

    130 where the owner stopped it. An unexpected error is logged, and reported in plain words as well.
    """
    open_standard_streams()
    try:
        code = app(prog_name="pairband", standalone_mode=False)
        sys.stdout.flush()
    except BaseException as exc:  # the last catch: a panic of a library is no Exception
        if "--debug" in sys.argv and not isinstance(exc, click.ClickException | SystemExit):
            raise
        code = _report_error(exc)
        leave_full_streams()
    finally:
        gc.freeze()  # the process ends: no search for garbage in all that was loaded
    sys.exit(code if isinstance(code, int) else 0)


def _report_error(exc: BaseException) -> int:
    """Say in words what ended a command, and return the exit code."""
    if isinstance(exc, SystemExit):
        return exc.code if isinstance(exc.code, int) else 1
    with suppress(OSError, ValueError):
        if isinstance(exc, click.UsageError) and exc.ctx is not None:
            write_text(f"{exc.ctx.get_usage()}\nTry '{exc.ctx.command_path} --help' for help.\n\n", err=True)
        words, code = words_of(exc, sys.argv[1:])
        write_text(words + "\n", err=True)
        return code
    return 1
