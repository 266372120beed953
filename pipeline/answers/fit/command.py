"""Fit the market."""

from pathlib import Path

import click

from pipeline import clock, options
from pipeline.outputs import show_answer


@options.command()
@click.option(
    "--sales",
    type=options.WORDS,
    help="Fit the sales of these Parquet files (a file, a folder or a pattern) instead of the ledger's.",
)
@click.option(
    "--spark",
    type=options.WORDS,
    help="Have Spark read them: local[*] on this machine, or a cluster's address.",
)
@options.market
@options.ledger
@options.as_json
@options.details
def fit(sales: str | None, spark: str | None, market: Path, ledger: Path, as_json: bool) -> None:
    """Fit the market to the sales in the ledger, or in Parquet files, and keep the fit in the ledger.

    `pairband records --parquet FOLDER` writes such files. Spark comes with `pip install "pairband[spark]"`, and needs
    Java 17.

    Example: pairband fit
    """
    from pipeline.answers.fit.run import fit_files, fit_ledger
    from pipeline.answers.fit.tables import fit_sheet
    from pipeline.terminal.progress import progress

    if spark is not None and sales is None:
        raise click.UsageError("--spark reads files: say which with --sales.")
    with progress("fitting the market", quiet=as_json) as on_progress:
        if sales is None:
            summary = fit_ledger(ledger, market, fitted_at=clock.now(), on_progress=on_progress)
        else:
            summary = fit_files(
                ledger, market, sales, spark=spark, fitted_at=clock.now(), on_progress=on_progress
            )
    show_answer(summary, fit_sheet, as_json=as_json, limits=False)
