"""Begin: write the starter of the market file."""

from pathlib import Path

import pipeline
from pipeline.outfile import write_new_file


def write_starter(path: Path) -> Path:
    """Write the commented starter of the market file; raises ReportError where a file is there already."""
    return write_new_file((Path(pipeline.__file__).parent / "starter.toml").read_bytes(), path)
