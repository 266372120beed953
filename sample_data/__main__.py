"""Make the demo's files again: `python -m sample_data DIR`."""

import sys
from pathlib import Path

from sample_data.writer import write_files

_USAGE = "usage: python -m sample_data DIR   (writes the demo's exports, truth.json and expected.json there)"


def main(arguments: list[str]) -> int:
    """Write all files below the folder given; return the exit code."""
    if len(arguments) != 1 or arguments[0].startswith("-"):
        sys.stderr.write(f"{_USAGE}\n")
        return 2
    for path in write_files(Path(arguments[0])):
        sys.stdout.write(f"{path}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
