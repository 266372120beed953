"""Files of upcoming lots and of stock are read by the same rules, without a sale in them."""

from pathlib import Path

import pytest

from pipeline.answers.lots.run import usual_sizes
from pipeline.config import ExportMap, Market, Sizes
from pipeline.errors import MapError
from pipeline.ingest.lots import read_lots
from pipeline.ledger import open_ledger
from tests.exports import AS_OF, ingest, write_holm

LOTS = ExportMap.model_validate(
    {
        "venue": "Holm Sound Auctions",
        "files": "lots*.csv",
        "holds": "lots",
        "price_basis": "hammer",
        "columns": {
            "lot_ref": "lot", "title": "title", "closed_on": "closes", "price_native": "bid", "size_label": "size",
        },
    }
)  # fmt: skip


@pytest.fixture
def with_lots(market: Market) -> Market:
    return market.model_copy(update={"maps": {**market.maps, "lots": LOTS}})


def _write(folder: Path, *rows: str, name: str = "lots.csv") -> Path:
    (folder / name).write_text("\n".join(["lot,title,closes,bid,size", *rows]) + "\n", encoding="utf-8")
    return folder / name


def test_a_lot_that_closes_next_month_is_open_at_its_bid(with_lots: Market, tmp_path: Path) -> None:
    lots, refused, *_ = read_lots(
        _write(tmp_path, "7,Gannet Hi resoled,2026-07-30,85,UK 9"), with_lots, as_of=AS_OF
    )
    [lot] = lots.to_dicts()
    assert (lot["status"], str(lot["price_native"]), lot["foot_mm"], lot["treatments"]) == (
        "open",
        "85.0000",
        271,
        ["sole swap"],
    )
    assert refused.height == 0


def test_a_lot_of_a_house_is_never_read_in_the_owners_usual_size_system(
    with_lots: Market, tmp_path: Path
) -> None:
    usual = with_lots.model_copy(update={"sizes": Sizes(usual="UK")})
    lots, *_ = read_lots(_write(tmp_path, "7,Gannet Hi,2026-07-30,85,9"), usual, as_of=AS_OF)

    assert lots.select("foot_mm", "size_assumed").rows() == [(None, False)]


def test_a_size_read_in_the_usual_system_is_stated_for_a_list(market: Market, tmp_path: Path) -> None:
    stock = LOTS.model_copy(update={"holds": "stock"})
    usual = market.model_copy(update={"maps": {"stock": stock}, "sizes": Sizes(usual="UK")})
    path = _write(tmp_path, "7,Gannet Hi,2026-07-30,85,9", "8,Gannet Hi,2026-07-30,85,9")

    [told] = usual_sizes(read_lots(path, usual, as_of=AS_OF)[0])
    assert told.startswith("Size 9 names no system: read as UK")


def test_a_lot_without_a_bid_is_still_a_lot(with_lots: Market, tmp_path: Path) -> None:
    lots, *_ = read_lots(_write(tmp_path, "7,Gannet Hi,2026-07-30,,UK 9"), with_lots, as_of=AS_OF)
    assert lots["price_native"].to_list() == [None]


def test_a_lot_with_an_impossible_day_is_refused_with_its_row(with_lots: Market, tmp_path: Path) -> None:
    _, refused, *_ = read_lots(_write(tmp_path, "7,Gannet Hi,2026-02-30,85,UK 9"), with_lots, as_of=AS_OF)
    assert refused.select("row_number", "field", "value").rows() == [(2, "closed_on", "2026-02-30")]


def test_a_map_for_sales_cannot_read_lots(with_lots: Market, tmp_path: Path) -> None:
    with pytest.raises(MapError, match="the map 'holm' is for sales, not for lots or stock"):
        read_lots(_write(tmp_path, "7,Gannet Hi,2026-07-30,,UK 9"), with_lots, as_of=AS_OF, map_name="holm")


def test_lots_among_exports_of_sales_are_left_alone_with_a_note(with_lots: Market, tmp_path: Path) -> None:
    lots = _write(tmp_path, "7,Gannet Hi,2026-07-30,,UK 9")
    sales = write_holm(tmp_path, "1;Gannet Hi UK 9;04.07.2025;600,00;zugeschlagen;43;")
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        run = ingest(ledger, with_lots, [lots, sales])

    assert [(file.name, file.recorded) for file in run.files] == [("holm_2021.csv", 1)]
    assert run.notes[0] == f"{lots}: not read: it holds lots, by the map 'lots'"


def test_lots_alone_are_no_sales_and_the_command_for_them_is_named(with_lots: Market, tmp_path: Path) -> None:
    lots = _write(tmp_path, "7,Gannet Hi,2026-07-30,,UK 9")
    with (
        open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger,
        pytest.raises(MapError, match="holds lots, by the map 'lots', and no sales\n`pairband lots FILE`"),
    ):
        ingest(ledger, with_lots, [lots])
