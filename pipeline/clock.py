"""The clock: the moment in UTC, which is what is stored, and the owner's own day, which is "today"."""

from datetime import UTC, date, datetime


def now() -> datetime:
    """Return this moment in UTC; the one place where the clock is read."""
    return datetime.now(UTC)


def day_of(moment: datetime) -> date:
    """Return the day that a moment falls on where the owner is: the time zone of this machine."""
    try:
        return moment.astimezone().date()
    except (OverflowError, OSError, ValueError):  # at the ends of the calendar there is no other zone
        return moment.date()


def today() -> date:
    """Return the owner's day now."""
    return day_of(now())
