"""Charts that are drawn once in a run of the tests: the same chart comes out of the library in the same lines.

A quarter of the time of tests of pages went into drawing the same ones again. Workers share the drawings in a
folder of their own, which is gone with the run.
"""

import atexit
import functools
import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import vl_convert

FOLDER = "PAIRBAND_TEST_DRAWINGS"
"""The variable by which the first process tells the workers where the drawings lie."""


def share_drawings() -> None:
    """Let every process of this run take a drawing from where another left it.

    The library's own function is the `__wrapped__` of the one put in its place.
    """
    if FOLDER not in os.environ:
        os.environ[FOLDER] = tempfile.mkdtemp(prefix="pairband-drawings-")
        atexit.register(shutil.rmtree, os.environ[FOLDER], ignore_errors=True)
    folder = Path(os.environ[FOLDER])
    vl_convert.vegalite_to_svg = _once(vl_convert.vegalite_to_svg, folder)


def _once(draw: Callable[..., str], folder: Path) -> Callable[..., str]:
    @functools.wraps(draw)
    def drawn(spec: dict[str, Any], **options: Any) -> str:
        asked = json.dumps([spec, options], sort_keys=True, default=str)
        kept = folder / hashlib.sha256(asked.encode()).hexdigest()
        if kept.exists():
            return kept.read_text(encoding="utf-8")
        svg = draw(spec, **options)
        own = kept.with_suffix(f".{os.getpid()}")
        own.write_text(svg, encoding="utf-8")
        own.replace(kept)
        return svg

    return drawn
