"""A dealer's folder, opened once: market file, ledger, latest fit, sales and rates, each read when first asked for.

Every answer starts from here: on the command line, in a report of many pages, and in a notebook (`pipeline.notebook`).
"""

from collections.abc import Callable, Hashable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self, TypeVar

import polars as pl

from pipeline.config import Market, load_market
from pipeline.errors import FitError
from pipeline.ledger import Ledger, open_ledger
from pipeline.market.fitted_market import FittedMarket, from_stored, why_stale
from pipeline.pictures.album import Album

if TYPE_CHECKING:
    from pipeline.phrases.phrases import Phrases

T = TypeVar("T")

MARKET_FILE = "market.toml"
LEDGER_FILE = "pairband.duckdb"
DESK_FOLDER = ".pairband-desk"
"""The folder of the desk's own files: its lock, drafts, what was settled while reading."""

MOST_COMPARABLE_SALES = 20_000
"""How many sales of a silhouette, the most recent, are looked through for comparables."""


class Workspace:
    """One ledger with its market file, opened for reading; use it as a context manager, or close it.

    Nothing is read before it is asked for, and nothing is read twice. The ledger is never changed from here.
    """

    def __init__(self, ledger_path: Path, market_path: Path) -> None:
        self.ledger_path = ledger_path
        self.market_path = market_path
        self._sales: dict[str | None, pl.DataFrame] = {}
        self._made: dict[Hashable, Any] = {}

    @classmethod
    def open(cls, folder: str | Path = ".") -> Self:
        """Open the folder that holds market.toml and pairband.duckdb."""
        return cls(Path(folder) / LEDGER_FILE, Path(folder) / MARKET_FILE)

    @property
    def business(self) -> str:
        """The owner's name and town, as they stand on pages."""
        return self.market.business.heading

    @cached_property
    def market(self) -> Market:
        """The market file; raises MarketFileError where it is missing or has an error."""
        return load_market(self.market_path)

    @cached_property
    def ledger(self) -> Ledger:
        """The ledger, for reading only; raises LedgerError where it cannot be opened."""
        return open_ledger(self.ledger_path, read_only=True)

    @property
    def fitted(self) -> FittedMarket:
        """The latest fit; raises FitError where the ledger holds none, or a damaged one."""
        return self._latest[0]

    @property
    def stale(self) -> str:
        """Why the latest fit is no longer that of the records and the market file; "" where it is."""
        return self._latest[1]

    @cached_property
    def _latest(self) -> tuple[FittedMarket, str]:
        stored = self.ledger.read("marts/latest_fit")
        if not stored.height:
            raise FitError(f"{self.ledger_path} holds no fit yet", "run `pairband fit` first.")
        row = stored.row(0, named=True)
        fitted = from_stored(row["document"], row["arrays"])
        digest = str(self.ledger.read("marts/records_digest").item())
        stale = why_stale(fitted.market_digest, fitted.records_digest, self.market, digest)
        return fitted, f"T{stale[0].what[1:]}: {stale[0].remedy}" if stale else ""

    @property
    def sales(self) -> pl.DataFrame:
        """All priced sales, in the columns of sql/marts/priced_sales.sql."""
        return self._priced(None, None)

    def sales_of(self, silhouette: str) -> pl.DataFrame:
        """Return the priced sales of a silhouette, the most recent MOST_COMPARABLE_SALES of them."""
        return self._priced(silhouette, MOST_COMPARABLE_SALES)

    def _priced(self, silhouette: str | None, most: int | None) -> pl.DataFrame:
        if silhouette not in self._sales:
            self._sales[silhouette] = self.ledger.read("marts/priced_sales", silhouette=silhouette, most=most)
        return self._sales[silhouette]

    @property
    def held(self) -> int:
        """How many sales and other things it holds in memory, so that whoever keeps it can let go of it."""
        return sum(sales.height for sales in self._sales.values()) + len(self._made)

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return what is made of the folder as it is, made when first asked for; `key` says what, and for which day."""
        if key not in self._made:
            self._made[key] = make()
        made: T = self._made[key]
        return made

    def album(self, numbers: Iterable[str | None]) -> Album:
        """Return the owner's photographs, of pairs with these stock numbers among others."""
        folder = self.market.pictures.folder
        return Album(None if folder is None else Path(folder), [number for number in numbers if number])

    def language(self, name: str | None = None) -> "Phrases":
        """Return the phrases of sheets and tickets in a language, or in the owner's; raises UnknownName."""
        from pipeline.phrases.languages import phrases_of

        return phrases_of(name or self.market.business.language, self.market)

    def rates_on(self, day: date) -> dict[str, float]:
        """Return units of each venue's currency for one of the base, the last known on a day."""
        return dict(self._rates_known(day).select("currency", "rate").iter_rows())

    def rate_days(self, day: date) -> dict[str, date]:
        """Return the day of the rate of each venue's currency that `rates_on` gives."""
        return dict(self._rates_known(day).select("currency", "rate_on").iter_rows())

    def _rates_known(self, day: date) -> pl.DataFrame:
        from pipeline.ingest.money import market_rates
        from pipeline.ingest.rates import convert_rates

        def convert() -> pl.DataFrame:
            currencies = sorted({venue.currency for venue in self.market.venues})
            keys = pl.DataFrame({"currency": currencies}).with_columns(day=pl.lit(day))
            found = convert_rates(keys, market_rates(self.market), base=self.market.base_currency)
            return found.drop_nulls("rate")

        return self.once(("rates", day), convert)

    def close(self) -> None:
        """Close the ledger, if it is open, so that others may write to it; it opens again when it is asked for."""
        if "ledger" in self.__dict__:
            self.ledger.close()
            del self.__dict__["ledger"]

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, exc: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


_LENT: ContextVar[Workspace | None] = ContextVar("lent", default=None)


@contextmanager
def lending(workspace: Workspace) -> Iterator[None]:
    """Let the commands that run inside use this workspace of theirs instead of opening one.

    What it has read is not read again, so nothing may have changed since, and one thread uses it at a time.
    """
    token = _LENT.set(workspace)
    try:
        yield
    finally:
        _LENT.reset(token)


def workspace_at(ledger_path: Path, market_path: Path) -> Workspace:
    """Return the workspace that is lent, where it is that of these files; else a new one."""
    lent = _LENT.get()
    if lent is not None and (lent.ledger_path, lent.market_path) == (ledger_path, market_path):
        return lent
    return Workspace(ledger_path, market_path)
