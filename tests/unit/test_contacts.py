"""Contact details in free text are masked; what a title says of the pair is never taken for any."""

import random
from pathlib import Path

import polars as pl
import pytest

from pipeline.config import Market
from pipeline.ingest.contacts import Masked, mask_contacts, mask_text
from pipeline.ingest.titles import read_titles

TELEPHONES = (
    "+44 20 7946 0000",
    "+49 (0)89 1234567",
    "+33 1 23 45 67 89",
    "+442079460000",
    "0049 89 1234567",
    "(020) 7946 0000",
    "020 7946 0000",
    "07700 900123",
    "06 12 34 56 78",
    "0171-1234567",
    "(555) 867-5309",
    "555-867-5309",
)
NOT_TELEPHONES = (
    *("UK 9 / EU 43", "UK 9.5/EU 44 1/3", "US 10 / 28 cm / 280 mm", "27.5 cm", "size 43 1/3", "EU 42-43"),
    "UK9 EU43 US10",
    *("£1,234.00", "1.234.567,00 EUR", "1 234 567,89", "JPY 12,345,678", "paid 450 + 25 % + 20", "80,-", "+ 20 % + 5"),
    *("style 012345-678", "style no. 555-867-5309", "style 305123 061", "art. 0123 4567 890", "ref 0171-1234567"),
    *("04-07/1985", "03/85-06/85", "03/1985-06/1985", "03/1985 - 06/1985 AB2", "03.1985-06.1985", "0385 0685 KX2"),
    *("stamp 0385 0685", "stamped 0385 0685 120", "0385 0685 120 EUR", "85 03 - 85 06", "Mar 85 - Jun 85"),
    "label 04 85 07 85",
    *("2021-03-04 10:00:00", "04.03.2021", "4/3/2021", "1985-1986", "1984 1985 1986 1987", "20210304"),
    "first run (1985)",
    *("lot 0123 4567 890", "lot 00123456789", "lot no. 020 7946 0000", "Los 07700 900123", "lot 2021/0123-456789"),
    "#07700 900123",
    *("0012345678905", "EAN 4012345 678901", "8/10", "7.5/10 soles 8/10", "1 of 250", "3 pairs @ 80.00", "sold@once"),
    "tied @ 9.5",
    *("mobile 03/85-06/85", "call 04-07/1985", "ring in the sole 0385 0685", "text on tongue 1985"),
)  # fmt: skip


@pytest.mark.parametrize("number", TELEPHONES)
def test_a_telephone_number_is_masked(number: str) -> None:
    assert mask_text(f"Gannet Hi UK 9, {number}, boxed") == (
        "Gannet Hi UK 9, [telephone], boxed",
        Masked(0, 1),
    )


@pytest.mark.parametrize(
    "word", ["tel.", "Tel:", "call", "phone me on", "Telefon", "WhatsApp", "mob", "тел."]
)
def test_a_number_after_a_word_for_the_telephone_is_masked(word: str) -> None:
    assert mask_text(f"Gannet Hi {word} 7946 0000 5") == (f"Gannet Hi {word} [telephone]", Masked(0, 1))


@pytest.mark.parametrize(
    "address",
    [
        "q.nobody@example.org",
        "Q+N@mail.example.co.uk",
        "q (at) example.org",
        "müller@例え.example",
        "q＠example.org",
    ],
)
def test_an_e_mail_address_is_masked(address: str) -> None:
    assert mask_text(f"Plover Lo, mail {address}!") == ("Plover Lo, mail [e-mail]!", Masked(1, 0))


@pytest.mark.parametrize("text", NOT_TELEPHONES)
def test_a_number_of_the_trade_is_no_telephone_number(text: str) -> None:
    assert mask_text(f"Gannet Hi {text}, og box") == (f"Gannet Hi {text}, og box", Masked())


def test_a_grade_after_a_telephone_number_stays() -> None:
    assert mask_text("call +44 20 7946 0000 8/10")[0] == "call [telephone] 8/10"


def test_each_row_of_a_text_is_counted() -> None:
    texts = pl.DataFrame(
        {"title": ["a@b.example", "a@b.example", None, "UK 9"], "notes": ["+44 20 7946 0000"] * 4}
    )
    masked, found = mask_contacts(texts)
    assert masked["title"].to_list() == ["[e-mail]", "[e-mail]", None, "UK 9"]
    assert found == Masked(2, 4)


def _titles(count: int) -> list[str]:
    rng = random.Random("titles")
    pieces = [
        *(
            "Gannet Hi",
            "Plover Lo",
            "Buoy Red",
            "Kelp",
            "first run",
            "second run",
            "og 85",
            "reissue",
            "og box",
        ),
        *(
            "no box",
            "replacement box",
            "tags attached",
            "no tags",
            "leather overlay",
            "never restored",
            "resoled",
        ),
        *(
            "yellowed",
            "heel wear, soles 7/10",
            "grade 8.5",
            "8/10",
            "worn twice",
            "deadstock",
            "spare laces",
            "booklet",
        ),
        *NOT_TELEPHONES,
    ]
    return [
        rng.choice([", ", " ", " / ", " - "]).join(rng.sample(pieces, rng.randint(2, 6)))
        for _ in range(count)
    ]


def test_hundreds_of_titles_without_contact_details_stay_as_they_are() -> None:
    titles = pl.DataFrame({"title": _titles(800)})
    masked, found = mask_contacts(titles)
    assert [(was, now) for was, now in zip(titles["title"], masked["title"], strict=True) if was != now] == []
    assert found == Masked()


def test_masked_titles_say_of_the_pair_what_they_said(market: Market) -> None:
    rng = random.Random("contacts")
    contacts = [
        *(f"call {number}" for number in TELEPHONES),
        "mail q.nobody@example.org",
        "q.nobody@example.org",
    ]
    titles = pl.DataFrame({"title": [f"{title}, {rng.choice(contacts)}" for title in _titles(600)]}).unique()
    masked, found = mask_contacts(titles)
    before = read_titles(titles["title"], market).drop("title")
    after = titles.select(masked["title"]).join(
        read_titles(masked["title"], market), on="title", how="left", maintain_order="left"
    )
    assert found.emails + found.telephones == titles.height
    assert after.drop("title").equals(before)


def test_a_long_text_is_masked_in_time() -> None:
    for piece in ("a", "0", "+4", "(0", "a.", "call ", "0 ", "@a."):
        assert mask_text(piece * 10_000)


@pytest.mark.parametrize(
    "file", sorted((Path(__file__).parents[1] / "titles").glob("*.csv")), ids=lambda file: file.name
)
def test_no_title_written_as_dealers_write_is_masked(file: Path) -> None:
    assert mask_contacts(pl.read_csv(file, infer_schema=False))[1] == Masked()
