"""An export map is proposed from headers and values, and what the file does not tell is asked."""

from pathlib import Path

import pytest

from pipeline.config import Market, parse_market
from pipeline.errors import ExportError
from pipeline.ingest.proposal import MapProposal, propose_map
from tests.exports import write_holm

MARKET = Path(__file__).parents[1] / "market.toml"
ROWS = [
    "1;Gannet Hi, Buoy Red;04.03.2021;1.600,00;zugeschlagen;43;",
    "2;Plover Lo, Kelp, ohne Karton;14.03.2021;80,50;zurück;42;x",
    "3;Gannet Hi, Slate Tide;24.05.2021;95,00;zugeschlagen;44 1/3;",
]


def _write(folder: Path, text: str, name: str = "harbour_2021.csv") -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def _fields(proposal: MapProposal) -> dict[str, str | None]:
    return {column.column: column.field for column in proposal.columns}


def _settings(proposal: MapProposal) -> dict[str, str]:
    return {setting.key: setting.value for setting in proposal.settings}


def _asked(proposal: MapProposal) -> set[str]:
    return {question.key for question in proposal.questions}


def test_german_headers_find_their_fields(market: Market, tmp_path: Path) -> None:
    assert _fields(propose_map(write_holm(tmp_path, *ROWS), market)) == {
        "Los": "lot_ref",
        "Bezeichnung": "title",
        "Datum": "closed_on",
        "Zuschlag": "price_native",
        "Stand": "status",
        "Größe": "size_label",
        "Bemerkung": "notes",
    }


def test_the_whole_column_decides_order_of_days_and_decimal_mark(market: Market, tmp_path: Path) -> None:
    settings = _settings(propose_map(write_holm(tmp_path, *ROWS), market))
    assert (settings["date_order"], settings["decimal_mark"], settings["encoding"]) == ("dmy", ",", "cp1252")


def test_a_hammer_column_says_its_basis(market: Market, tmp_path: Path) -> None:
    assert _settings(propose_map(write_holm(tmp_path, *ROWS), market))["price_basis"] == "hammer"


def test_a_venue_is_known_by_a_file_name_that_writes_its_umlaut_as_two_letters(tmp_path: Path) -> None:
    shop = '\n[[venues]]\nname = "Schuhkontor Grüntal"\nkind = "shop"\ncurrency = "EUR"\n'
    own = parse_market(MARKET.read_text(encoding="utf-8") + shop, where="market.toml")
    path = _write(tmp_path, "lot,title,date,price\n1,Gannet Hi of old,2021-03-04,80\n", "gruental_2021.csv")
    assert _settings(propose_map(path, own))["venue"] == "Schuhkontor Grüntal"


def test_a_basis_that_no_name_says_is_asked(market: Market, tmp_path: Path) -> None:
    proposal = propose_map(
        _write(tmp_path, "lot,title,date,price\n1,Gannet Hi of old,2021-03-04,80\n"), market
    )
    assert "price_basis" in _asked(proposal)
    assert "price_basis" not in _settings(proposal)


def test_days_that_read_both_ways_throughout_are_said_to_be_ambiguous(market: Market, tmp_path: Path) -> None:
    rows = "".join(f"{lot},Gannet Hi of old,03/0{lot}/21,80\n" for lot in range(1, 6))
    proposal = propose_map(_write(tmp_path, "lot,title,date,price\n" + rows), market)
    [question] = [question for question in proposal.questions if question.key == "date_order"]
    assert "ambiguous" in question.why


def test_a_sign_in_the_cells_says_the_currency(market: Market, tmp_path: Path) -> None:
    proposal = propose_map(
        _write(tmp_path, "lot,title,date,price\n1,Gannet Hi of old,2021-03-04,£80\n"), market
    )
    assert _settings(proposal)["currency"] == "GBP"


def test_sizes_that_name_no_system_are_asked_for(market: Market, tmp_path: Path) -> None:
    proposal = propose_map(_write(tmp_path, "lot,title,date,size\n1,Gannet Hi of old,2021-03-04,9\n"), market)
    assert "size_system" in _asked(proposal)


def test_a_column_of_buyers_is_not_read(market: Market, tmp_path: Path) -> None:
    proposal = propose_map(
        _write(tmp_path, "lot,title,date,buyer name\n1,Gannet Hi,2021-03-04,Q. Nobody\n"), market
    )
    assert _fields(proposal)["buyer name"] is None
    assert "Nobody" not in proposal.to_toml()


def test_status_words_are_proposed_and_unknown_ones_asked(market: Market, tmp_path: Path) -> None:
    rows = [*ROWS, "4;Plover Lo;04.06.2021;80,00;verschollen;43;"]
    words = propose_map(write_holm(tmp_path, *rows), market).words["status"]
    assert words == {"zugeschlagen": "sold", "zurück": "unsold", "verschollen": None}


def test_each_column_has_a_confidence_and_an_example(market: Market, tmp_path: Path) -> None:
    for column in propose_map(write_holm(tmp_path, *ROWS), market).columns:
        assert 0 < column.confidence < 1
        assert column.example


def test_the_proposal_is_toml_that_a_market_file_can_hold(market: Market, tmp_path: Path) -> None:
    proposal = propose_map(write_holm(tmp_path, *ROWS, name="holm_2021.csv"), market)
    text = MARKET.read_text(encoding="utf-8") + "\n" + proposal.to_toml()
    mapped = parse_market(text, where="market.toml").maps["holm_2021"]
    assert (mapped.venue, mapped.price_basis, mapped.files) == ("Holm Sound Auctions", "hammer", "holm_*.csv")


def test_hostile_headers_and_cells_stay_inside_their_comments(market: Market, tmp_path: Path) -> None:
    header = 'lot,title,"da""te\n[maps.evil]",price'
    proposal = propose_map(_write(tmp_path, f'{header}\n1,"x\ny = ""z"" and more",2021-03-04,80\n'), market)
    lines = proposal.to_toml().splitlines()
    assert not any(line.startswith(("[maps.evil]", "y =")) for line in lines)


def test_a_file_that_cannot_be_read_is_refused(market: Market, tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="is empty"):
        propose_map(_write(tmp_path, ""), market)


def test_a_column_whose_cells_hold_several_attributes_is_read_for_each_of_them(
    market: Market, tmp_path: Path
) -> None:
    cells = ["39 / 8 / no box", "42,5 / 7.5 / original box", "43 / 9 / no box", "41 / 6 / original box"]
    rows = "".join(
        f"{lot};Gannet Hi of old;{10 + lot}.03.2021;80,00;{cell}\n" for lot, cell in enumerate(cells)
    )
    proposal = propose_map(_write(tmp_path, "Kavel;Omschrijving;Datum;Hamerprijs;Gegevens\n" + rows), market)
    shared = {one.field for one in proposal.columns if one.column == "Gegevens"}
    assert (shared, _settings(proposal)["size_system"]) == ({"size_label", "grade", "box"}, "EU")


def test_a_title_with_commas_stays_a_title(market: Market, tmp_path: Path) -> None:
    rows = "".join(f"{lot};Gannet Hi, UK {7 + lot}, no box;{10 + lot}.03.2021;80,00\n" for lot in range(1, 6))
    proposal = propose_map(_write(tmp_path, "Kavel;Omschrijving;Datum;Hamerprijs\n" + rows), market)
    assert _fields(proposal)["Omschrijving"] == "title"


def test_a_column_of_quantities_is_no_column_of_sizes(market: Market, tmp_path: Path) -> None:
    rows = "".join(f"{lot};Gannet Hi of old;2021-03-{10 + lot};80.00;{1 + lot % 2}\n" for lot in range(1, 9))
    proposal = propose_map(_write(tmp_path, "lot,title,date,price,pieces\n".replace(",", ";") + rows), market)
    assert _fields(proposal)["pieces"] == "quantity"


def test_a_missing_price_is_asked_for(market: Market, tmp_path: Path) -> None:
    proposal = propose_map(_write(tmp_path, "lot,title,date\n1,Gannet Hi of old,2021-03-04\n"), market)
    assert "price_native" in _asked(proposal)


@pytest.mark.parametrize(
    ("word", "status"),
    [
        ("NO_BIDS", "unsold"), ("Remboursé", "refunded"), ("storniert", "cancelled"), ("Återrop", "unsold"),
        ("niesprzedane", "unsold"), ("未払い", "unpaid"), ("Vendido", "sold"), ("Gereserveerd", "open"),
        ("ikke solgt", "unsold"), ("vydraženo", "sold"), ("peruttu", "cancelled"), ("devuelto", "returned"),
    ],
)  # fmt: skip
def test_a_sale_that_was_undone_or_never_paid_is_no_sale_in_any_language(
    market: Market, tmp_path: Path, word: str, status: str
) -> None:
    rows = f"1,Gannet Hi of old,2021-03-04,80,{word}\n2,Plover Lo of old,2021-03-05,90,sold\n"
    proposal = propose_map(_write(tmp_path, "lot,title,date,price,status\n" + rows), market)
    assert proposal.words["status"][word] == status


_OFFERS = "".join(
    f"{lot};Gannet Hi of old no {lot};2021-03-{10 + lot};{price};{word}\n"
    for lot, (price, word) in enumerate(
        [("80.50", "Gone home"), ("", "Nothing doing"), ("95.00", "Gone home"), ("", "Nothing doing"),
         ("70.00", "Gone home"), ("", "Nothing doing")]
    )
)  # fmt: skip


def test_a_column_of_endings_is_the_status_whatever_its_heading(market: Market, tmp_path: Path) -> None:
    rows = _OFFERS.replace("Gone home", "Sold, paid out").replace("Nothing doing", "No sale")
    proposal = propose_map(_write(tmp_path, f"lot;title;date;hammer;Fortunes of the pair\n{rows}"), market)
    assert _fields(proposal)["Fortunes of the pair"] == "status"


def test_unknown_endings_that_part_the_rows_with_a_price_are_asked(market: Market, tmp_path: Path) -> None:
    proposal = propose_map(_write(tmp_path, f"lot;title;date;hammer;status\n{_OFFERS}"), market)
    assert proposal.words["status"] == {"Gone home": None, "Nothing doing": None}


def test_yes_and_no_under_another_heading_are_no_status(market: Market, tmp_path: Path) -> None:
    rows = _OFFERS.replace("Gone home", "yes").replace("Nothing doing", "no")
    proposal = propose_map(_write(tmp_path, f"lot;title;date;hammer;polished\n{rows}"), market)
    assert _fields(proposal)["polished"] != "status"


def test_yes_and_no_that_part_many_sold_pairs_from_the_rest_are_the_status(
    market: Market, tmp_path: Path
) -> None:
    rows = "".join(
        f"{lot};Gannet Hi of old no {lot};2021-03-{lot:02};{'80.00' if lot % 3 else ''};{'ja' if lot % 3 else 'nein'}\n"
        for lot in range(1, 29)
    )
    proposal = propose_map(_write(tmp_path, f"lot;title;date;hammer;Qax\n{rows}"), market)
    assert _fields(proposal)["Qax"] == "status"


def test_a_flag_that_stands_with_sold_and_unsold_pairs_is_no_status(market: Market, tmp_path: Path) -> None:
    rows = "".join(
        f"{lot};Gannet Hi of old no {lot};2021-03-{lot:02};{'80.00' if lot % 3 else ''};{'ja' if lot % 2 else 'nein'}\n"
        for lot in range(1, 29)
    )
    proposal = propose_map(_write(tmp_path, f"lot;title;date;hammer;Qax\n{rows}"), market)
    assert _fields(proposal)["Qax"] is None


LINES = "order;title;date;qty;unit price;line total\n" + "".join(
    f"{number};Gannet Hi of old;2021-03-{10 + number};{count};{price};{price * count}\n"
    for number, (count, price) in enumerate([(1, 80), (2, 95), (1, 110), (3, 70), (1, 65), (1, 120)], start=1)
)
"""An export of orders with two lines of several pairs."""


def test_a_quantity_is_proposed_with_the_price_of_one_pair(market: Market, tmp_path: Path) -> None:
    proposal = propose_map(_write(tmp_path, LINES), market)
    assert (_fields(proposal)["qty"], _settings(proposal)["quantity_price"]) == ("quantity", "unit")


def test_a_quantity_beside_totals_of_lines_alone_is_asked_about(market: Market, tmp_path: Path) -> None:
    without = "\n".join(";".join(line.split(";")[:4] + line.split(";")[5:]) for line in LINES.splitlines())
    assert "quantity_price" in _asked(propose_map(_write(tmp_path, without), market))


def test_a_column_where_every_line_is_of_one_pair_is_no_question(market: Market, tmp_path: Path) -> None:
    single = LINES.replace(";2;95;190", ";1;95;95").replace(";3;70;210", ";1;70;70")
    assert "quantity_price" not in _asked(propose_map(_write(tmp_path, single), market))


def test_a_list_of_stock_has_no_quantity(market: Market, tmp_path: Path) -> None:
    assert _fields(propose_map(_write(tmp_path, LINES), market, "stock"))["qty"] is None


def test_a_column_of_years_of_making_is_proposed_as_the_era(market: Market, tmp_path: Path) -> None:
    rows = "".join(
        f"{lot};Gannet Hi of old;2021-03-{10 + lot};80.00;{year}\n"
        for lot, year in enumerate((1984, 1985, 1987, 2003, 1986), start=1)
    )
    proposal = propose_map(_write(tmp_path, "lot;title;date;price;Year\n" + rows), market)
    assert _fields(proposal)["Year"] == "era"


def test_a_column_of_years_of_sale_is_no_era(market: Market, tmp_path: Path) -> None:
    rows = "".join(f"{lot};Gannet Hi of old;{2016 + lot}-03-04;80.00;{2016 + lot}\n" for lot in range(1, 6))
    proposal = propose_map(_write(tmp_path, "lot;title;date;price;Year\n" + rows), market)
    assert _fields(proposal)["Year"] is None


def test_a_day_with_a_short_year_behind_a_month_in_words_begins_with_the_day(
    market: Market, tmp_path: Path
) -> None:
    rows = "".join(f"{lot};Gannet Hi of old;{lot}-Mar-21;80.00\n" for lot in range(1, 6))
    proposal = propose_map(_write(tmp_path, "lot;title;date;price\n" + rows), market)
    assert _settings(proposal)["date_order"] == "dmy"


def test_a_price_of_zero_marks_a_row_that_was_no_sale(market: Market, tmp_path: Path) -> None:
    words = ["abc", "abc", "xyz", "abc", "xyz", "abc", "xyz"]
    rows = "".join(
        f"{lot};Gannet Hi of old;2021-03-{10 + lot};{'80.00' if word == 'abc' else '0.00'};{word}\n"
        for lot, word in enumerate(words, start=1)
    )
    proposal = propose_map(_write(tmp_path, "lot;title;date;price;Outcome\n" + rows), market)
    [reason] = [column.remark for column in proposal.columns if column.column == "Outcome"]
    assert "they part rows with a price from those without" in reason


def test_a_file_named_by_a_venue_without_its_ending_names_the_venue(tmp_path: Path) -> None:
    text = MARKET.read_text("utf-8").replace("Holm Sound Auctions", "Torvaldi Auctions")
    named = parse_market(text, where="market.toml")
    path = _write(tmp_path, "lot;title;date;price\n1;Gannet Hi of old;2021-03-04;80\n", "torvald_2021.csv")
    assert _settings(propose_map(path, named))["venue"] == "Torvaldi Auctions"


def test_a_file_named_by_two_words_of_a_venue_written_together_names_the_venue(tmp_path: Path) -> None:
    shop = '\n[[venues]]\nname = "Bén Lao Shoes"\nkind = "shop"\ncurrency = "EUR"\n'
    own = parse_market(MARKET.read_text(encoding="utf-8") + shop, where="market.toml")
    path = _write(tmp_path, "Lot;Title;Price\n1;Gannet Hi;20\n", name="benlao_orders.csv")

    assert _settings(propose_map(path, own))["venue"] == "Bén Lao Shoes"


def test_a_condition_report_of_grade_words_is_the_grade(market: Market, tmp_path: Path) -> None:
    rows = "1;Gannet Hi;9\n2;Plover Lo;8.5\n3;Gannet Hi;7\n4;Plover Lo;6\n"
    path = _write(tmp_path, f"Lot;Title;Condition report\n{rows}")

    assert _fields(propose_map(path, market))["Condition report"] == "grade"


def test_a_condition_report_of_sentences_is_a_note(market: Market, tmp_path: Path) -> None:
    rows = (
        "1;Gannet Hi;some wear at the heel\n2;Plover Lo;the soles are glued again\n3;Gannet Hi;as it came\n"
    )
    path = _write(tmp_path, f"Lot;Title;Condition report\n{rows}")

    assert _fields(propose_map(path, market))["Condition report"] == "notes"


def test_stock_numbers_of_five_digits_are_no_days(market: Market, tmp_path: Path) -> None:
    path = _write(tmp_path, "SKU;Title;Price\n41714;Gannet Hi;20\n32580;Plover Lo;30\n66644;Gannet Hi;25\n")

    assert _fields(propose_map(path, market))["SKU"] == "stock_ref"


def test_the_only_day_of_an_order_is_the_day_of_its_sale(market: Market, tmp_path: Path) -> None:
    rows = "D1;2024-03-05;Gannet Hi;20\nD2;2024-04-06;Plover Lo;30\n"
    path = _write(tmp_path, f"Order no;Created on;Title;Price\n{rows}")

    assert _fields(propose_map(path, market))["Created on"] == "sold_on"


SOLD_OR_NOT = (
    "Title;Price;Sold?;Date sold\nGannet Hi;20;yes;2024-03-05\nPlover Lo;;no;{day}\n"
    "Gannet Hi;30;yes;2024-04-06\n"
)


def test_a_pair_that_was_not_sold_and_whose_offer_has_not_ended_is_open(
    market: Market, tmp_path: Path
) -> None:
    path = _write(tmp_path, SOLD_OR_NOT.format(day=""))

    assert propose_map(path, market).words["status"] == {"no": "open", "yes": "sold"}


def test_a_pair_that_was_not_sold_by_the_end_of_its_offer_is_unsold(market: Market, tmp_path: Path) -> None:
    path = _write(tmp_path, SOLD_OR_NOT.format(day="2024-03-09"))

    assert propose_map(path, market).words["status"] == {"no": "unsold", "yes": "sold"}
