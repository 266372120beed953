"""What one desk holds while it is open: its folder, its secrets, work under way, answers, drafts."""

from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from threading import Lock
from types import TracebackType
from typing import TYPE_CHECKING, Generic, Self, TypeVar

from pipeline.answers.market_file.map_text import maps_for
from pipeline.config import Market, load_market
from pipeline.desk.calls import Called
from pipeline.desk.doubt_list import Doubt
from pipeline.desk.drafts import Drafts
from pipeline.desk.jobs import Job, Jobs, OnProgress
from pipeline.desk.jobs import State as JobState
from pipeline.desk.kept_workspace import KeptWorkspaces
from pipeline.desk.notices import Notices
from pipeline.desk.safety import ENTRY
from pipeline.desk.server import HOST, new_secret
from pipeline.desk.state import State, doubts_of, state_of
from pipeline.errors import LedgerError, MarketFileError
from pipeline.ledger import open_ledger
from pipeline.ledger.files import logs_of
from pipeline.ledger.sharing import sharing
from pipeline.workspace import DESK_FOLDER, LEDGER_FILE, MARKET_FILE, Workspace

if TYPE_CHECKING:
    from pipeline.ingest.proposal import Holds

EXPORTS = "exports"
"""The folder of the dealer's folder in which the desk keeps the exports that it is given."""

FOLDERS = (EXPORTS, "lists", ".")
"""Where the desk looks for files to read."""

ENDINGS = (
    ".csv",
    ".tsv",
    ".txt",
    ".xlsx",
    ".xls",
    ".ods",
    ".html",
    ".htm",
    ".json",
    ".jsonl",
    ".ndjson",
    ".parquet",
)

SOON = 0.5
"""Seconds for which a page waits for what the folder holds, before it says what it held before."""

ENDINGS_HERE = tuple(one for one in ENDINGS if one not in (".html", ".htm", ".txt"))
"""Of those, the ones in the folder itself, where pages and notes lie as well."""

PATIENCE = 10.0
"""Seconds for which the desk waits, as it is closed, for work to let go of the ledger."""

Kept = TypeVar("Kept")


class Newest(Generic[Kept]):
    """The things kept last, at most so many, by key; safe to use from several threads."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[object, Kept] = OrderedDict()
        self._lock = Lock()

    def get(self, key: object) -> Kept | None:
        """Return what is kept by a key, None where there is nothing."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def newest(self) -> Kept | None:
        """Return what was kept or asked for last, None where nothing is kept."""
        with self._lock:
            return next(reversed(self._kept.values()), None)

    def keep(self, key: object, value: Kept) -> Kept:
        """Keep a thing by its key, and let go of the one that was not asked for longest; return it."""
        with self._lock:
            self._kept[key] = value
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return value

    def once(self, key: object, make: Callable[[], Kept]) -> Kept:
        """Return what is kept by a key, made and kept where there is nothing."""
        known = self.get(key)
        return self.keep(key, make()) if known is None else known


class Desk:
    """One open desk; use it as a context manager, which ends its work."""

    def __init__(self, folder: Path, *, port: int) -> None:
        self.folder = folder
        self.port = port
        self.entry_secret = new_secret()
        self.cookie_secret = new_secret()
        self.ledger_path = Path(
            LEDGER_FILE
        )  # as the commands name it, from the folder in which the desk runs
        self.market_path = Path(MARKET_FILE)
        self.jobs = Jobs()
        self.drafts = Drafts(folder / DESK_FOLDER / "drafts")
        self.answers: Newest[Called] = Newest(20)
        self.assets: Newest[tuple[str, bytes]] = Newest(200)
        self.answering: Newest[Job[Called]] = Newest(20)
        self.notices = Notices()
        self.kept = KeptWorkspaces(self.workspace)
        self._markets: Newest[Market] = Newest(2)
        self._lists: Newest[tuple[str, ...]] = Newest(2)
        self._states: Newest[Job[State]] = Newest(1)
        self._doubts: Newest[Job[tuple[Doubt, ...]]] = Newest(1)
        self._last_state = State(is_known=False)
        self._looking = Lock()
        self._sharing = sharing()

    @property
    def first_address(self) -> str:
        """The address by which a browser enters."""
        return f"http://{HOST}:{self.port}{ENTRY}?key={self.entry_secret}"

    def workspace(self) -> Workspace:
        """Return the folder's workspace, to be closed after use."""
        return Workspace(self.ledger_path, self.market_path)

    def market(self) -> Market | None:
        """Return the market file as it is now; None where there is none, or it has an error."""
        try:
            return self._markets.once(stamp_of(self.market_path), lambda: load_market(self.market_path))
        except MarketFileError:
            return None

    def market_fault(self) -> str:
        """Return what is wrong with the market file, in words; "" where it is good."""
        try:
            load_market(self.market_path)
        except MarketFileError as exc:
            return str(exc)
        return ""

    @property
    def has_market(self) -> bool:
        """Whether the folder has a market file."""
        return self.market_path.exists()

    @property
    def has_ledger(self) -> bool:
        """Whether the folder has a ledger."""
        return self.ledger_path.exists()

    def moment(self) -> tuple[tuple[int, int], ...]:
        """Return what changes whenever market file, ledger, rates or an export do: what answers are kept by."""
        paths = [self.market_path, self.ledger_path, *logs_of(self.ledger_path)]
        paths += [Path(name) for name in self.files()]
        market = self.market()
        if market is not None and market.rates.file is not None:
            paths.append(Path(market.rates.file))
        return tuple(stamp_of(path) for path in paths)

    def files(self) -> list[str]:
        """Return the exports and lists of the folder, each as it is named from there."""
        found = []
        for name in FOLDERS:
            place = Path(name)
            if place.is_dir() and not place.is_symlink():
                found += [
                    str(one)
                    for one in sorted(place.iterdir())
                    if one.suffix.lower() in (ENDINGS if name != "." else ENDINGS_HERE)
                    and one.is_file()
                    and not one.is_symlink()
                ]
        return found

    def lists(self) -> tuple[str, ...]:
        """Return those of `files` that hold pairs which are no sales: stock and upcoming lots."""
        return self._lists.once(self.moment(), lambda: tuple(self.files_holding("stock", "lots")))

    def files_holding(self, *kinds: "Holds") -> list[str]:
        """Return those of `files` for which a map of one of these kinds is."""
        market = self.market()
        if market is None:
            return []
        return [
            name for name in self.files() if any(maps_for(Path(name).name, market, kind) for kind in kinds)
        ]

    def is_stale(self) -> bool:
        """Whether records or the market file changed since the latest fit, as far as that is known."""
        return bool(self.state().stale)

    def state(self, seconds: float = SOON) -> State:
        """Return what there is; what there was last where that takes longer, or is being changed."""
        if self._last_state.is_known and any(job.writes and not job.ended for job in self.jobs.all()):
            return self._last_state
        job = self._found(
            self._states, "Looking at the folder", lambda: state_of(self.workspace(), self.files())
        )
        job.wait(seconds)
        if job.result is not None:
            self._last_state = job.result
        elif job.ended:
            return State(fault=job.error)
        return self._last_state

    def doubts(self, seconds: float = SOON) -> tuple[Doubt, ...] | None:
        """Return what awaits the owner's decision; None where that is not found yet."""
        job = self._found(self._doubts, "Looking for doubts", lambda: doubts_of(self.workspace()))
        job.wait(seconds)
        return job.result

    def _found(self, kept: "Newest[Job[Kept]]", what: str, find: Callable[[], Kept]) -> "Job[Kept]":
        """Return the work that finds something of the folder as it is now; what was begun before is stopped."""
        with self._looking:
            moment = self.moment()
            job = kept.get(moment)
            if job is None or job.state is JobState.CANCELLED:
                if (before := kept.newest()) is not None:
                    before.cancel()
                job = kept.keep(moment, self.jobs.start(what, lambda _: find(), writes=False))
            return job

    def __enter__(self) -> Self:
        self._sharing.__enter__()
        if self.has_ledger and not self._reads_the_ledger():
            self.jobs.start("Bringing the ledger up to date", self._update, writes=True)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, exc: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.jobs.close(PATIENCE)
        self._sharing.__exit__(kind, exc, trace)

    def _reads_the_ledger(self) -> bool:
        try:
            open_ledger(self.ledger_path, read_only=True).close()
        except LedgerError:
            return False
        return True

    def _update(self, _on_progress: OnProgress) -> None:
        """Bring a ledger of an earlier version up to date; what else is wrong with one, its pages say."""
        open_ledger(self.ledger_path).close()


def stamp_of(path: Path) -> tuple[int, int]:
    """Return what changes whenever a file is written: its time and its size, zeros where it is not there."""
    try:
        seen = path.stat()
    except OSError:
        return 0, 0
    return seen.st_mtime_ns, seen.st_size
