import pytest

from pipeline.ingest.heading_meaning import written
from pipeline.ingest.status_meaning import YES_OR_NO, status_of


@pytest.mark.parametrize(
    "text",
    ["Sold, payout due", "versandt", "finalisée", "Spedito al cliente", "rematado", "Afgehamerd", "huudettu",
     "zakończona sprzedażą", "Klubbat för 400", "handlet", "Vydraženo", "arrematada", "落札済み",
     "Elkelt az árverésen", "Vândut și achitat", "Satıldı", "Κατακυρώθηκε", "낙찰완료", "已成交", "beglichen"],
)  # fmt: skip
def test_words_of_a_sale_are_known_by_their_stems(text: str) -> None:
    assert status_of(text) == "sold"


@pytest.mark.parametrize(
    "text",
    ["No sale - reserve not met", "zakończona bez sprzedaży", "relisted", "remise en vente", "ei huudettu",
     "reserva no alcanzada", "niet gegund", "genopslået", "Ended, no bids", "流札",
     "Nem kelt el", "Nevândut", "Satılmadı", "Δεν πωλήθηκε", "유찰", "流標"],
)  # fmt: skip
def test_words_of_an_offer_that_found_no_buyer_are_known_by_their_stems(text: str) -> None:
    assert status_of(text) == "unsold"


@pytest.mark.parametrize(
    "text",
    ["retirado por el cedente", "struken", "Collected by consignor", "returned to owner", "listing cancelled",
     "出品取消", "zurückgezogen"],
)  # fmt: skip
def test_an_offer_that_its_owner_took_back_is_withdrawn(text: str) -> None:
    assert status_of(text) == "withdrawn"


@pytest.mark.parametrize(
    ("text", "undone"),
    [("cancelled by the buyer", "cancelled"), ("Kauf abgebrochen", "cancelled"), ("stornováno", "cancelled"),
     ("annulée par l'acheteur", "cancelled"), ("落札者キャンセル", "cancelled"), ("peruttu", "cancelled"),
     ("Verkauft, retourniert", "returned"), ("zwrot pieniędzy", "returned"), ("devuelto", "returned"),
     ("remboursée", "refunded"), ("Retoure erstattet", "refunded"), ("partially refunded", "refunded"),
     ("återbetald", "refunded"), ("返金済", "refunded"), ("Cancelled, refunded", "refunded"),
     ("Vevő visszaküldte", "returned"), ("Vândut, returnat", "returned"), ("İptal edildi", "cancelled"),
     ("Επιστράφηκε", "returned"), ("구매취소", "cancelled"), ("買家退貨", "returned")],
)  # fmt: skip
def test_words_of_a_sale_that_was_undone_say_how_and_go_before_those_of_a_sale(
    text: str, undone: str
) -> None:
    assert status_of(text) == undone


@pytest.mark.parametrize(
    "text",
    ["Buyer did not pay", "Käufer zahlte nicht", "acheteur n'a pas payé", "kupujący nie zapłacił",
     "ostaja ei maksanut", "køber betalte ikke", "non saldato"],
)  # fmt: skip
def test_a_sale_that_was_never_paid_is_no_sale(text: str) -> None:
    assert status_of(text) == "unpaid"


@pytest.mark.parametrize(
    "text",
    ["Zahlung ausstehend", "a aguardar pagamento", "in attesa di pagamento", "čeká na zaplacení", "Reserved",
     "w sprzedaży", "på väg: väntar"],
)  # fmt: skip
def test_an_offer_that_has_not_ended_is_open(text: str) -> None:
    assert status_of(text) == "open"


@pytest.mark.parametrize("text", ["not yet shipped", "noch nicht versandt", "unfulfilled"])
def test_a_pair_that_was_not_sent_yet_says_nothing_of_its_sale(text: str) -> None:
    assert status_of(text) is None


def test_a_paid_pair_that_waits_to_be_sent_is_sold() -> None:
    assert status_of("paid, awaiting shipment") == "sold"


def test_words_that_contradict_each_other_are_left_to_the_owner() -> None:
    assert status_of("passed, later sold") is None


@pytest.mark.parametrize("text", ["original box", "good", "bank transfer", "", "worn once"])
def test_a_word_of_another_column_is_no_status(text: str) -> None:
    assert status_of(text) is None


@pytest.mark.parametrize(
    ("text", "status"),
    [("Prodano", "sold"), ("Nije prodano", "unsold"), ("Predané", "sold"), ("Продано", "sold"),
     ("Не продано", "unsold"), ("Müüdud", "sold"), ("Müümata", "unsold"), ("Pārdots", "sold"),
     ("Neparduota", "unsold"), ("Óselt", "unsold"), ("No venut", "unsold"), ("Đã bán", "sold"),
     ("Đã hủy", "cancelled"), ("ขายแล้ว", "sold"), ("ขายไม่ได้", "unsold"), ("נמכר", "sold"),
     ("לא נמכר", "unsold"), ("تم البيع", "sold"), ("لم يتم البيع", "unsold"), ("Terjual", "sold"),
     ("Belum laku", "unsold")],
)  # fmt: skip
def test_endings_are_known_in_further_languages(text: str, status: str) -> None:
    assert status_of(text) == status


@pytest.mark.parametrize("text", ["да", "ні", "áno", "taip", "כן", "لا", "không"])
def test_yes_and_no_of_further_languages_answer_any_question(text: str) -> None:
    assert written(text) in YES_OR_NO


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("Продаден", "sold"), ("Непродаден", "unsold"), ("Оттеглен", "withdrawn"), ("Скасовано", "cancelled"),
        ("הושלמה", "sold"), ("בוטלה", "cancelled"), ("זוכתה", "refunded"), ("Hoàn thành", "sold"),
        ("Đã hủy", "cancelled"), ("Trả hàng", "returned"), ("ขายแล้ว", "sold"), ("ยกเลิก", "cancelled"),
        ("Terjual", "sold"), ("Tidak terjual", "unsold"), ("En camino", "sold"), ("Retirat", "withdrawn"),
        ("Neparduota", "unsold"), ("Nevydražené", "unsold"), ("Belum dibayar", "unpaid"), ("Müügil", "open"),
    ],
)  # fmt: skip
def test_the_end_of_an_offer_is_known_in_the_language_of_its_export(text: str, status: str) -> None:
    assert status_of(text) == status
