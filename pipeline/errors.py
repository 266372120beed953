"""Every error that a user can meet: what happened, where, and what to do."""

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Self


class PairbandError(Exception):
    """The base of all errors that are shown to the user without a traceback.

    `what` says what happened and where; `remedy` says what to do about it.
    """

    def __init__(self, what: str, remedy: str = "") -> None:
        super().__init__(what if not remedy else f"{what}\n{remedy}")
        self.what = what
        self.remedy = remedy


class MarketFileError(PairbandError):
    """The market file is missing, is not TOML, or holds a value that is not allowed."""


class ExportError(PairbandError):
    """An exported file cannot be read at all, so no row of it can be judged."""


class MapError(PairbandError):
    """No export map fits a file, several do, or a map names a column that is not there."""


class LedgerError(PairbandError):
    """The ledger is missing, held by another process, of another version, or damaged."""


class FitError(PairbandError):
    """The records cannot carry the model that was asked for."""


class PairError(PairbandError):
    """A pair to be valued is described in a way that cannot be."""


class DecisionError(PairbandError):
    """A decision of the owner contradicts one that is kept, or there is none to take back."""


class CorrectionError(PairbandError):
    """A correction, or a sale that is added by hand, cannot be read as one."""


class ReportError(PairbandError):
    """A page, a table or a figure cannot be made or written."""


class PictureError(PairbandError):
    """A photograph of a pair cannot be read, or lies outside the owner's folder of pictures."""


class DeskError(PairbandError):
    """The desk cannot be opened, or a request to it cannot be done."""


class UnknownName(PairbandError):
    """A name is not among those known."""

    @classmethod
    def among(cls, kind: str, name: str, known: Iterable[str], remedy: str = "") -> Self:
        """Say which `kind` of thing is not known by `name`, with the nearest known names."""
        names = sorted(set(known))
        return cls(f"no {kind} is called {name!r}", remedy or suggest(name, names))


def suggest(name: str, known: Iterable[str], *, most: int = 8) -> str:
    """Say which known names are near to `name`, or else the first few that there are."""
    names = list(known)
    if not names:
        return "none are known yet."
    folded = {known_name.casefold(): known_name for known_name in names}
    near = [folded[match] for match in get_close_matches(name.casefold(), list(folded), n=3, cutoff=0.6)]
    if near:
        return "did you mean " + " or ".join(repr(match) for match in near) + "?"
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return "known: " + ", ".join(names[:most]) + more + "."
