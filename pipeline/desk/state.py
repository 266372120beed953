"""What a folder holds now: records, fit, doubts."""

from dataclasses import dataclass
from datetime import date

from pipeline.desk.doubt_list import Doubt, list_doubts
from pipeline.errors import FitError, PairbandError
from pipeline.workspace import Workspace


@dataclass(frozen=True)
class State:
    """What a folder holds; `stale` says why the latest fit is out of date, `fault` what is wrong with the folder."""

    records: int = 0
    awaiting: tuple[Doubt, ...] = ()
    fitted_on: date | None = None
    stale: str = ""
    fault: str = ""

    @property
    def doubts(self) -> int:
        """How many doubts await the owner's decision."""
        return len(self.awaiting)


def state_of(workspace: Workspace) -> State:
    """Return what a workspace holds, and close it."""
    with workspace:
        if not workspace.ledger_path.exists():
            return State()
        try:
            records = int(workspace.ledger.read("marts/desk_state").item())
            awaiting = list_doubts(workspace.ledger)
            fitted_on, stale = None, ""
            try:
                fitted_on, stale = workspace.fitted.source.fitted_on, workspace.stale
            except FitError:
                stale = "There is no fit yet." if records else ""
            return State(records, awaiting, fitted_on, stale)
        except PairbandError as exc:
            return State(fault=str(exc))
