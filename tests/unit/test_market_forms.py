"""The market file is asked for in forms: its fields come from its models, its answers go into its text."""

from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

import pytest

from pipeline.config import Market, parse_market
from pipeline.desk.market_file.edit import Change, value_at
from pipeline.desk.market_file.fields import Shape, market_shape, meaning_of, shape_at
from pipeline.desk.market_file.form import controls_of, filled_in
from pipeline.desk.market_file.proposed import (
    Proposed,
    as_table,
    form_shape,
    proposed_by_form,
    proposed_change,
    proposed_entry,
    proposed_text,
)
from pipeline.desk.market_file.references import names_for
from pipeline.errors import MarketFileError
from pipeline.toml_text import parse_toml

TEXT = (Path(__file__).parents[2] / "sample_data" / "market.toml").read_text(encoding="utf-8")
TABLES = parse_toml(TEXT, where="the text")


def answered(path: tuple[str | int, ...], answers: Mapping[str, str], text: str = TEXT) -> Proposed:
    """Return what the form of a table comes to, sent back with some fields written anew."""
    table = value_at(parse_toml(text, where="the text"), path) or {}
    return proposed_by_form(text, path, filled_in(shape_at(path), table) | dict(answers))


def answered_entries(path: tuple[str | int, ...], answers: Mapping[str, str]) -> Proposed:
    """Return what the form of a whole list comes to, sent back with some fields written anew."""
    posted = filled_in(form_shape(path), as_table(path, value_at(TABLES, path)))
    return proposed_by_form(TEXT, path, posted | dict(answers))


def market_of(proposed: Proposed) -> Market:
    assert proposed.is_good, proposed
    return parse_market(proposed.text, where="the text")


def shapes_in(shape: Shape) -> list[Shape]:
    inner = [one.shape for one in shape.fields] + ([shape.of] if shape.of else [])
    return [shape, *(found for one in inner for found in shapes_in(one))]


def test_every_key_of_the_market_file_is_asked_for() -> None:
    assert {field.key for field in market_shape().fields} == set(Market.model_fields)


def test_only_pairs_of_factors_are_asked_for_as_toml() -> None:
    assert sum(shape.kind == "toml" for shape in shapes_in(market_shape())) == 2


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        (("base_currency",), "text"),
        (("business", "terms"), "paragraphs"),
        (("venues", 0, "fees", 0, "starts_on"), "day"),
        (("venues", 0, "fees", 0, "tiers", 0, "rate"), "number"),
        (("venues", 0, "kind"), "choice"),
        (("venues", 0, "consignment"), "yes or no"),
        (("words", "grades"), "by name"),
        (("words", "box"), "table"),
        (("maps", "holm", "columns", "title"), "one or several"),
        (("makers", 0, "sizes"), "rows"),
        (("model", "tails"), "number"),
    ],
)
def test_a_key_is_asked_for_by_what_it_may_hold(path: tuple[str | int, ...], kind: str) -> None:
    assert shape_at(path).kind == kind


@pytest.mark.parametrize(
    "path", [("nothing",), ("eras", "first"), ("base_currency", "x"), ("venues", 0, "name", 1)]
)
def test_what_a_market_file_cannot_hold_is_refused(path: tuple[str | int, ...]) -> None:
    with pytest.raises(MarketFileError, match="a market file holds nothing at"):
        shape_at(path)


def test_a_table_is_explained_in_the_words_of_its_model() -> None:
    assert meaning_of(("venues", 0, "fees", 1)).startswith("What one party pays the venue, from a day on.")


def test_a_field_is_explained_where_its_model_names_it() -> None:
    [patience] = [field for field in shape_at(("consigning",)).fields if field.key == "patience_days"]
    assert patience.meaning.startswith("`patience_days` is how long an owner waits for a sale")


def test_a_fee_is_changed_in_its_form() -> None:
    proposed = answered(("venues", 0, "fees", 1), {"minimum": "12", "tiers.2.rate": "15 %"})
    fees = market_of(proposed).venues[0].fees[1]
    assert (fees.minimum, fees.tiers[2].rate) == (Decimal(12), Decimal("0.15"))


def test_a_tier_is_added_in_the_blank_row_below_those_there() -> None:
    proposed = answered(
        ("venues", 3, "fees", 0),
        {"tiers.1.up_to": "900", "tiers.2.up_to": "", "tiers.2.rate": "0.12", "tiers.3.rate": ""},
    )
    assert [tier.rate for tier in market_of(proposed).venues[3].fees[0].tiers] == [
        Decimal("0.25"),
        Decimal("0.18"),
        Decimal("0.12"),
    ]


def test_a_row_is_removed_by_its_mark() -> None:
    proposed = answered(("silhouettes", 0), {"colourways.0.remove": "on"})
    assert [one.name for one in market_of(proposed).silhouettes[0].colourways][:2] == [
        "Slate Tide",
        "Foam White",
    ]


def test_a_grade_word_is_added_and_one_has_another_grade() -> None:
    proposed = answered(
        ("words",), {"grades.1.value": "9.5", "grades.13.name": "mint", "grades.13.value": "9,5"}
    )
    grades = market_of(proposed).words.grades
    assert (grades["ungetragen"], grades["mint"], grades["deadstock"]) == (9.5, 9.5, 10)


def test_usual_words_stay_usual_when_the_form_is_sent_back() -> None:
    assert "flaw_words" not in answered(("words",), {"fix_typos": "no"}).text


def test_usual_words_that_are_cleared_are_none() -> None:
    assert market_of(answered(("words",), {"flaw_words": ""})).words.flaw_words == ()


def test_a_field_left_blank_takes_its_key_out() -> None:
    proposed = answered(("buying",), {"costs": ""})
    assert "costs = 6" not in proposed.text
    assert market_of(proposed).buying.costs == 0


def test_a_key_with_a_page_of_its_own_stays_as_it_is() -> None:
    proposed = answered(("venues", 0), {"country": "Farland"})
    assert len(market_of(proposed).venues[0].fees) == 3


def test_a_venue_with_a_new_name_keeps_its_maps_and_its_buyer() -> None:
    market = market_of(answered(("venues", 3), {"name": "The Counter"}))
    assert (market.buying.sells_at, market.maps["counter"].venue) == ("The Counter", "The Counter")


def test_a_defect_with_a_new_name_is_still_cured() -> None:
    market = market_of(answered(("defects", 1), {"name": "yellowed"}))
    assert market.treatments[2].cures == ("yellowed",)


def test_an_era_with_a_new_name_keeps_its_chance() -> None:
    chances = "{ first = 0.2, second = 0.3, 'early reissue' = 0.3, 'late reissue' = 0.2 }"
    text = f"{TEXT}\n[era_odds]\nprior = {chances}\n"
    market = market_of(answered(("eras", 0), {"name": "debut"}, text))
    assert market.era_odds.prior["debut"] == 0.2


@pytest.mark.parametrize(
    ("field", "answer", "message"),
    [
        ("minimum", "ten", "is no number: write it as 1250 or 12.50"),
        ("minimum", "1,000", "without a sign for thousands"),
        ("tax_rate", "a fifth", "0.25 or 25 %"),
        ("starts_on", "1.3.2021", "is no day: write it as 2026-03-01"),
        ("method", "steps", "is none of marginal, whole-lot"),
    ],
)
def test_what_cannot_be_read_is_said_at_its_field(field: str, answer: str, message: str) -> None:
    proposed = answered(("venues", 0, "fees", 1), {field: answer})
    assert message in proposed.faults[field][0]
    assert proposed.text == TEXT


def test_what_the_market_file_refuses_is_said_at_its_field() -> None:
    proposed = answered(("venues", 0, "fees", 1), {"tiers.1.rate": "1.5"})
    assert list(proposed.faults) == ["tiers.1.rate"]


def test_a_fault_is_at_its_own_row_when_one_above_it_goes() -> None:
    proposed = answered(
        ("venues", 0, "fees", 1), {"tiers.0.remove": "on", "tiers.1.rate": "0.1", "tiers.2.rate": "2"}
    )
    assert list(proposed.faults) == ["tiers.2.rate"]


def test_a_fault_of_the_table_is_said_above_its_fields() -> None:
    proposed = answered(("eras", 0), {"last_year": "1980"})
    assert proposed.faults[""] == ("last_year 1980 lies before first_year 1984",)


def test_a_fault_elsewhere_is_said_with_its_place() -> None:
    wrong = TEXT.replace("patience_days = 60", "patience_days = 0")
    assert (
        answered(("eras", 0), {"last_year": "1985"}, wrong)
        .elsewhere[0]
        .startswith("consigning.patience_days: ")
    )


def test_a_grade_without_its_word_is_said_at_its_row() -> None:
    assert "write both" in answered(("words",), {"grades.20.value": "4"}).faults["grades.20"][0]


def test_a_grade_word_that_stands_twice_is_said_at_its_row() -> None:
    proposed = answered(("words",), {"grades.20.name": "beat", "grades.20.value": "4"})
    assert "'beat' stands here twice" in proposed.faults["grades.20"][0]


def test_an_era_is_added() -> None:
    proposed = proposed_entry(TEXT, ("eras",), {"name": "last", "run": "re-issue", "first_year": "2020"})
    assert market_of(proposed).eras[-1].first_year == 2020


def test_an_era_that_lacks_its_years_is_not_added() -> None:
    proposed = proposed_entry(TEXT, ("eras",), {"name": "last", "run": "re-issue", "first_year": ""})
    assert list(proposed.faults) == ["first_year"]


def test_phrases_of_a_language_are_changed_in_one_form() -> None:
    proposed = answered_entries(("phrases", "de"), {"entries.0.value": "Bedingungen.\r\n"})
    assert market_of(proposed).phrases["de"]["terms"] == "Bedingungen.\n"


def test_a_whole_list_of_defects_is_changed_in_one_form() -> None:
    proposed = answered_entries(("defects",), {"entries.4.phrases": "sun-faded", "entries.5.name": "stains"})
    assert [one.name for one in market_of(proposed).defects][4:] == ["sun fade", "stains"]


def test_a_defect_that_a_treatment_cures_cannot_go() -> None:
    proposed = answered_entries(("defects",), {"entries.0.remove": "on"})
    assert "which is no defect" in proposed.elsewhere[0]


def test_a_fault_in_a_whole_list_is_said_at_its_field() -> None:
    proposed = answered_entries(("imports",), {"entries.1.duty_rate": "1.5"})
    assert list(proposed.faults) == ["entries.1.duty_rate"]


def test_a_map_is_added_under_its_name() -> None:
    posted = {
        "venue": "Lantern Dock",
        "files": "more_*.csv",
        "columns.0.name": "title",
        "columns.0.value": "Name",
    }
    market = market_of(proposed_entry(TEXT, ("maps",), posted, "more"))
    assert market.maps["more"].columns == {"title": "Name"}


@pytest.mark.parametrize(("name", "message"), [("holm", "is there already"), ("", "needs a name")])
def test_a_map_needs_a_name_of_its_own(name: str, message: str) -> None:
    with pytest.raises(MarketFileError, match=message):
        proposed_entry(TEXT, ("maps",), {"venue": "Lantern Dock"}, name)


def test_a_venue_that_a_map_reads_cannot_be_removed() -> None:
    proposed = proposed_change(TEXT, Change("remove", ("venues", 0)))
    assert "is no venue" in " ".join(proposed.elsewhere) or "which is no venue" in " ".join(
        proposed.elsewhere
    )


def test_a_whole_text_is_judged() -> None:
    assert proposed_text(TEXT).is_good
    assert not proposed_text("base_currency = 1\n").is_good


def test_a_form_of_an_entry_that_is_gone_is_refused() -> None:
    with pytest.raises(MarketFileError, match=r"the market file has no eras\.10"):
        proposed_by_form(TEXT, ("eras", 9), {"name": "x"})


def test_blank_rows_stand_below_those_that_are_there() -> None:
    shape = shape_at(("venues", 0, "fees", 1))
    posted = filled_in(shape, value_at(TABLES, ("venues", 0, "fees", 1)))
    [tiers] = [one for one in controls_of(shape, posted, {}) if one.name == "tiers"]
    assert [[one.text for one in row.controls] for row in tiers.rows] == [
        ["600", "0.25"],
        ["2500", "0.20"],
        ["", "0.14"],
        ["", ""],
        ["", ""],
    ]


def test_what_holds_by_default_is_said_beside_a_blank_field() -> None:
    [days, _] = controls_of(shape_at(("consigning",)), {}, {})
    assert days.default == "60"


def test_faults_stand_at_their_controls() -> None:
    [days, _] = controls_of(shape_at(("consigning",)), {"patience_days": "x"}, {"patience_days": ("no",)})
    assert (days.text, days.faults) == ("x", ("no",))


def test_a_tab_that_parts_columns_can_be_seen_and_written() -> None:
    text = TEXT.replace('delimiter = ";"', 'delimiter = "\\t"')
    shape = shape_at(("maps", "holm"))
    table = value_at(parse_toml(text, where="the text"), ("maps", "holm"))
    assert filled_in(shape, table)["delimiter"] == r"\t"
    assert market_of(answered(("maps", "holm"), {"delimiter": r"\t"})).maps["holm"].delimiter == "\t"


def test_pairs_of_factors_are_written_as_toml() -> None:
    proposed = answered(("model",), {"interactions.always": '[["era", "box"]]'})
    assert market_of(proposed).model.interactions.always == (("era", "box"),)


@pytest.mark.parametrize("answer", ['[["era"', '1\n[sizes]\nusual = "UK"'])
def test_what_is_no_toml_is_said_at_its_field_too(answer: str) -> None:
    assert "interactions.always" in answered(("model",), {"interactions.always": answer}).faults


def test_the_place_of_resale_is_chosen_among_the_venues() -> None:
    assert "Lantern Dock" in names_for(TABLES, ("buying", "sells_at"))
    assert names_for(TABLES, ("buying", "margin")) == ()


def test_a_map_is_explained_whatever_its_name() -> None:
    assert meaning_of(("maps", "holm")).startswith("How one venue's export is read")
