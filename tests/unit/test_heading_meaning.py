"""A heading means what its longest known word says, in many languages."""

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
    "Japanese": ("販売日", "入金日"), "Hungarian": ("Eladás napja", "Fizetés dátuma"),
    "Romanian": ("Data vânzării", "Data plății"), "Turkish": ("Satış tarihi", "Ödeme tarihi"),
    "Greek": ("Ημερομηνία πώλησης", "Ημερομηνία πληρωμής"), "Korean": ("판매일자", "결제일시"),
    "Chinese": ("售出日期", "付款日期"),
    "Ukrainian": ("Дата продажу", "Дата оплати"), "Russian": ("Дата продажи", "Дата оплаты"),
    "Bulgarian": ("Дата на продажба", "Дата на плащане"), "Croatian": ("Datum prodaje", "Datum plaćanja"),
    "Slovak": ("Dátum predaja", "Dátum platby"), "Lithuanian": ("Pardavimo data", "Mokėjimo data"),
    "Latvian": ("Pārdošanas datums", "Apmaksas datums"), "Estonian": ("Müügikuupäev", "Makse kuupäev"),
    "Catalan": ("Data de venda", "Data de pagament"), "Hebrew": ("תאריך מכירה", "תאריך תשלום"),
    "Arabic": ("تاريخ البيع", "تاريخ الدفع"), "Thai": ("วันที่ขาย", "วันที่ชำระ"),
    "Vietnamese": ("Ngày bán", "Ngày thanh toán"), "Indonesian": ("Tanggal penjualan", "Tanggal pembayaran"),
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


@pytest.mark.parametrize("heading", ["Encomendada em", "Vendida el", "Venduta il", "Comprada em"])
def test_a_participle_means_the_same_whatever_it_agrees_with(heading: str) -> None:
    assert "sold_on" in meanings(heading)


@pytest.mark.parametrize(
    ("heading", "role"),
    [("Transaktionsbetrag", "price"), ("Prix obtenu", "price"), ("Prezzo realizzato", "price"),
     ("Importe cobrado", "price"), ("Koopsom", "price"), ("Cena uzyskana", "price"), ("Köpesumma", "price"),
     ("Handelspris", "price"), ("Salgssum", "price"), ("Kauppahinta", "price"), ("Valor recebido", "price"),
     ("Dosažená částka", "price"), ("成約金額", "price"), ("Fetched", "price")],
)  # fmt: skip
def test_a_price_is_known_by_many_words_in_each_language(heading: str, role: str) -> None:
    assert role in meanings(heading)


@pytest.mark.parametrize(
    "heading",
    ["Paga em", "Utbetalt dato", "Expédiée le", "Wysłana", "Noudettu pvm", "Odesláno dne", "Remitted on"],
)
def test_a_day_of_payment_or_dispatch_is_no_day_of_sale(heading: str) -> None:
    assert not {"sold_on", "closed_on"} & {
        role for role, one in meanings(heading).items() if one.score > 0.4 and role != NOT_READ
    }


@pytest.mark.parametrize(
    "heading", ["Versteigerungstermin", "Verkooptijdstip", "Köptidpunkt", "Handelsdag", "Huutokauppapvm"]
)
def test_a_day_of_sale_written_as_one_word_is_known(heading: str) -> None:
    assert "sold_on" in meanings(heading)


@pytest.mark.parametrize("heading", ["MwSt", "MwSt.", "davon MwSt"])
def test_a_short_form_with_a_capital_within_is_one_word(heading: str) -> None:
    assert "tax" in meanings(heading)


@pytest.mark.parametrize("heading", ["RE-Nr.", "Rg.-Nr.", "Rechn.-Nr."])
def test_a_short_form_of_an_invoice_number_is_the_number_of_the_sale_and_no_lot(heading: str) -> None:
    assert set(meanings(heading)) == {"sale_ref"}


@pytest.mark.parametrize("heading", ["Cijfer", "Rapportcijfer"])
def test_a_mark_out_of_ten_is_a_grade(heading: str) -> None:
    assert "grade" in meanings(heading)


@pytest.mark.parametrize(
    ("heading", "role"),
    [
        ('מק"ט', "stock_ref"), ("\u200fמק״ט\u200e", "stock_ref"), ("Šifra", "stock_ref"), ("Артикул", "stock_ref"),
        ("เลขที่ใบเสร็จ", "sale_ref"), ("Nro. de venta", "sale_ref"), ("Broj računa", "sale_ref"),
        ("Mã đơn hàng", "sale_ref"), ("No. Pesanan", "sale_ref"), ("Inbrengnr.", "lot_ref"), ("Núm. de lot", "lot_ref"),
        ("Publicación", "title"), ("Naziv artikla", "title"), ("Опис", "title"), ("Tên sản phẩm", "title"),
        ("Размер", "size_label"), ("Talle", "size_label"), ("ไซส์", "size_label"), ("Kích cỡ", "size_label"),
        ("Състояние", "grade"), ("สภาพ", "grade"), ("Būklė", "grade"), ("Trạng thái", "status"),
        ("Статус замовлення", "status"), ("Chiesto", "ask"), ("ราคาตั้ง", "ask"), ("Harga label", "ask"),
    ],
)  # fmt: skip
def test_a_heading_is_known_in_the_language_of_its_export(heading: str, role: str) -> None:
    assert role in meanings(heading)


@pytest.mark.parametrize("heading", ["Rbr.", "Eil. Nr.", "ลำดับ", "STT"])
def test_a_count_of_the_rows_is_no_number_of_a_lot(heading: str) -> None:
    assert set(meanings(heading)) == {NOT_READ}


def test_words_written_together_are_found_in_thai() -> None:
    assert "size_label" in meanings("ไซส์รองเท้า")
