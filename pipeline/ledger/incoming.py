"""The frame that a statement reads: one name in the engine, whatever frame stands behind it."""

import polars as pl

INCOMING = "incoming"
"""The name under which a statement reads the frame that it is handed."""


class Incoming:
    """A place for a frame that the engine scans through the Arrow C stream interface.

    It is registered once, before any transaction: a name that is registered again within a transaction keeps
    its frame in memory until the transaction ends.
    """

    def __init__(self) -> None:
        self.frame = self._nothing()

    def __arrow_c_stream__(self, requested_schema: object | None = None) -> object:
        """Return the stream of the frame that stands here now."""
        return self.frame.__arrow_c_stream__(requested_schema)

    def clear(self) -> None:
        """Let the frame go."""
        self.frame = self._nothing()

    @staticmethod
    def _nothing() -> pl.DataFrame:
        return pl.DataFrame({"nothing": pl.Series(dtype=pl.Boolean)})
