"""The view Read of the desk: files come in, are mapped, read, and their lost rows settled."""

import asyncio
import html
import io
import re
import shutil
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient
from starlette.types import Message

from pipeline.config import load_market
from pipeline.desk import reading_map
from pipeline.desk.app import build_app
from pipeline.desk.desk import Desk
from pipeline.ledger import open_ledger
from tests.desk_client import OWN, open_desk
from tests.exports import write_holm

MARKET = Path(__file__).parents[1] / "market.toml"
LEILOES = (
    "Nº do lote;Descrição;Data da venda;Preço final;Situação;Tamanho;Estado;Caixa\n"
    '101;Gannet Hi azul;13/03/2024;"1.234,50 €";vendido;42,5;8;caixa original\n'
    "102;Gannet Hi vermelho;14/03/2024;240,00 €;vendido;43;7,5;sem caixa\n"
    "103;Gannet Lo preto;25/03/2024;180,00 €;não vendido;41;6;sem caixa\n"
    "104;Gannet Hi branco;28/03/2024;abc;vendido;44;8,5;sem caixa\n"
    "105;Gannet Lo cinza;30/03/2024;95,00 €;zzz;42;ótimo;sem caixa\n"
)
FILE = "exports/leiloes_2024.csv"
HOLM = [f"{lot};Gannet Hi Nr. {lot};0{lot}.03.2021;{100 + lot};zugeschlagen;43;" for lot in range(1, 9)]


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[Desk, TestClient]]:
    (tmp_path / "market.toml").write_bytes(MARKET.read_bytes())
    with open_desk(tmp_path) as one:
        yield one.desk, one.client


def words(response: Response) -> str:
    """Return what a page says, without its markup."""
    main = response.text.split("<main", 1)[-1].split("</main>", 1)[0]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", main)).split())


def bring(client: TestClient, name: str, content: bytes | str) -> Response:
    return client.post("/read/upload", files=[("files", (name, content))])


def fields_of(page: Response) -> dict[str, str]:
    """Return the form of a map as a browser would send it."""
    said = {}
    for name, options in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', page.text, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        said[name] = chosen[1] if chosen else ""
    said |= dict(re.findall(r'<input[^>]*name="([^"]*)"[^>]*value="([^"]*)"', page.text))
    return {html.unescape(name): html.unescape(value) for name, value in said.items()}


def read(desk: Desk, client: TestClient, **said: str) -> Response:
    """Read files, and return the page of what came of them."""
    begun = client.post("/read/begin", data=said, follow_redirects=False)
    assert begun.status_code == 303, words(begun)
    assert desk.jobs.all()[0].wait(60)
    return client.get(begun.headers["location"])


ANSWERS = {"key:venue": "Holm Sound Auctions", "key:price_basis": "hammer"}


def take_over(desk: Desk, client: TestClient, **said: str) -> Response:
    """Take the map of FILE over, and return the page of what was read by it."""
    form = fields_of(client.get("/read/map", params={"file": FILE}))
    sent = client.post("/read/map", data=form | ANSWERS | said | {"do": "take"}, follow_redirects=False)
    if sent.status_code != 303:
        return sent
    assert desk.jobs.all()[0].wait(60)
    return client.get(sent.headers["location"])


class TestComingIn:
    def test_a_file_lies_in_the_folder_of_exports(self, opened: tuple[Desk, TestClient]) -> None:
        desk, client = opened
        bring(client, "../../leiloes_2024.csv", LEILOES)
        assert (desk.folder / FILE).read_text(encoding="utf-8") == LEILOES

    def test_one_without_a_map_goes_on_to_its_map(self, opened: tuple[Desk, TestClient]) -> None:
        _, client = opened
        assert bring(client, "leiloes_2024.csv", LEILOES).url.path == "/read/map"

    def test_several_files_go_to_the_list(self, opened: tuple[Desk, TestClient]) -> None:
        _, client = opened
        sent = [("files", ("a.csv", b"x;y\n1;2\n")), ("files", ("b.csv", b"x;y\n3;4\n"))]
        page = client.post("/read/upload", files=sent)
        assert page.url.path == "/read"
        assert "a.csv" in words(page)
        assert "b.csv" in words(page)

    def test_no_file_is_said_in_words(self, opened: tuple[Desk, TestClient]) -> None:
        _, client = opened
        page = client.post("/read/upload", data={"files": "text"})
        assert page.status_code == 400
        assert "No file came in" in words(page)

    def test_what_is_no_export_is_refused_and_the_others_are_kept(
        self, opened: tuple[Desk, TestClient]
    ) -> None:
        desk, client = opened
        sent = [("files", ("x.exe", b"MZ")), ("files", ("b.csv", b"x;y\n3;4\n"))]
        page = client.post("/read/upload", files=sent)
        assert "x.exe is no export" in words(page)
        assert desk.files() == ["exports/b.csv"]

    def test_a_script_is_answered_with_where_to_go(self, opened: tuple[Desk, TestClient]) -> None:
        _, client = opened
        said = client.post(
            "/read/upload",
            files=[("files", ("leiloes_2024.csv", LEILOES))],
            headers={"accept": "application/json"},
        )
        assert said.json() == {"then": "/read/map?file=exports%2Fleiloes_2024.csv"}

    def test_an_upload_that_is_stopped_keeps_nothing(self, opened: tuple[Desk, TestClient]) -> None:
        desk, client = opened
        begun = b'--x\r\ncontent-disposition: form-data; name="files"; filename="a.csv"\r\n\r\na;b\n1'
        coming: Iterator[Message] = iter(
            [{"type": "http.request", "body": begun, "more_body": True}, {"type": "http.disconnect"}]
        )
        answered: list[Message] = []

        async def receive() -> Message:
            return next(coming)

        async def send(message: Message) -> None:
            answered.append(message)

        cookies = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
        headers = {
            "host": OWN.removeprefix("http://"),
            "origin": OWN,
            "cookie": cookies,
            "content-type": "multipart/form-data; boundary=x",
        }
        scope = {
            "type": "http",
            "method": "POST",
            "path": "/read/upload",
            "query_string": b"",
            "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
        }
        with ThreadPoolExecutor() as other:  # a browser of tests before this one keeps a loop in this thread
            other.submit(lambda: asyncio.run(build_app(desk)(scope, receive, send))).result()
        assert answered[0]["status"] == 400
        assert [one for one in desk.folder.rglob("*") if one.suffix in (".csv", ".part")] == []

    def test_a_file_that_changed_says_so(self, opened: tuple[Desk, TestClient]) -> None:
        desk, client = opened
        write_holm(desk.folder, *HOLM)
        read(desk, client, file="holm_2021.csv")
        write_holm(desk.folder, *HOLM, "9;Gannet Hi;20.03.2021;99;zugeschlagen;43;")
        assert "Changed since it was read" in words(client.get("/read"))


def workbook_bomb() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b'<c r="XFD1048576"/>')
    return held.getvalue()


class TestWhatCannotBeRead:
    @pytest.mark.parametrize(
        ("name", "content", "said"),
        [
            ("empty.csv", b"", "is empty"),
            ("page.xlsx", b"<html><body>Session expired</body></html>", "is not what its ending says"),
            ("locked.xlsx", b"\xd0\xcf\x11\xe0" + b"\0" * 2_000, "is not what its ending says"),
            ("page.xls", b"<html><body>Session expired</body></html>", "page.xls"),
            ("bomb.xlsx", workbook_bomb(), "are the most that are read"),
            ("torn.xlsx", b"PK\x03\x04torn", "cannot be read as Excel"),
            ("sheet.csv", b"%PDF-1.7", "holds a PDF"),
        ],
    )
    def test_the_list_says_why(
        self, opened: tuple[Desk, TestClient], name: str, content: bytes, said: str
    ) -> None:
        _, client = opened
        bring(client, name, content)
        assert said in words(client.get("/read"))

    @pytest.mark.parametrize("path", ["/read/map", "/read/rows", "/read/rows/add"])
    def test_a_file_that_the_folder_does_not_have_is_not_found(
        self, opened: tuple[Desk, TestClient], path: str
    ) -> None:
        _, client = opened
        assert client.get(path, params={"file": "../../etc/passwd"}).status_code == 404

    def test_a_name_with_markup_is_shown_as_it_is(self, opened: tuple[Desk, TestClient]) -> None:
        _, client = opened
        bring(client, "<img src=x onerror=alert(1)>.csv", LEILOES)
        assert "<img" not in client.get("/read").text

    def test_headings_alone_are_no_rows(self, opened: tuple[Desk, TestClient]) -> None:
        desk, client = opened
        write_holm(desk.folder)
        assert "headings but no rows" in words(read(desk, client, file="holm_2021.csv"))

    def test_a_file_of_which_every_row_is_refused_says_so(self, opened: tuple[Desk, TestClient]) -> None:
        desk, client = opened
        write_holm(desk.folder, "1;Gannet Hi;99.99.2021;100;zugeschlagen;43;")
        assert "No row of it became a record" in words(read(desk, client, file="holm_2021.csv"))


class TestTheMap:
    def test_each_column_is_shown_with_its_cells_and_its_field(self, opened: tuple[Desk, TestClient]) -> None:
        _, client = opened
        page = bring(client, "leiloes_2024.csv", LEILOES)
        assert fields_of(page)["col:1:Preço final"] == "price_native"
        assert "1.234,50 €" in words(page)

    def test_the_rows_are_shown_as_they_will_be_read(self, opened: tuple[Desk, TestClient]) -> None:
        _, client = opened
        form = fields_of(bring(client, "leiloes_2024.csv", LEILOES))
        assert "1,234.50 EUR" in words(client.post("/read/map/preview", data=form | ANSWERS))

    def test_an_open_question_keeps_the_map_out(self, opened: tuple[Desk, TestClient]) -> None:
        desk, client = opened
        form = fields_of(bring(client, "leiloes_2024.csv", LEILOES))
        page = client.post("/read/map", data=form | {"do": "take"})
        assert "Venue is still open" in words(page)
        assert (desk.folder / "market.toml").read_bytes() == MARKET.read_bytes()

    def test_taken_over_it_stands_in_the_market_file_and_the_file_is_read(
        self, opened: tuple[Desk, TestClient]
    ) -> None:
        desk, client = opened
        bring(client, "leiloes_2024.csv", LEILOES)
        page = take_over(desk, client, **{"word:box:sem caixa": "none"})
        assert "5 rows read = 3 recorded" in words(page)
        made = load_market(desk.folder / "market.toml").maps["leiloes_2024"]
        assert (made.columns["price_native"], made.words["box"]) == ("Preço final", {"sem caixa": "none"})
        assert (desk.folder / "market.toml.before").read_bytes() == MARKET.read_bytes()

    def test_a_new_venue_comes_with_it(self, opened: tuple[Desk, TestClient]) -> None:
        desk, client = opened
        bring(client, "leiloes_2024.csv", LEILOES)
        new = {"name": "Casa Invento", "kind": "auction", "currency": "eur"}
        take_over(
            desk,
            client,
            **{"key:venue": "(new venue)"},
            **{f"new-venue:{key}": value for key, value in new.items()},
        )
        market = load_market(desk.folder / "market.toml")
        assert market.venue_by_name["Casa Invento"].currency == "EUR"
        assert market.maps["leiloes_2024"].venue == "Casa Invento"

    def test_another_price_is_asked_what_it_counts(self, opened: tuple[Desk, TestClient]) -> None:
        _, client = opened
        form = fields_of(bring(client, "leiloes_2024.csv", LEILOES))
        form |= {"col:1:Preço final": "", "col:1:Nº do lote": "price_native"}
        page = client.post("/read/map/preview", data=form)
        assert "The price counts (open)" in words(page)

    def test_what_was_chosen_is_there_after_a_reload(self, opened: tuple[Desk, TestClient]) -> None:
        _, client = opened
        form = fields_of(bring(client, "leiloes_2024.csv", LEILOES))
        client.post("/read/map", data=form | ANSWERS | {"col:1:Caixa": "notes", "do": "look"})
        again = fields_of(client.get("/read/map", params={"file": FILE}))
        assert (again["key:venue"], again["col:1:Caixa"]) == ("Holm Sound Auctions", "notes")

    def test_anew_begins_with_what_is_proposed(self, opened: tuple[Desk, TestClient]) -> None:
        _, client = opened
        form = fields_of(bring(client, "leiloes_2024.csv", LEILOES))
        client.post("/read/map", data=form | ANSWERS | {"do": "look"})
        client.post("/read/map", data={"file": FILE, "do": "afresh"})
        assert fields_of(client.get("/read/map", params={"file": FILE}))["key:venue"] == ""

    def test_a_map_that_is_changed_keeps_what_the_form_does_not_show(
        self, opened: tuple[Desk, TestClient]
    ) -> None:
        desk, client = opened
        bring(client, "leiloes_2024.csv", LEILOES)
        take_over(desk, client)
        path = desk.folder / "market.toml"
        with path.open("a", encoding="utf-8") as file:
            file.write('\n[maps.leiloes_2024.skip]\n"Descrição" = ["Schuhkarton"]  # boxes alone\n')
        take_over(desk, client, **{"word:status:zzz": "withdrawn"})
        made = load_market(path).maps["leiloes_2024"]
        assert (made.skip, made.status_words["zzz"]) == ({"Descrição": ("Schuhkarton",)}, "withdrawn")
        assert "# boxes alone" in path.read_text(encoding="utf-8")

    def test_a_header_row_that_is_no_number_is_said_at_its_field(
        self, opened: tuple[Desk, TestClient]
    ) -> None:
        _, client = opened
        form = fields_of(bring(client, "leiloes_2024.csv", LEILOES))
        page = client.post("/read/map/preview", data=form | {"key:header_row": "three"})
        assert "Write the number of the row" in words(page)

    def test_a_large_file_is_looked_at_in_the_background(
        self, opened: tuple[Desk, TestClient], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        desk, client = opened
        monkeypatch.setattr(reading_map, "MOST_LIVE_BYTES", 10)
        begun = client.post(
            "/read/upload", files=[("files", ("leiloes_2024.csv", LEILOES))], follow_redirects=False
        )
        looking = client.get(begun.headers["location"], follow_redirects=False)
        assert desk.jobs.all()[0].wait(60)
        assert fields_of(client.get(looking.headers["location"]))["col:1:Preço final"] == "price_native"


class TestFilesThatComeAgain:
    def test_a_doubt_is_asked_with_both_choices_and_settled(self, opened: tuple[Desk, TestClient]) -> None:
        desk, client = opened
        write_holm(desk.folder, *HOLM)
        read(desk, client, file="holm_2021.csv")
        others = [row.replace("Gannet Hi", "Plover Lo").replace("03.2021", "05.2022") for row in HOLM[3:]]
        write_holm(desk.folder, *HOLM[:3], *others)
        page = read(desk, client, file="holm_2021.csv")
        [question] = set(re.findall(r'button name="(doubt:[^"]*)"', page.text))
        done = read(desk, client, file="holm_2021.csv", **{html.unescape(question): "add"})
        assert "rows read" in words(done)
        with open_ledger(desk.ledger_path, read_only=True) as ledger:
            assert ledger.read("staging/known_readings").height == 2


@pytest.fixture(scope="module")
def read_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder in which a file was read by a map of its own."""
    folder = tmp_path_factory.mktemp("read")
    (folder / "market.toml").write_bytes(MARKET.read_bytes())
    with open_desk(folder) as one:
        bring(one.client, "leiloes_2024.csv", LEILOES)
        take_over(one.desk, one.client)
    return folder


class TestRowsToSettle:
    @pytest.fixture
    def mapped(self, read_once: Path, tmp_path: Path) -> Iterator[tuple[Desk, TestClient]]:
        shutil.copytree(read_once, tmp_path, dirs_exist_ok=True)
        with open_desk(tmp_path) as one:
            yield one.desk, one.client

    def page(self, client: TestClient) -> Response:
        return client.get("/read/rows", params={"file": FILE})

    def mark(self, client: TestClient, of: str) -> str:
        marks = re.findall(r'name="mark" value="([^"]*)"', self.page(client).text)
        return html.unescape(next(mark for mark in marks if of in mark))

    def test_each_shows_its_cells_and_why(self, mapped: tuple[Desk, TestClient]) -> None:
        _, client = mapped
        said = words(self.page(client))
        assert "Row 5: price abc" in said
        assert "not an amount" in said.lower()
        assert "Gannet Hi branco" in said

    def test_a_word_with_a_meaning_brings_its_row_in(self, mapped: tuple[Desk, TestClient]) -> None:
        desk, client = mapped
        client.post(
            "/read/rows/word", data={"file": FILE, "field": "status", "word": "zzz", "meaning": "unsold"}
        )
        assert "5 rows read = 4 recorded" in words(read(desk, client, file=FILE))

    def test_a_word_cannot_mean_what_its_field_does_not_have(self, mapped: tuple[Desk, TestClient]) -> None:
        _, client = mapped
        said = {"file": FILE, "field": "status", "word": "zzz", "meaning": "lost"}
        page = client.post("/read/rows/word", data=said)
        assert page.status_code == 400
        assert "'lost' says nothing of status" in words(page)

    def test_a_row_that_is_skipped_is_no_longer_open_and_comes_back(
        self, mapped: tuple[Desk, TestClient]
    ) -> None:
        _, client = mapped
        mark = self.mark(client, "price_native")
        assert "5 rows and cells that could not be read" in words(client.get("/"))
        page = client.post("/read/rows/settle", data={"file": FILE, "mark": mark, "how": "skip"})
        assert "4 rows and cells that could not be read" in words(client.get("/"))
        assert "Row 5" not in words(page).split("Settled by you")[0]
        page = client.post("/read/rows/settle", data={"file": FILE, "mark": mark, "how": "open"})
        assert "Row 5: price abc" in words(page)

    def test_a_sale_is_written_by_hand_from_its_cells(self, mapped: tuple[Desk, TestClient]) -> None:
        desk, client = mapped
        mark = self.mark(client, "price_native")
        form = client.get("/read/rows/add", params={"file": FILE, "mark": mark})
        said = fields_of(form)
        assert said["sold_on"] == "2024-03-28"
        said |= {
            "venue": "Holm Sound Auctions",
            "status": "sold",
            "price_native": "210",
            "price_basis": "hammer",
        }
        page = client.post("/read/rows/add", data=said)
        assert "by hand" in words(page).split("Settled by you")[1]
        with open_ledger(desk.ledger_path, read_only=True) as ledger:
            assert ledger.read("staging/kept_additions").height == 1

    def test_a_price_that_is_none_keeps_the_form_as_it_was_typed(
        self, mapped: tuple[Desk, TestClient]
    ) -> None:
        _, client = mapped
        said = fields_of(
            client.get("/read/rows/add", params={"file": FILE, "mark": self.mark(client, "price_native")})
        )
        page = client.post(
            "/read/rows/add", data=said | {"venue": "Holm Sound Auctions", "title": "My own words"}
        )
        assert page.status_code == 400
        assert fields_of(page)["title"] == "My own words"
