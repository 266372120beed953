"""Titles that have been read before: a large file is read in parts, and its titles repeat."""

import polars as pl

from pipeline.config import Market
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.titles import read_titles

_MOST_KEPT = 400_000


class TitleMemory:
    """Reads titles as `read_titles` does, each one only once for as long as it is kept."""

    def __init__(self, market: Market) -> None:
        self._market = market
        self._known: pl.DataFrame | None = None

    def read(self, titles: pl.Series) -> pl.DataFrame:
        """Return what `read_titles` returns, for these titles and maybe for others read before."""
        distinct = distinct_texts(titles, "title")
        if self._known is None:
            self._known = read_titles(distinct["title"], self._market)
            return self._known
        unseen = distinct.join(self._known.select("title"), on="title", how="anti")
        if unseen.height:
            kept = (
                self._known
                if self._known.height <= _MOST_KEPT
                else self._known.join(distinct, on="title", how="semi")
            )
            self._known = pl.concat([kept, read_titles(unseen["title"], self._market)])
        return self._known
