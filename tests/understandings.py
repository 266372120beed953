"""What was understood of small invented exports, for the tests of its page."""

from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from pipeline.answers.understood.answer import Understood
from pipeline.answers.understood.run import understood_file
from pipeline.config import load_market
from pipeline.ledger import open_ledger
from tests.exports import ingest, write_holm

USUAL = (
    *(f"{number};Gannet Hi, first run;{number:02d}.03.2021;{100 + number};zugeschlagen;43;" for number in range(1, 9)),
    "9;Gannet Hi, second run, original box;10.03.2021;4000;zugeschlagen;43;",
    "10;Plover Lo, retro, no box;11.03.2021;;zurück;42;",
    "11;Oyster Mid;11.03.2021;55;zugeschlagen;47;",
    "12;Plover Lo;31.02.2021;55;zugeschlagen;42;",
)  # fmt: skip
HOSTILE = (
    "1;<img src=x onerror=\"document.title='owned'\"> Gannet Hi;04.03.2021;600;zugeschlagen;43;",
    "2;</script><script>document.title='owned'</script>;05.03.2021;60;zugeschlagen;<b>43;",
)


@cache
def usual_file() -> Understood:
    """Return what was understood of a file with something of everything."""
    return _understood(*USUAL)


@cache
def hostile_file() -> Understood:
    """Return what was understood of a file whose titles and cells would run as scripts."""
    return _understood(*HOSTILE)


@cache
def unreadable_file() -> Understood:
    """Return what was understood of a file of which no row could be read."""
    return _understood(USUAL[-1])


def _understood(*rows: str) -> Understood:
    folder = Path(mkdtemp(prefix="pairband-understood-"))
    market = load_market(Path(__file__).parent / "market.toml")
    with open_ledger(folder / "ledger.duckdb", create=True) as ledger:
        ingest(ledger, market, [write_holm(folder, *rows)])
        return understood_file(ledger, market, None)
