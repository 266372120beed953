"""Begin: write the starter of the market file."""

from pathlib import Path

import pipeline
from pipeline.errors import MarketFileError


def write_starter(path: Path) -> Path:
    """Write the commented starter of the market file; raises MarketFileError where one is there."""
    starter = (Path(pipeline.__file__).parent / "starter.toml").read_text(encoding="utf-8")
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(starter)
    except FileExistsError as exc:
        raise MarketFileError(
            f"{path} is there already; nothing was written", "move it away first, or edit it."
        ) from exc
    except OSError as exc:
        raise MarketFileError(
            f"{path} cannot be written: {exc.strerror}", "choose a folder that you may write to."
        ) from exc
    return path
