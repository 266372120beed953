"""A heading means what its longest known word says, in fourteen languages."""

import pytest

from pipeline.ingest.heading_meaning import NOT_READ, meanings

DAYS = {
    "English": ("Sold on", "Payment date"), "German": ("Verkauft am", "Zahlungsdatum"),
    "French": ("Vendu le", "Payé le"),
    "Italian": ("Data vendita", "Data pagamento"), "Spanish": ("Fecha de venta", "Fecha de pago"),
    "Dutch": ("Verkocht op", "Betaald op"), "Polish": ("Data sprzedaży", "Data płatności"),
    "Swedish": ("Försäljningsdatum", "Betaldatum"), "Danish": ("Solgt den", "Betalingsdato"),
    "Norwegian": ("Salgsdato", "Betalingsdato"), "Finnish": ("Myyntipäivä", "Maksupäivä"),
    "Portuguese": ("Data de venda", "Data de pagamento"), "Czech": ("Datum prodeje", "Datum platby"),
    "Japanese": ("販売日", "入金日"),
}  # fmt: skip


@pytest.mark.parametrize("language", DAYS)
def test_a_day_of_sale_is_told_from_a_day_of_payment(language: str) -> None:
    sold, paid = DAYS[language]
    assert "sold_on" in meanings(sold)
    assert set(meanings(paid)) == {NOT_READ}


def test_a_longer_word_hides_the_shorter_ones_within_it() -> None:
    assert set(meanings("Buyer's premium")) == {"premium"}


def test_a_whole_heading_says_more_than_a_part_of_one() -> None:
    assert meanings("Price")["price"].score > meanings("Price shown")["price"].score


def test_a_word_inside_a_longer_one_is_found() -> None:
    assert "hammer" in meanings("Zuschlagsbetrag")


@pytest.mark.parametrize("heading", ["saleDate", "sale_date", "SALE DATE", "Sale-Date", " sale  date "])
def test_one_heading_is_written_in_many_ways(heading: str) -> None:
    assert "sold_on" in meanings(heading)


@pytest.mark.parametrize("heading", ["Größe", "Groesse", "GROSSE"])
def test_umlauts_may_be_written_as_two_letters_or_left_out(heading: str) -> None:
    assert "size_label" in meanings(heading)


@pytest.mark.parametrize("heading", ["", "   ", "???", "\x00", "x" * 5_000])
def test_a_heading_without_a_known_word_means_nothing(heading: str) -> None:
    assert meanings(heading) == {}
