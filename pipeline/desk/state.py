"""What a folder holds now: records, fit, what awaits the owner."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from pipeline.desk.doubt_list import Doubt, list_doubts
from pipeline.errors import FitError, PairbandError
from pipeline.workspace import Workspace

MOST_DONE = 8


@dataclass(frozen=True)
class Done:
    """Something that was done to the ledger: `kind` is "read", "decided" or "fitted"; `done_at` is in UTC."""

    done_at: datetime
    kind: str
    what: str
    counted: int


@dataclass(frozen=True)
class State:
    """What a folder holds; `stale` says why the latest fit is out of date, `fault` what is wrong with the folder.

    `faults_read` are the digests of files that were read, each with how many of its rows and cells could not be;
    `unread` are files that lie there and were not read, or were changed since. `is_known` says whether all that was
    looked up by now.
    """

    records: int = 0
    faults_read: tuple[tuple[str, int], ...] = ()
    files: int = 0
    unread: tuple[str, ...] = ()
    fitted_on: date | None = None
    stale: str = ""
    done: tuple[Done, ...] = ()
    fault: str = ""
    is_known: bool = True


def state_of(workspace: Workspace, files: Sequence[str]) -> State:
    """Return what a workspace holds, and close it; `files` lie in its folder."""
    with workspace:
        try:
            unread = _unread(workspace, files)
            if not workspace.ledger_path.exists():
                return State(unread=unread)
            ledger = workspace.ledger
            counted = ledger.read("marts/desk_state").row(0, named=True)
            done = tuple(Done(*row) for row in ledger.read("marts/last_done", most=MOST_DONE).iter_rows())
            fitted_on, stale = None, ""
            try:
                fitted_on, stale = workspace.fitted.source.fitted_on, workspace.stale
            except FitError:
                stale = "There is no fit yet." if counted["records"] else ""
            readings = ledger.read("staging/known_readings").iter_rows(named=True)
            faults = tuple((one["file_sha256"], one["quarantined"] + one["unread"]) for one in readings)
            return State(
                **counted, faults_read=faults, unread=unread, fitted_on=fitted_on, stale=stale, done=done
            )
        except PairbandError as exc:
            return State(fault=str(exc))


def doubts_of(workspace: Workspace) -> tuple[Doubt, ...]:
    """Return what awaits the owner's decision, and close the workspace."""
    with workspace:
        return list_doubts(workspace.ledger) if workspace.ledger_path.exists() else ()


def _unread(workspace: Workspace, files: Sequence[str]) -> tuple[str, ...]:
    """Return the files of sales or stock that were not read as they are now, by name and size."""
    known: set[tuple[str, int]] = set()
    if workspace.ledger_path.exists():
        known = set(workspace.ledger.read("staging/files_known").iter_rows())
    return tuple(
        name
        for name in files
        if (Path(name).name, Path(name).stat().st_size) not in known and _is_to_be_read(Path(name), workspace)
    )


def _is_to_be_read(file: Path, workspace: Workspace) -> bool:
    """Return whether a file is one of sales or stock: in a folder of exports, or named as one beside the ledger."""
    from pipeline.answers.market_file.map_text import maps_for

    market, name = workspace.market, file.name
    if file.parent == Path():
        return bool(maps_for(name, market) or maps_for(name, market, "stock"))
    return not maps_for(name, market, "lots")
