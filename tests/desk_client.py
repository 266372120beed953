"""A desk without its server, and a browser of it that has entered: what the tests of the desk's views share."""

from collections.abc import Iterator
from contextlib import chdir, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from pipeline.desk.app import build_app
from pipeline.desk.calls import call
from pipeline.desk.desk import Desk
from pipeline.desk.jobs import Job
from pipeline.desk.server import HOST
from pipeline.workspace import DESK_FOLDER
from tests.exports import write_holm, write_lantern
from tests.folders import written_once

HERE = Path(__file__).parent
PORT = 8199
OWN = f"http://{HOST}:{PORT}"
HOLM = (
    "1;Gannet Hi Buoy Red, first run;04.03.2021;600,00;zugeschlagen;43;seen at the fair",
    "2;Plover Lo, café crème;05.03.2022;80;zugeschlagen;42;",
    "3;Gannet Hi, first run;06.03.2023;;zurück;42;",
    "4;Unheard Of Mid;07.03.2023;90;zugeschlagen;42;",
)
LANTERN = "7,TP-1,Gannet Hi second run,2021-02-01,2021-03-09,120,100,sold,UK 9,8,original"


@dataclass
class OpenDesk:
    """An open desk and a client that has entered it; posts say that they come from the desk's own page."""

    desk: Desk
    client: TestClient

    def wait(self) -> Job[Any]:
        """Wait for the change that was begun last, and return it; raises TimeoutError where it does not end."""
        job = next(one for one in self.desk.jobs.all() if one.writes)
        if not job.wait(120):
            raise TimeoutError(job.what)
        return job

    def settle(self) -> None:
        """Wait until no work is under way."""
        for job in self.desk.jobs.all():
            if not job.wait(120):
                raise TimeoutError(job.what)

    def record(self) -> str:
        """Return the id of a sold record."""
        with self.desk.workspace() as workspace:
            ids = workspace.ledger.connection.sql("SELECT min(record_id) FROM sales WHERE status = 'sold'")
            return str(ids.fetchall()[0][0])


@contextmanager
def open_desk(folder: Path, *, enters: bool = True) -> Iterator[OpenDesk]:
    """Open the desk of a folder, from which the process then runs as the command does."""
    (folder / DESK_FOLDER).mkdir(mode=0o700, exist_ok=True)
    with chdir(folder), Desk(folder, port=PORT) as desk:
        client = TestClient(
            build_app(desk), base_url=OWN, headers={"origin": OWN}, raise_server_exceptions=False
        )
        if enters:
            client.get(desk.first_address, follow_redirects=False)
        yield OpenDesk(desk, client)


@written_once
def write_read_shop(folder: Path) -> None:
    """Write the folder of `write_shop` with a ledger into which both exports were read."""
    files = write_shop(folder)
    with chdir(folder):
        called = call("ingest", files)
    if called.fault:
        raise RuntimeError(called.fault)


def write_shop(folder: Path) -> list[str]:
    """Write a small dealer's folder: the market file of the tests and two exports; return how these are named there."""
    (folder / "market.toml").write_bytes((HERE / "market.toml").read_bytes())
    exports = folder / "exports"
    exports.mkdir()
    files = [write_holm(exports, *HOLM), write_lantern(exports, LANTERN)]
    return [str(file.relative_to(folder)) for file in files]
