"""Open the desk."""

from pathlib import Path

import click

from pipeline import options


@options.command()
@click.argument("folder", type=options.FILE, default=".")
@click.option(
    "--port", type=click.IntRange(1024, 65535), help="The port to listen on; left out, any that is free."
)
@click.option("--no-browser", is_flag=True, help="Print the address, and open no browser.")
def desk(folder: Path, port: int | None, no_browser: bool) -> None:
    """Do the whole job in a browser on this machine: read, put right, value, price, bid, restore.

    FOLDER holds market.toml and pairband.duckdb; left out, this folder. In an empty one the desk begins with a few
    questions, or with the demo. Only this machine can reach it, and only with the address that it prints. It ends with
    Ctrl-C.

    Example: pairband desk demo
    """
    from pipeline.desk.server import serve

    serve(folder, port=port or 0, opens_browser=not no_browser)
