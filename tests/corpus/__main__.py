"""Write the files of the corpus again: `python -m tests.corpus`."""

from pathlib import Path

from tests.corpus.cases import CASES

FILES = Path(__file__).parent / "files"

if __name__ == "__main__":
    FILES.mkdir(exist_ok=True)
    for case in CASES:
        (FILES / case.file).write_bytes(case.content)
