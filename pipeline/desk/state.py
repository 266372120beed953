"""What a folder holds now: records, fit, doubts."""

from dataclasses import dataclass
from datetime import date

from pipeline.errors import FitError, PairbandError
from pipeline.ingest.review import near_matches
from pipeline.workspace import Workspace


@dataclass(frozen=True)
class State:
    """What a folder holds; `stale` says why the latest fit is out of date, `fault` what is wrong with the folder."""

    records: int = 0
    doubts: int = 0
    fitted_on: date | None = None
    stale: str = ""
    fault: str = ""


def state_of(workspace: Workspace) -> State:
    """Return what a workspace holds, and close it."""
    with workspace:
        if not workspace.ledger_path.exists():
            return State()
        try:
            counted = workspace.ledger.read("marts/desk_state").row(0, named=True)
            doubts = int(counted["excluded"]) + near_matches(workspace.ledger).height
            fitted_on, stale = None, ""
            try:
                fitted_on, stale = workspace.fitted.source.fitted_on, workspace.stale
            except FitError:
                stale = "There is no fit yet." if counted["records"] else ""
            return State(counted["records"], doubts, fitted_on, stale)
        except PairbandError as exc:
            return State(fault=str(exc))
