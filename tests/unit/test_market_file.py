"""The market file: what it takes, and how it says what is wrong."""

import time
from decimal import Decimal
from pathlib import Path

import pytest

from pipeline.config import Market, load_market, parse_market
from pipeline.errors import MarketFileError, UnknownName

SMALLEST = """
base_currency = "EUR"
[[eras]]
name = "first"
run = "original"
first_year = 1984
last_year = 1986
[[venues]]
name = "Holm Sound Auctions"
kind = "auction"
currency = "EUR"
"""


def test_the_smallest_market_file_is_good() -> None:
    market = parse_market(SMALLEST, where="market.toml")

    assert market.base_currency == "EUR"
    assert market.maps == {}


def test_rates_of_fees_are_read_exactly(market: Market) -> None:
    schedule = market.venue("Holm Sound Auctions").fees[0]

    assert schedule.tiers[0].rate == Decimal("0.25")


def test_a_missing_market_file_is_reported_with_the_way_out(tmp_path: Path) -> None:
    with pytest.raises(MarketFileError, match=r"no market file .*\n.*pairband init"):
        load_market(tmp_path / "market.toml")


def test_a_market_file_that_is_not_text_is_reported(tmp_path: Path) -> None:
    path = tmp_path / "market.toml"
    path.write_bytes(b"\xff\xfe\x00\x01")

    with pytest.raises(MarketFileError, match="cannot be read"):
        load_market(path)


@pytest.mark.parametrize(
    ("town", "heading"), [("", "Gull Row Shoes"), ("Skerrowhaven", "Gull Row Shoes, Skerrowhaven")]
)
def test_the_town_stands_beside_the_name_of_the_business(town: str, heading: str) -> None:
    market = parse_market(
        f'{SMALLEST}\n[business]\nname = "Gull Row Shoes"\ntown = "{town}"', where="market.toml"
    )

    assert market.business.heading == heading


@pytest.mark.parametrize(
    ("added", "told"),
    [
        ("base_curency = 1", "base_curency: is no key that is known here"),
        ("[rates]\noldest_days = -1", "rates.oldest_days: has to be 0 or more"),
        ("[workshop]\nhours = inf", "workshop.hours.*finite"),
        ("[workshop]\nmoney = nan", "workshop.money.*finite"),
        ("[words]\ngrades = { deadstock = 11 }", "allowed: 1 to 10 by half"),
        ('[[eras]]\nname = "FIRST"\nrun = "original"\nfirst_year = 1990', "holds the name 'first' twice"),
        ('[[eras]]\nname = "x"\nrun = "copy"\nfirst_year = 1990', r"eras.2.run.*'original' or 're-issue'"),
        ('[[eras]]\nname = "x"\nrun = "original"\nfirst_year = 1990\nlast_year = 1980', "lies before"),
        (
            '[[eras]]\nname = "x"\nrun = "original"\nfirst_year = "late"',
            "first_year: has to be a whole number",
        ),
        ('[[eras]]\nname = "x"\nrun = "original"', "eras.2.first_year: is missing"),
        ("[workshop]\nhours = []", "workshop.hours: has to be a number"),
        ("not toml at all", "not TOML"),
        ("[rates]\noldest_days = 36501", "rates.oldest_days.*36500"),
        ("[workshop]\nhours = 10001", "workshop.hours.*10000"),
        ('[business]\nname = "   "', "business.name.*must not be blank"),
        ('[business]\nname = "a\\u0007b"', "business.name.*control characters"),
        (f'[business]\nname = "{"n" * 300}"', r"business.name.*at most 80 .*found: 'n{60,79}…"),
    ],
)
def test_a_fault_is_reported_with_file_and_key(added: str, told: str) -> None:
    text = added + "\n" + SMALLEST if "=" in added and "[" not in added else SMALLEST + added

    with pytest.raises(MarketFileError, match=f"(?s)market.toml.*{told}"):
        parse_market(text, where="market.toml")


@pytest.mark.parametrize(
    ("tiers", "told"),
    [
        ("[{ up_to = 500, rate = 0.25 }]", "the last must not have it"),
        ("[{ rate = 0.25 }, { rate = 0.2 }]", "each tier but the last needs"),
        ("[{ up_to = 500, rate = 0.2 }, { up_to = 300, rate = 0.1 }, { rate = 0.1 }]", "must rise"),
        ("[{ rate = 25 }]", "less than 1"),
        ("[]", "must not be empty"),
    ],
)
def test_a_fee_schedule_that_cannot_be_is_reported(tiers: str, told: str) -> None:
    fees = f'[[venues.fees]]\nparty = "buyer"\nstarts_on = 2020-01-01\ntiers = {tiers}'

    with pytest.raises(MarketFileError, match=told):
        parse_market(SMALLEST + fees, where="market.toml")


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ('venue = "Holm Sound"\ncolumns = {}', "did you mean 'Holm Sound Auctions'"),
        ('venue = "Holm Sound Auctions"\ncolumns = { price = "Hammer" }', "no field is called 'price'"),
        ('venue = "Holm Sound Auctions"\ncolumns = { price_native = "Hammer" }', "`price_basis` is missing"),
        (
            'venue = "Holm Sound Auctions"\ncolumns = {}\nwords = { box = { yes = "boxed" } }',
            "allowed: original, replacement, none, unknown",
        ),
    ],
)
def test_an_export_map_that_cannot_work_is_reported(lines: str, told: str) -> None:
    with pytest.raises(MarketFileError, match=told):
        parse_market(f'{SMALLEST}[maps.holm]\nfiles = "*.csv"\n{lines}', where="market.toml")


def test_an_unknown_venue_is_reported_with_the_nearest(market: Market) -> None:
    with pytest.raises(UnknownName, match=r"no venue is called 'Lantern Dok'\ndid you mean 'Lantern Dock'"):
        market.venue("Lantern Dok")


def test_a_schedule_holds_from_its_day_until_the_next(market: Market) -> None:
    from datetime import date

    venue = market.venue("Holm Sound Auctions")

    assert venue.schedule("buyer", date(2014, 12, 31)) is None
    assert venue.schedule("buyer", date(2015, 1, 1)) == venue.fees[0]


def test_the_starter_is_a_good_market_file() -> None:
    import pipeline

    market = load_market(Path(pipeline.__file__).parent / "starter.toml")

    assert set(market.maps) == {"salerooms"}


HUGE = (
    "1e999999999",
    "1e999999",
    "1e308",
    "1_000_000_000_000",
    "-1e12",
    "1e-300",
    "0x" + "F" * 4000,
    "9" * 3000,
)
PLACES = {
    "eras.2.first_year": '[[eras]]\nname = "x"\nrun = "original"\nfirst_year = {}',
    "workshop.hours": "[workshop]\nhours = {}",
    "workshop.money": "[workshop]\nmoney = {}",
    "rates.oldest_days": "[rates]\noldest_days = {}",
    "consigning.patience_days": "[consigning]\npatience_days = {}",
    "model.tails": "[model]\ntails = {}",
    "words.grades.mint": "[words.grades]\nmint = {}",
    "venues.2.increments.1.step": '[[venues]]\nname = "x"\nkind = "auction"\ncurrency = "EUR"\n'
    "increments = [{{ step = {} }}]",
}


@pytest.mark.parametrize("number", HUGE)
@pytest.mark.parametrize("key", PLACES)
def test_a_number_beyond_use_is_reported_at_once_with_its_key_and_the_bounds(key: str, number: str) -> None:
    began = time.perf_counter()
    with pytest.raises(MarketFileError, match=rf"market.toml: {key}: .*\n.*-1,000,000,000 to 1,000,000,000"):
        parse_market(SMALLEST + PLACES[key].format(number), where="market.toml")
    assert time.perf_counter() - began < 2


def test_an_integer_of_five_thousand_digits_is_reported() -> None:
    with pytest.raises(MarketFileError, match=r"market.toml holds a number that is far too long"):
        parse_market(f"{SMALLEST}[workshop]\nhours = {'9' * 5000}", where="market.toml")


@pytest.mark.parametrize("zero", ["-0", "-0.0", "0e-999999999"])
def test_minus_nothing_is_nothing(zero: str) -> None:
    market = parse_market(f"{SMALLEST}[workshop]\nhours = {zero}\nmoney = {zero}", where="market.toml")

    assert [str(market.workshop.hours), str(market.workshop.money)] == ["0.0", "0"]


@pytest.mark.parametrize("key", ["degrees_of_freedom", "tails"])
def test_the_degrees_of_freedom_are_read_by_their_name_and_by_the_earlier_one(key: str) -> None:
    market = parse_market(f"{SMALLEST}[model]\n{key} = 3.5", where="market.toml")

    assert market.model.degrees_of_freedom == 3.5


def test_the_degrees_of_freedom_given_by_both_names_are_refused() -> None:
    with pytest.raises(MarketFileError, match=r"model\.tails"):
        parse_market(f"{SMALLEST}[model]\ndegrees_of_freedom = 3.5\ntails = 4", where="market.toml")


def test_an_amount_of_a_billion_is_the_most() -> None:
    most = parse_market(f"{SMALLEST}[workshop]\nmoney = 1_000_000_000", where="market.toml")

    assert most.workshop.money == 10**9


@pytest.mark.parametrize(
    ("added", "told"),
    [
        (
            "[workshop]\nmoney = 12.345",
            r"`workshop.money` is 12.345; an amount in EUR has at most 2 decimals",
        ),
        ("[buying]\ncosts = 0.001", "`buying.costs` is 0.001; an amount in EUR"),
        ('[[imports]]\ncountry = "x"\nfreight = 1.999', "`freight` of the import from 'x' is 1.999"),
        ('[[treatments]]\nname = "x"\nmaterials = 0.125', "`materials` of the treatment 'x' is 0.125"),
        (
            '[[venues]]\nname = "x"\nkind = "auction"\ncurrency = "JPY"\nincrements = [{ step = 0.5 }]',
            "`step` of the increments of the venue 'x' is 0.5; an amount in JPY is a whole number",
        ),
        (
            '[[venues.fees]]\nparty = "buyer"\nstarts_on = 2020-01-01\ntiers = [{ rate = 0.1 }]\nflat = 0.305',
            "`flat` of the venue 'Holm Sound Auctions', buyer, from 2020-01-01 is 0.305",
        ),
        (
            '[[venues.fees]]\nparty = "buyer"\nstarts_on = 2020-01-01\ntiers = [{ rate = 0.1234567 }]',
            "a share has at most 6 decimals",
        ),
    ],
)
def test_an_amount_finer_than_its_currency_is_reported(added: str, told: str) -> None:
    with pytest.raises(MarketFileError, match=told):
        parse_market(SMALLEST + added, where="market.toml")


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 50_000,
        "a = " + "[" * 50_000 + "]" * 50_000,
        "a = " + "{ a = " * 50_000 + "1" + " }" * 50_000,
        ".".join(["a"] * 50_000) + " = 1",
        "[" + ".".join(["a"] * 50_000) + "]",
        "a = " + "[" * 90 + "]" * 90,
    ],
)
def test_tables_within_one_another_without_end_are_reported_at_once(text: str) -> None:
    began = time.perf_counter()
    with pytest.raises(MarketFileError, match=r"market.toml (is not a market file|is not TOML)"):
        parse_market(text, where="market.toml")
    assert time.perf_counter() - began < 5


def _named_twice(kind: str, first: str, second: str) -> str:
    tables = {
        "eras": '[[eras]]\nname = "{}"\nrun = "original"\nfirst_year = 1990\n',
        "silhouettes": '[[silhouettes]]\nname = "{}"\nmaker = "m"\n',
        "treatments": '[[treatments]]\nname = "{}"\n',
        "defects": '[[defects]]\nname = "{}"\n',
        "parts": '[[parts]]\nname = "{}"\n',
        "venues": '[[venues]]\nname = "{}"\nkind = "shop"\ncurrency = "EUR"\n',
        "makers": '[[silhouettes]]\nname = "{1}"\nmaker = "{0}"\n',
        "families": '[[silhouettes]]\nname = "{1}"\nmaker = "m"\nfamily = "{0}"\n',
        "maps": '[maps."{}"]\nvenue = "Holm Sound Auctions"\nfiles = "*"\ncolumns = {{}}\n',
        "model.terms": '[[model.terms]]\nname = "{}"\nkind = "pooled"\ncolumns = ["era"]\n',
    }
    return SMALLEST + tables[kind].format(first, "one") + tables[kind].format(second, "two")


KINDS = (
    *("eras", "silhouettes", "treatments", "defects", "parts", "venues"),
    *("makers", "families", "maps", "model.terms"),
)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("Fjärd Hi", "Fjard Hi"),
        ("Fjard Hi", "FJARD HI"),
        ("Fjard Hi", "Fjard  Hi"),
        ("Fjard Hi", "Fjard\u00a0Hi "),
    ],
)
def test_names_that_differ_by_accent_case_or_spaces_are_one_name_twice(
    kind: str, first: str, second: str
) -> None:
    with pytest.raises(MarketFileError, match=rf"(?s)`{kind}` holds the name .* twice: .* differ by"):
        parse_market(_named_twice(kind, first, second), where="market.toml")


@pytest.mark.parametrize("kind", KINDS)
def test_names_that_differ_by_a_letter_are_two_names(kind: str) -> None:
    assert parse_market(_named_twice(kind, "Fjard Hi", "Fjord Hi"), where="market.toml")


def test_colourways_of_one_silhouette_that_look_alike_are_reported() -> None:
    colourways = (
        '[[silhouettes]]\nname = "x"\nmaker = "m"\ncolourways = [{ name = "Rosé" }, { name = "rose" }]'
    )

    with pytest.raises(MarketFileError, match=r"`silhouette 'x'` holds the name 'Rosé' twice"):
        parse_market(SMALLEST + colourways, where="market.toml")


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        (
            'status_words = { "vendu" = "sold", "Vendù" = "unsold" }',
            "`status_words` gives 'vendu' and 'Vendù'",
        ),
        ('words = { box = { "ja" = "original", "JA" = "none" } }', "`words.box` gives 'ja' and 'JA'"),
    ],
)
def test_a_word_of_a_map_with_two_meanings_is_reported(lines: str, told: str) -> None:
    map_ = f'[maps.holm]\nvenue = "Holm Sound Auctions"\nfiles = "*.csv"\ncolumns = {{}}\n{lines}'

    with pytest.raises(MarketFileError, match=told):
        parse_market(SMALLEST + map_, where="market.toml")


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ('columns = { "" = "Lot" }', "no field is called ''"),
        (f'columns = {{ "{"x" * 5000}" = "Lot" }}', "no field is called 'x{9}"),
        ('columns = { "tit\\u0000le" = "Lot" }', "no field is called"),
        ('columns = { title = "" }', "maps.holm.columns.title.*must not be empty"),
        ("columns = { title = [] }", "maps.holm.columns.title.*must not be empty"),
        ("columns = { title = 7 }", "maps.holm.columns.title.*has to be text"),
        ("columns = { title = { a = 1 } }", "maps.holm.columns.title"),
        ('columns = {}\nwords = { "" = { a = "b" } }', "no field is called ''"),
        ('columns = {}\nwords = { title = { "" = "b" } }', "maps.holm.words.title.*must not be empty"),
        (f'columns = {{}}\nwords = {{ title = {{ "{"x" * 500}" = "b" }} }}', "at most 120"),
        ("columns = {}\nwords = { title = { a = 1 } }", "maps.holm.words.title.a.*has to be text"),
        ('columns = {}\nstatus_words = { "" = "sold" }', "maps.holm.status_words.*must not be empty"),
        ('columns = {}\nlist_mark = ""', "maps.holm.list_mark.*must not be empty"),
        ('columns = {}\ndelimiter = "é"', "`delimiter` is 'é'; give one plain character"),
        ('columns = {}\ndelimiter = "\\n"', "`delimiter` is .*give one plain character"),
        ('columns = {}\nencoding = "utf-99"', "no encoding is called 'utf-99'"),
        ('columns = {}\nencoding = "zip"', "no encoding is called 'zip'"),
        ("columns = {}\nheader_row = 1_000_001", "maps.holm.header_row.*1000000"),
    ],
)
def test_an_odd_key_or_value_of_a_map_is_reported(lines: str, told: str) -> None:
    map_ = f'[maps.holm]\nvenue = "Holm Sound Auctions"\nfiles = "*.csv"\n{lines}'

    with pytest.raises(MarketFileError, match=rf"(?s)^.{{0,400}}{told}"):
        parse_market(SMALLEST + map_, where="market.toml")


@pytest.mark.parametrize(
    ("term", "told"),
    [
        (
            'kind = "pooled"\ncolumns = ["sihouette"]',
            r"no factor is called 'sihouette'; did you mean 'silhouette'",
        ),
        (
            'kind = "level"\ncolumns = ["price_paid"]',
            r"a term may read silhouette, colourway, era, size_mm, grade",
        ),
        ('kind = "level"\ncolumns = ["record_id"]', "no factor is called 'record_id'; a term may read"),
        ('kind = "curve"\ncolumns = ["era"]', "'curve' cannot run over 'era'; .* size_mm, grade, month"),
        ('kind = "flags"\ncolumns = ["box"]', "'flags' cannot run over 'box'; .* parts, defects, treatments"),
        ('kind = "level"\ncolumns = ["parts"]', "'level' cannot run over 'parts'"),
        ('kind = "pooled"\ncolumns = ["era", "parts"]', "'parts' is a list: name it first"),
        ('kind = "pooled"\ncolumns = ["era", "era"]', "reads a column twice"),
        ('kind = "pooled"\ncolumns = ["era"]\nreference = "first"', "'pooled' has no reference"),
    ],
)
def test_a_term_of_the_model_reads_what_the_model_knows(term: str, told: str) -> None:
    with pytest.raises(MarketFileError, match=told):
        parse_market(f'{SMALLEST}[[model.terms]]\nname = "own"\n{term}', where="market.toml")


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ('never = [["era", "boxes"]]', "no factor is called 'boxes'; a pair may be of silhouette, colourway"),
        ('always = [["era", "era"]]', "a pair is of two factors; 'era' stands there twice"),
        ('always = [["parts", "defects"]]', "'parts' and 'defects' are both lists"),
        ('always = [["era", "month"]]', "'era' and 'month' would need sales of the month"),
        ('always = [["era", "box"]]\nnever = [["box", "era"]]', "stands in `always` and in `never`"),
        ('always = [["era", "box"], ["box", "era"]]', "a pair stands twice in `always`"),
        ('always = [["era", "box", "grade"]]', r"model\.interactions\.always"),
        ('find = "perhaps"', r"model\.interactions\.find"),
    ],
)
def test_a_pair_of_factors_is_of_two_that_the_model_knows(lines: str, told: str) -> None:
    with pytest.raises(MarketFileError, match=told):
        parse_market(f"{SMALLEST}[model.interactions]\n{lines}", where="market.toml")


def test_a_pair_in_every_fit_is_not_named_like_a_term_over_other_factors() -> None:
    own = '[[model.terms]]\nname = "Era by box"\nkind = "pooled"\ncolumns = ["grade"]\n'

    with pytest.raises(MarketFileError, match="the term 'Era by box' is named like the pair of era and box"):
        parse_market(f'{SMALLEST}{own}[model.interactions]\nalways = [["era", "box"]]', where="market.toml")


OVERLAP = '[[eras]]\nname = "re-issue"\nrun = "re-issue"\nfirst_year = 1986\n'


def test_an_original_and_a_re_issue_may_share_a_year_and_check_says_so() -> None:
    market = parse_market(SMALLEST + OVERLAP, where="market.toml")

    assert market.remarks == (
        "the eras 'first' and 're-issue' share years (1986): a production stamp of these years does not decide",
    )


def test_eras_that_follow_one_another_are_not_remarked_on() -> None:
    assert parse_market(SMALLEST + OVERLAP.replace("1986", "1987"), where="market.toml").remarks == ()


def test_a_phrase_that_stands_for_two_things_is_remarked_on() -> None:
    phrases = (
        '[[parts]]\nname = "laces"\nphrases = ["Zubehör"]\n[[parts]]\nname = "bag"\nphrases = ["zubehor"]\n'
    )

    assert parse_market(SMALLEST + phrases, where="market.toml").remarks == (
        "parts: the phrase 'Zubehör' stands for 'laces' and 'bag'; a column that says it is not read by it",
    )


def test_a_rate_file_is_looked_for_beside_the_market_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pipeline.ingest.money import market_rates

    home, elsewhere = tmp_path / "shop", tmp_path / "elsewhere"
    home.mkdir()
    elsewhere.mkdir()
    (home / "market.toml").write_text(f'{SMALLEST}[rates]\nfile = "own.csv"', encoding="utf-8")
    (home / "own.csv").write_text("currency,day,per_euro\nXTS,2024-01-05,7.5\n", encoding="utf-8")
    monkeypatch.chdir(elsewhere)

    rates = market_rates(load_market(Path("../shop/market.toml")))

    assert [row[2] for row in rates.rows() if row[0] == "XTS"] == [7.5]


def test_a_rate_file_with_a_whole_path_is_taken_from_there(tmp_path: Path) -> None:
    (tmp_path / "market.toml").write_text(f'{SMALLEST}[rates]\nfile = "/srv/own.csv"', encoding="utf-8")

    assert load_market(tmp_path / "market.toml").rates.file == "/srv/own.csv"


def test_a_fee_that_takes_nearly_the_whole_of_each_further_unit_from_the_seller_is_told() -> None:
    fees = (
        '[[venues.fees]]\nparty = "seller"\nstarts_on = 2020-01-01\ntiers = [{ rate = 0.8 }]\ntax_rate = 0.2'
    )

    with pytest.raises(
        MarketFileError, match=r"takes 96.0% of each further unit of the price, tax included; 90% is the most"
    ):
        parse_market(SMALLEST + fees, where="market.toml")
