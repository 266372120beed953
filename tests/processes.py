"""Processes that tests start."""

import os


def uncounted() -> dict[str, str]:
    """Return the environment without the counting of coverage, which is slow and has a file of its own to write."""
    return {name: value for name, value in os.environ.items() if not name.startswith("COVERAGE_")}
