"""The encoding of an export that names none is the one whose letters are those of a language."""

import pytest

from pipeline.errors import ExportError
from pipeline.ingest.readers.encoding import decode

POLISH = "Treść;Stan;Kwota\nGannet Hi, pudełko oryginalne, żółte, ślady użycia;używane;120\n"
GERMAN = "Größe;Käufer;Zustand\n43;Müller;schön, für Sammler\n"
CZECH = "Značka;velikost;stav\nGannet;43;krabice původní, červená, žluťoučké tkaničky\n"
HUNGARIAN = "Cipő mérete;vevő;összeg\n43;őszi árverés;120\n"
TURKISH = "Ayakkabı;fiyat;satıcı\nkırmızı;120;ağustos, şehir içi\n"
FRENCH = "Désignation;Prix réglé;état\nboîte d'origine, très bon état, œillets;120;usé\n"
SPANISH = "Descripción;tamaño;año\ncaja original según foto;43;1986\n"
DANISH = "Størrelse;pris;køber\n43;120;æske på lager\n"
RUSSIAN = "Название;Цена;Размер\nкроссовки красные, коробка;120;43\n"
GREEK = "Τίτλος;Τιμή;Μέγεθος\nπαπούτσια κόκκινα;120;43\n"
LITHUANIAN = "Dydis;kaina;būklė\n43;120;dėžė, šviesūs raišteliai, mėlyni\n"
KANA = "商品名;状態;落札価格\nスニーカー 箱付き;良品;12000\n"
KANJI = "管理番号;状態;落札価格\n12;良品;12000\n"
CHINESE = "商品;价格;颜色\n运动鞋;120;红色\n"


@pytest.mark.parametrize(
    ("text", "encoding"),
    [
        *((POLISH, name) for name in ("cp1250", "iso8859_2", "cp852")),
        *((GERMAN, name) for name in ("cp1252", "mac_roman", "cp850")),
        *((CZECH, name) for name in ("cp1250", "iso8859_2")),
        *((FRENCH, name) for name in ("cp1252", "mac_roman")),
        *((RUSSIAN, name) for name in ("cp1251", "koi8_r")),
        *((KANA, name) for name in ("cp932", "euc_jp")),
        *((KANJI, name) for name in ("cp932", "euc_jp")),
        (HUNGARIAN, "cp1250"),
        (TURKISH, "cp1254"),
        (SPANISH, "cp1252"),
        (DANISH, "cp1252"),
        (GREEK, "cp1253"),
        (LITHUANIAN, "cp1257"),
        (CHINESE, "gb18030"),
        ("Treść\n", "cp1250"),
        ("Größe\n", "cp1252"),
        ("Größe\n", "mac_roman"),
        ("ŻÓŁTE;PUDEŁKO\n", "cp1250"),
        ("GRÖSSE;KÄUFER\n", "cp1252"),
        ("£120\n", "cp1252"),
        ("Gannet Hi – “as new”, €120\n", "cp1252"),
    ],
)
def test_the_letters_of_an_export_come_out_as_they_were_written(text: str, encoding: str) -> None:
    assert decode(text.encode(encoding), None, where="x").content.decode() == text


def test_an_encoding_that_was_found_by_its_letters_is_noted() -> None:
    [note] = decode(POLISH.encode("cp1250"), None, where="x").notes
    assert note == "its encoding was taken to be cp1250; state `encoding` in the export map to be sure"


def test_bytes_that_two_encodings_read_the_same_are_the_more_usual() -> None:
    assert decode("Größe".encode("cp1250"), None, where="x").encoding == "cp1252"


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("text", [POLISH, RUSSIAN, "商品名;状態の説明\nスニーカー箱付き;良い品です\n" * 3])
def test_utf16_without_a_mark_is_known_by_its_zero_bytes(text: str, encoding: str) -> None:
    assert decode(text.encode(encoding), None, where="x").content.decode() == text


def test_a_few_zero_bytes_in_japanese_of_another_encoding_are_no_utf16() -> None:
    with pytest.raises(ExportError, match="is not text: it holds zero bytes"):
        decode(KANA.encode("cp932") + b"\0\0", None, where="x")
