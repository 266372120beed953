"""The desk's view Read in real Chromium: an export of a house that nobody knows, from the drop to settled rows."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from pipeline.config import load_market
from tests.desks import running_desk

pytestmark = pytest.mark.browser

MARKET = Path(__file__).parents[1] / "market.toml"
FILE = "leilões de março.csv"
ROWS = (
    "Leilões do Cais — relatório\n"
    "Nº do lote;Descrição;Data da venda;Preço final;Situação;Tamanho;Estado;Caixa\n"
    '101;Gannet Hi azul e branco;13/03/2024;"1.234,50 €";vendido;42,5;8;caixa original\n'
    "102;Gannet Hi vermelho;14/03/2024;240,00 €;vendido;43;7,5;sem caixa\n"
    "103;Gannet Lo preto;25/03/2024;180,00 €;não vendido;41;6;sem caixa\n"
    "104;Gannet Hi branco;28/03/2024;a combinar;vendido;44;8,5;sem caixa\n"
    "105;Gannet Lo cinza;30/03/2024;95,00 €;foi-se;42;8;sem caixa\n"
)
SOON = 120_000
"""Milliseconds within which a page is there on a machine that has other work."""

DROP = """([name, text]) => {
  const held = new DataTransfer();
  held.items.add(new File([text], name, { type: "text/csv" }));
  document.body.dispatchEvent(new DragEvent("drop", { dataTransfer: held, bubbles: true, cancelable: true }));
}"""


@pytest.fixture(autouse=True)
def patient() -> Iterator[None]:
    expect.set_options(timeout=SOON)
    yield
    expect.set_options(timeout=5_000)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "market.toml").write_bytes(MARKET.read_bytes())
    return tmp_path


@pytest.fixture
def address(folder: Path) -> Iterator[str]:
    """Give the first address of an open desk of the folder."""
    with running_desk(folder) as entered:
        yield entered


@pytest.fixture
def page(chromium: Browser, address: str) -> Iterator[Page]:
    """Give a page of the desk; nothing in it may complain."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    complaints: list[str] = []
    opened.on("console", lambda message: complaints.append(message.text))
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    opened.goto(address)
    yield opened
    context.close()
    assert complaints == []


def test_an_unknown_export_is_dropped_mapped_read_and_settled(page: Page, folder: Path) -> None:
    page.get_by_role("link", name="Read", exact=True).click()
    expect(page.get_by_text("Or drop them here.")).to_be_visible()
    page.evaluate(DROP, [FILE, ROWS])
    expect(page.get_by_role("heading", name=f"A map for {FILE}")).to_be_visible()
    assert (folder / "exports" / FILE).read_text(encoding="utf-8") == ROWS
    expect(page.get_by_label("Preço final is read as")).to_have_value("price_native")
    expect(page.get_by_label("Order of day, month, year")).to_have_value("dmy")
    expect(page.get_by_label("Decimal mark")).to_have_value(",")
    expect(page.get_by_label("Its name")).to_be_hidden()

    page.get_by_label("Venue (open)").select_option("(new venue)")
    page.get_by_label("Its name").fill("Leilões do Cais")
    page.get_by_label("Its kind").select_option("auction")
    page.get_by_label("Its currency").fill("EUR")
    page.get_by_label("The price counts").select_option("hammer")
    rows = page.locator('[data-part="rows"]')
    expect(rows).to_contain_text("1,234.50 EUR")
    expect(rows).to_contain_text("2024-03-13")

    page.reload()
    expect(page.get_by_label("Its name")).to_have_value("Leilões do Cais")
    page.get_by_label("sem caixa").select_option("none")
    page.get_by_label("caixa original").select_option("original")
    page.get_by_role("button", name="Take over and read the file").click()
    expect(page.get_by_role("heading", name="What was read")).to_be_visible()
    expect(page.get_by_text("5 rows read = 3 recorded")).to_be_visible()
    assert "Leilões do Cais" in load_market(folder / "market.toml").venue_by_name

    page.get_by_role("link", name="Settle 2 rows and cells").click()
    card = page.get_by_role("article").filter(has_text="foi-se")
    card.get_by_label("foi-se means").select_option("withdrawn")
    card.get_by_role("button", name="Keep the word").click()
    page.get_by_role("button", name="Read the file again").click()
    expect(page.get_by_text("5 rows read = 4 recorded")).to_be_visible()

    page.get_by_role("link", name="Settle 1 row or cell").click()
    page.get_by_role("link", name="Write the sale by hand").click()
    expect(page.get_by_label("Sold", exact=True)).to_have_value("2024-03-28")
    page.get_by_label("Price", exact=True).fill("310")
    page.get_by_role("button", name="Add the sale").click()
    expect(page.get_by_text("Every row of it is settled.")).to_be_visible()


def test_without_script_a_file_comes_in_and_its_rows_are_shown(
    chromium: Browser, address: str, folder: Path, tmp_path: Path
) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    page.get_by_role("link", name="Read", exact=True).click()
    page.locator("#files").set_input_files(
        {"name": "leiloes.csv", "mimeType": "text/csv", "buffer": ROWS.encode()}
    )
    page.get_by_role("button", name="Bring them in").click()
    page.get_by_label("Venue (open)").select_option("Holm Sound Auctions")
    page.get_by_label("The price counts").select_option("hammer")
    page.get_by_role("button", name="Show the rows as they will be read").click()
    expect(page.locator('[data-part="rows"]')).to_contain_text("1,234.50 EUR")
    context.close()
