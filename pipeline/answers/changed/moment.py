"""The earlier day of a comparison, and the fit by which values were said then."""

from dataclasses import dataclass
from datetime import UTC, date, datetime

from pipeline import formats
from pipeline.clock import day_of
from pipeline.errors import FitError
from pipeline.ledger import Ledger
from pipeline.market.fitted_market import IN_FILES


@dataclass(frozen=True)
class Made:
    """One time that the market was fitted: see `fits_made` in the ledger."""

    fit_number: int
    fit_id: str
    fitted_at: datetime
    run_id: int
    ruling_number: int
    settings: str

    @property
    def day(self) -> date:
        """The owner's day on which it was."""
        return day_of(self.fitted_at.replace(tzinfo=UTC))


@dataclass(frozen=True)
class Moment:
    """An earlier day, the fit that held then and the latest; `caution` says what is odd in it, or is empty."""

    day: date
    earlier: Made
    later: Made
    caution: str = ""


def earlier_moment(ledger: Ledger, *, since: date | None, as_of: date) -> Moment:
    """Return the moment to compare with: that of the day `since`, else the last on which a value was kept before
    `as_of`, else that of the fit before the latest.

    Raises FitError where no fit is kept with its sales, or where there is no earlier one.
    """
    made = [Made(*row) for row in ledger.read("fits/fits_made").iter_rows()]
    stored = ledger.read("marts/latest_fit")
    latest = stored["fit_id"].to_list()
    if stored["records_digest"].str.starts_with(IN_FILES).any():
        raise FitError(
            "the latest fit is of sales in files outside the ledger, and of those no sale is kept to compare with",
            "run `pairband fit`, which fits the ledger's own sales, first.",
        )
    if not made or [made[-1].fit_id] != latest:
        raise FitError(
            f"{ledger.path} holds no fit whose sales are kept: pairband keeps them from its next fit on",
            "run `pairband fit`; what changes from then on can be explained.",
        )
    if since is not None:
        return _on(made, since)
    kept = ledger.read("outcomes/latest_kept", before=as_of)
    for said_on, fit_id in kept.iter_rows():
        said_by = [one for one in made if one.fit_id == fit_id]
        if said_by:
            return Moment(said_on, said_by[-1], made[-1])
    others = [one for one in made if one.fit_id != made[-1].fit_id and one.day <= as_of]
    if not others:
        raise FitError(
            "there is no earlier fit to compare with",
            "say --since DATE to see what the market did since then, or come back after the next `pairband fit`.",
        )
    return Moment(others[-1].day, others[-1], made[-1])


def _on(made: list[Made], since: date) -> Moment:
    before = [one for one in made if one.day <= since]
    if before:
        return Moment(since, before[-1], made[-1])
    first = made[0]
    return Moment(
        since,
        first,
        made[-1],
        f"No fit of {formats.day(since)} or before is kept: the first, of {formats.day(first.day)}, stands in its "
        "place, so that what came in before that shows in no part.",
    )
