"""Which of several amounts is the price: headings of the trade and arithmetic between columns, weighed together."""

import polars as pl
import pytest

from pipeline.ingest.account import Account, read_account

NETS = ("100.00", "84.03", "250.42", "33.61", "71.43", "168.07")


def account(**columns: tuple[str, ...] | str) -> Account:
    """Return what these columns are; underscores in names stand for spaces."""
    cells = {name.replace("_", " "): values for name, values in columns.items()}
    return read_account(pl.DataFrame(cells, schema=dict.fromkeys(cells, pl.String)), numbers_are_plain=False)


def times(amounts: tuple[str, ...], rate: float) -> tuple[str, ...]:
    return tuple(f"{float(amount) * rate:.2f}" for amount in amounts)


def plus(*columns: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f"{sum(map(float, amounts)):.2f}" for amounts in zip(*columns, strict=True))


TAX = times(NETS, 0.19)
GROSS = plus(NETS, TAX)


def test_net_and_tax_add_up_to_the_price_of_a_shop() -> None:
    found = account(Netto=NETS, MwSt=TAX, Brutto=GROSS)
    assert (found.price, found.basis, found.tax) == ("Brutto", "all-in", "included")


def test_a_sum_tells_the_price_with_tax_whatever_its_heading_says() -> None:
    found = account(Spalte_1=NETS, MwSt=TAX, Spalte_2=GROSS)
    assert (found.price, found.tax) == ("Spalte 2", "included")


def test_a_price_without_tax_beside_its_tax_has_the_tax_added() -> None:
    found = account(Prix_HT=NETS, TVA=TAX)
    assert (found.price, found.tax, found.tax_column) == ("Prix HT", "excluded", "TVA")


def test_one_rate_of_tax_is_added_to_a_price_without_it() -> None:
    found = account(Cena_netto=NETS, Stawka_VAT=("23%",) * 6)
    assert (found.price, found.tax, found.tax_rate) == ("Cena netto", "excluded", "0.23")


def test_several_rates_of_tax_are_not_taken_for_one() -> None:
    assert account(Cena_netto=NETS, Stawka_VAT=("23%", "8%") * 3).tax_rate is None


def test_a_markup_by_a_rate_of_tax_tells_the_price_with_tax() -> None:
    found = account(Base=NETS, PVP=times(NETS, 1.21), IVA=("21%",) * 6)
    assert (found.price, found.tax) == ("PVP", "included")


def test_an_ask_of_a_fifth_more_is_no_price_with_tax() -> None:
    assert account(Price=NETS, Asking_price=times(NETS, 1.2)).tax is None


@pytest.mark.parametrize(
    "scheme", ["margin scheme", "Differenzbesteuerung § 25a UStG", "régime de la marge", "marża"]
)
def test_a_column_that_says_margin_scheme_is_the_tax(scheme: str) -> None:
    assert account(Hammer=NETS, Regime=(scheme,) * 6).tax == "margin"


@pytest.mark.parametrize(
    "heading",
    ["Hammer price", "Zuschlag EUR", "Prix d'adjudication", "Aggiudicazione", "Precio de remate", "Hamerprijs",
     "Cena młotkowa", "Klubbat pris", "Hammerslag", "Tilslagspris", "Vasarahinta", "Valor de martelo", "Příklep",
     "落札価格"],
)  # fmt: skip
def test_a_hammer_price_is_known_in_the_languages_of_the_trade(heading: str) -> None:
    found = account(**{heading: NETS, "x": times(NETS, 0.25), "y": times(NETS, 1.25)})
    assert (found.price, found.basis) == (heading, "hammer")


@pytest.mark.parametrize(
    ("premium", "total"),
    [("Buyer's premium", "Total due"), ("Aufgeld", "Rechnungsbetrag"), ("Frais", "Total"), ("Diritti d'asta", "Totale"),
     ("Opgeld", "Totaal"), ("Slagavgift", "Att betala"), ("Salær", "I alt"), ("落札手数料", "合計")],
)  # fmt: skip
def test_a_total_with_the_premium_is_not_the_hammer_price(premium: str, total: str) -> None:
    premiums = times(NETS, 0.24)
    assert account(Hammer=NETS, **{premium: premiums, total: plus(NETS, premiums)}).price == "Hammer"


def test_a_total_of_price_and_postage_is_not_the_price() -> None:
    postage = ("5.90", "5.90", "0.00", "12.50", "5.90", "5.90")
    assert account(Item_price=NETS, Shipping=postage, Total=plus(NETS, postage)).price == "Item price"


def test_what_is_left_after_commission_is_not_the_price() -> None:
    fees = times(NETS, 0.12)
    paid = tuple(f"{float(price) - float(fee):.2f}" for price, fee in zip(NETS, fees, strict=True))
    found = account(Sold_for=NETS, Fee=fees, Payout=paid)
    assert (found.price, found.basis) == ("Sold for", "all-in")


def test_fees_that_are_written_with_a_minus_add_up_too() -> None:
    fees = times(NETS, 0.12)
    paid = tuple(f"{float(price) - float(fee):.2f}" for price, fee in zip(NETS, fees, strict=True))
    found = account(Amount=NETS, Charged=tuple(f"-{fee}" for fee in fees), Payout=paid)
    assert found.columns["Charged"].role == "commission"


def test_where_only_the_payout_is_left_the_price_is_the_sellers_net() -> None:
    asked, sold = times(NETS, 1.1), NETS
    fees = times(sold, 0.35)
    paid = tuple(f"{float(price) - float(fee):.2f}" for price, fee in zip(sold, fees, strict=True))
    found = account(Prezzo=asked, Provvigione=fees, Netto_al_conferente=paid)
    assert (found.price, found.basis, found.ask) == ("Netto al conferente", "net", "Prezzo")


def test_an_asking_price_lies_above_most_prices() -> None:
    assert account(Sold_for=NETS, Asked=times(NETS, 1.15)).ask == "Asked"


def test_a_price_at_which_bidding_starts_is_no_asking_price() -> None:
    assert account(Hammer=NETS, Reserve=times(NETS, 0.6)).ask is None


@pytest.mark.parametrize("heading", ["VAT", "Shipping", "Size", "Refund", "Quantity", "Weight"])
def test_no_other_amount_is_taken_for_an_asking_price(heading: str) -> None:
    assert account(Price=NETS, **{heading: times(NETS, 1.2)}).ask is None


def test_the_lower_of_two_estimates_is_the_asking_price() -> None:
    assert account(Hammer=NETS, Est=times(NETS, 0.8), High_est=times(NETS, 1.2)).ask == "Est"


def test_an_estimate_that_is_a_range_is_an_asking_price() -> None:
    ranges = tuple(f"{float(one) * 0.8:.0f} - {float(one) * 1.2:.0f} €" for one in NETS)
    assert account(Prix_marteau=NETS, Estimation=ranges).ask == "Estimation"


def test_each_amount_says_why_it_is_taken_for_what_it_is() -> None:
    found = account(Netto=NETS, MwSt=TAX, Brutto=GROSS)
    assert "'Netto' + 'MwSt' = 'Brutto' in 6 of 6 rows" in found.columns["Brutto"].why


def test_an_export_without_amounts_has_no_price() -> None:
    assert account(Pair=("Gannet Hi", "Plover Lo")).price is None


def test_an_export_without_rows_has_no_price() -> None:
    assert account(Price=()).price is None


def test_one_row_is_read_by_its_headings_alone() -> None:
    assert account(Hammer=("100.00",), Premium=("25.00",), Total=("125.00",)).price == "Hammer"


def test_an_empty_column_is_not_an_amount() -> None:
    cells = pl.DataFrame(
        {"Price": [None, None], "Hammer": ["80.00", None]},
        schema=dict.fromkeys(("Price", "Hammer"), pl.String),
    )
    assert read_account(cells, numbers_are_plain=False).price == "Hammer"


def test_what_a_discount_leaves_is_the_price_and_what_it_is_taken_off_was_asked() -> None:
    discounts = ("10.00", "0.00", "25.00", "5.00", "0.00", "8.00")
    found = account(Prezzo=plus(NETS, discounts), Sconto=discounts, Incassato=NETS)
    assert (found.price, found.ask) == ("Incassato", "Prezzo")


@pytest.mark.parametrize(("share", "role"), [(0.9, "low estimate"), (0.19, "tax")])
def test_a_heading_that_means_tax_or_estimate_is_told_by_its_amounts(share: float, role: str) -> None:
    assert account(Zuschlag=NETS, Taxe=times(NETS, share)).columns["Taxe"].role == role


def test_what_a_standing_discount_is_taken_off_was_asked_of_nobody() -> None:
    discounts = times(NETS, 0.05)
    assert account(Prezzo=plus(NETS, discounts), Sconto=discounts, Incassato=NETS).ask is None


def test_what_a_standing_discount_leaves_is_the_price_without_its_being_tax() -> None:
    discounts = times(NETS, 0.05)
    found = account(
        Verkaufspreis=plus(NETS, discounts),
        Rabatt=discounts,
        Betrag_inkl_MWST=NETS,
        davon_MWST=tuple(f"{float(one) * 0.081 / 1.081:.2f}" for one in NETS),
    )
    assert (found.price, found.tax) == ("Betrag inkl MWST", "included")


@pytest.mark.parametrize("heading", ["Belegnr", "Column 1"])
def test_numbers_of_receipts_by_year_are_no_estimates(heading: str) -> None:
    numbers = tuple(f"22/{number:04}" for number in range(1, 7))
    assert account(**{heading: numbers, "Betrag": GROSS, "MwSt": TAX}).basis == "all-in"


def test_a_fee_that_the_buyer_pays_on_top_leaves_the_price_before_it() -> None:
    fees, postage = times(NETS, 0.05), ("4.50",) * 6
    found = account(Item_price=NETS, Protection_fee=fees, Postage=postage, Total=plus(NETS, fees, postage))
    assert (found.price, found.basis) == ("Item price", "hammer")


def test_a_rate_in_a_heading_of_amounts_makes_no_rate_of_them() -> None:
    fees = times(NETS, 0.2)
    left = tuple(f"{float(price) - float(fee):.2f}" for price, fee in zip(NETS, fees, strict=True))
    found = account(Sale_price=NETS, **{"Our commission 20%": fees, "Due to you": left})
    assert (found.price, found.basis, found.columns["Our commission 20%"].role) == (
        "Sale price",
        "all-in",
        "commission",
    )


@pytest.mark.parametrize("heading", ["Valor s/ IVA", "Preis ohne USt", "Price excl. VAT", "Cena bez DPH"])
def test_a_price_whose_heading_takes_the_tax_off_is_without_it(heading: str) -> None:
    found = account(**{heading: NETS, "IVA": TAX})
    assert (found.price, found.tax) == (heading, "excluded")


@pytest.mark.parametrize(
    "heading", ["Price w/ BP", "Loppuhinta sis. ostajan maksun", "Pris inkl. köparavgift"]
)
def test_a_price_whose_heading_adds_the_premium_is_all_in(heading: str) -> None:
    assert account(**{heading: GROSS, "Estimate": NETS}).basis == "all-in"


def test_a_price_whose_heading_leaves_the_premium_out_is_a_hammer_price() -> None:
    assert account(**{"Price excl. buyer's premium": NETS}).basis == "hammer"


COUNTS = ("1", "2", "1", "1", "3", "1")


def test_the_price_of_one_pair_goes_before_that_of_the_line() -> None:
    lines = tuple(f"{float(price) * int(count):.2f}" for price, count in zip(NETS, COUNTS, strict=True))
    assert account(Qty=COUNTS, Pris=NETS, Montant_TTC=lines).price == "Pris"


def test_where_every_line_is_one_pair_the_heading_tells_its_price() -> None:
    assert account(Aantal=("1",) * 6, regeltotaal=NETS, stuksprijs=NETS).price == "stuksprijs"


POSTAGE = ("6.50",) * 6
FEES = times(NETS, 0.1)
SETTLED = tuple(f"{float(price) - float(fee):.2f}" for price, fee in zip(NETS, FEES, strict=True))


def test_what_the_buyer_paid_with_postage_is_no_ask() -> None:
    found = account(Price=NETS, Postage=POSTAGE, Price_in_full=plus(NETS, POSTAGE), Fee=FEES, Payout=SETTLED)
    assert (found.price, found.ask) == ("Price", None)


def test_an_amount_at_or_above_every_price_is_the_ask_whatever_its_heading() -> None:
    assert account(Hope=times(NETS, 1.15), Sold_for=NETS).ask == "Hope"


def test_an_amount_below_some_prices_is_no_ask() -> None:
    mixed = (*times(NETS[:3], 1.15), *times(NETS[3:], 0.8))
    assert account(Hope=mixed, Sold_for=NETS).ask is None


def test_one_amount_without_a_word_is_the_price_and_its_basis_is_asked() -> None:
    found = account(Column_7=NETS)
    assert (found.price, found.basis) == ("Column 7", None)


def test_all_that_goes_off_a_payout_belongs_to_the_price() -> None:
    card = times(NETS, 0.015)
    paid = tuple(f"{float(left) - float(fee):.2f}" for left, fee in zip(SETTLED, card, strict=True))
    found = account(Went_for=NETS, House_share=FEES, Card=card, Due_to_you=paid)
    assert (found.price, found.ask) == ("Went for", None)


SOME = (NETS[0], "", *NETS[2:])


def test_a_second_price_that_stands_without_a_sale_is_what_was_asked() -> None:
    found = account(PVP=times(NETS, 1.25), Importe=SOME)
    assert (found.price, found.ask) == ("Importe", "PVP")


def test_what_a_payout_is_left_of_is_the_price_whatever_its_heading() -> None:
    found = account(Column_7=NETS, Payout=times(NETS, 0.85))
    assert (found.price, found.ask) == ("Column 7", None)


def test_ranges_of_amounts_are_estimates_whatever_their_heading() -> None:
    ranges = tuple(f"{float(price) * 0.9:.0f} - {float(price) * 1.4:.0f}" for price in NETS)
    assert account(Expected_to_make=ranges, Hammer=NETS).ask == "Expected to make"


def test_a_share_that_is_no_rate_of_tax_is_not_taken_for_tax() -> None:
    assert account(Column_1=NETS, Column_2=times(NETS, 0.28), Total=times(NETS, 1.28)).tax is None


COSTS = times(NETS, 0.6)
EARNED = plus(NETS, times(COSTS, -1))


def test_tax_within_what_a_dealer_earned_is_tax_on_the_margin() -> None:
    found = account(Cost=COSTS, Earned=EARNED, Sale_price=NETS, Levy=times(EARNED, 21 / 121))
    assert (found.price, found.tax) == ("Sale price", "margin")


def test_a_gross_amount_of_which_fees_were_kept_says_nothing_of_tax() -> None:
    fees = times(NETS, -0.09)
    assert account(Gross_amount=NETS, Fee=fees, Payout=plus(NETS, fees)).tax is None


def test_a_gross_amount_that_names_its_tax_is_with_tax_whatever_fees_were_kept() -> None:
    fees = times(NETS, -0.09)
    assert account(Gross_incl_VAT=NETS, Fee=fees, Payout=plus(NETS, fees)).tax == "included"


def test_an_amount_that_no_heading_explains_is_a_price_where_its_tax_stands_beside_it() -> None:
    found = account(Aaa=GROSS, MwSt=times(GROSS, 0.19 / 1.19))
    assert (found.price, found.tax) == ("Aaa", "included")


HAMMER = ("100", "240", "950", "1300", "420", "75")


def test_two_sums_tell_an_auctions_account_in_an_unknown_language() -> None:
    premium, fee = times(HAMMER, 0.22), times(HAMMER, 0.12)
    amounts = {"Aaa": HAMMER, "Bbb": premium, "Ccc": plus(HAMMER, premium), "Ddd": fee}
    found = account(**amounts, Eee=plus(HAMMER, times(fee, -1)))
    assert (found.price, found.basis) == ("Aaa", "hammer")


def test_net_tax_and_postage_of_an_unknown_language_are_no_auctions_account() -> None:
    shipped = plus(GROSS, ("7.90", "9.50", "7.90", "12.00", "9.50", "7.90"))
    found = account(Aaa=NETS, Bbb=TAX, Ccc=GROSS, Ddd=plus(shipped, times(GROSS, -1)), Eee=shipped)
    assert found.basis != "hammer"


def test_years_are_no_amounts_of_money() -> None:
    assert "Year" not in account(Year=("1985", "1986", "1991", "1984"), Price=NETS[:4]).columns


def test_a_total_of_lines_and_tax_is_the_price_of_the_line() -> None:
    counts = ("1", "2", "1", "1", "3", "1")
    nets = tuple(f"{float(one) * int(count):.2f}" for one, count in zip(NETS, counts, strict=True))
    tax = times(nets, 0.18)
    found = account(Qty=counts, Rate_each=NETS, Taxable_value=nets, GST=tax, Bill_value=plus(nets, tax))
    assert (found.price, found.quantity_price) == ("Bill value", "line")


def test_the_rate_of_the_premium_is_said_beside_a_hammer_price() -> None:
    found = account(Hammer=HAMMER, Premium=times(HAMMER, 0.22))
    assert "the premium in 'Premium' is 22 % of it" in found.basis_why


HAMMERS = ("100.00", "240.00", "310.00", "70.00", "1250.00", "90.00")


def test_a_charge_of_one_per_cent_of_the_hammer_is_not_the_hammer_in_euros() -> None:
    cells = {"Hammer": tuple(each.split(".")[0] for each in HAMMERS), "Ins. 1%": times(HAMMERS, 0.01)}
    assert account(**cells).price == "Hammer"


def test_an_insurance_of_a_hundredth_of_the_hammer_is_not_the_hammer_in_euros() -> None:
    whole = tuple(each.split(".")[0] for each in HAMMERS)
    assert account(Hammer=whole, Insurance=times(HAMMERS, 0.01)).price == "Hammer"


def test_amounts_with_cents_are_not_in_minor_units() -> None:
    assert account(Hammer=HAMMERS, Handling=times(HAMMERS, 0.01)).price == "Hammer"


def test_tax_on_the_commission_that_comes_off_a_hammer_price_is_no_tax_on_it() -> None:
    commission, tax = times(HAMMERS, 0.125), times(HAMMERS, 0.03125)
    payout = times(HAMMERS, 0.84375)
    found = account(Klubbat=HAMMERS, Provision=commission, Moms=tax, Att_utbetala=payout)
    assert (found.price, found.tax) == ("Klubbat", None)


def test_tax_within_a_price_that_is_paid_out_less_commission_is_included() -> None:
    tax, commission, payout = times(HAMMERS, 0.2), times(HAMMERS, 0.3), times(HAMMERS, 0.5)
    found = account(Price=HAMMERS, Commission=commission, VAT=tax, Payout=payout)
    assert (found.price, found.tax) == ("Price", "included")


BIDS = ("120", "45", "380", "90", "1250", "75", "210", "60", "640", "150", "30", "95")
"""Hammer prices as bids rise."""

PREMIUMS = times(BIDS, 0.22)
LOW_ESTIMATES = ("100", "50", "300", "80", "1000", "80", "200", "50", "700", "150", "30", "90")
HIGH_ESTIMATES = ("150", "80", "450", "120", "1500", "120", "300", "80", "1000", "250", "50", "130")


def test_hammer_and_premium_are_told_by_their_sum_though_no_heading_says_anything() -> None:
    found = account(Qa=BIDS, Qe=PREMIUMS, Qi=plus(BIDS, PREMIUMS))
    assert (found.price, found.basis) == ("Qa", "hammer")


def test_round_pairs_of_amounts_beside_a_lot_that_failed_are_its_estimates() -> None:
    bids = ("", *BIDS[1:-2], "", "")
    premiums = tuple(f"{float(one) * 0.22:.2f}" if one else "" for one in bids)
    found = account(Qa=LOW_ESTIMATES, Qe=HIGH_ESTIMATES, Qi=bids, Qo=premiums)
    assert (found.price, found.ask) == ("Qi", "Qa")


def test_a_round_price_less_a_commission_is_told_from_what_the_seller_receives() -> None:
    fees = times(BIDS, 0.15)
    left = tuple(f"{float(one) - float(fee):.2f}" for one, fee in zip(BIDS, fees, strict=True))
    assert account(Qa=left, Qe=fees, Qi=BIDS).price == "Qi"


def test_what_a_pair_cost_and_what_was_earned_with_it_add_up_to_its_price() -> None:
    costs = ("70", "20", "190", "35", "800", "40", "100", "25", "300", "90", "10", "50")
    earned = tuple(f"{float(one) - float(cost):.2f}" for one, cost in zip(BIDS, costs, strict=True))
    assert account(Bought_for=costs, Qe=earned, Qi=BIDS).price == "Qi"


def test_what_is_left_after_cost_and_postage_is_no_price() -> None:
    costs = ("70", "20", "190", "35", "800", "40", "100", "25", "300", "90", "10", "50")
    postage = ("6.95", "4.95") * 6
    left = tuple(
        f"{float(one) - float(cost) - float(sent):.2f}"
        for one, cost, sent in zip(BIDS, costs, postage, strict=True)
    )
    found = account(Inkoop=costs, Porto=postage, Qe=left, Qi=BIDS)
    assert (found.price, found.basis) == ("Qi", "all-in")


def test_running_numbers_and_counts_of_bids_are_no_price() -> None:
    numbers = tuple(str(401 + at) for at in range(12))
    found = account(Qa=numbers, Qe=("3", "9", "1", "4") * 3, Qi=BIDS, Qo=PREMIUMS)
    assert found.price == "Qi"


def test_small_whole_numbers_by_which_a_price_becomes_that_of_the_line_are_quantities() -> None:
    counts = ("1", "2", "1", "3") * 3
    lines = tuple(f"{float(one) * int(count):.2f}" for one, count in zip(BIDS, counts, strict=True))
    found = account(Qa=counts, Price=BIDS, Qo=lines)
    assert (found.quantity, found.quantity_price) == ("Qa", "unit")


def test_two_amounts_that_may_each_be_the_price_are_left_to_the_owner() -> None:
    others = ("130", "40", "390", "80", "1200", "80", "200", "65", "650", "140", "35", "90")
    assert account(Qa=BIDS, Qe=others).price is None


def test_two_sales_taxes_on_top_of_a_price_are_one_rate_together() -> None:
    taxes = times(BIDS, 0.05), times(BIDS, 0.09975)
    found = account(Price=BIDS, GST=taxes[0], QST=taxes[1], Total=plus(BIDS, *taxes))
    assert (found.price, found.tax, found.tax_rate) == ("Price", "excluded", "0.14975")


def test_two_sales_taxes_within_a_round_price_are_included() -> None:
    taxable, tax = times(BIDS, 1 / 1.18), times(BIDS, 0.09 / 1.18)
    whole = plus(taxable, tax, tax)
    found = account(
        Taxable_value=taxable, CGST=tax, SGST=tax, Bill_value=tuple(f"{float(one):.0f}" for one in whole)
    )
    assert (found.price, found.tax) == ("Bill value", "included")


@pytest.mark.parametrize(
    ("heading", "role"),
    [("Cijena s provizijom", "all-in"), ("Izlicitirana cijena", "hammer"), ("Kladivková cena", "hammer"),
     ("Ціна молотка", "hammer"), ("Цена молотка", "hammer"), ("Haamrihind", "hammer"), ("Āmura cena", "hammer"),
     ("Plaktuko kaina", "hammer"), ("Hamarshögg", "hammer"), ("Preu de martell", "hammer"),
     ("Giá trúng đấu giá", "hammer"), ("ราคาค้อน", "hammer"), ("מחיר פטיש", "hammer"), ("سعر المطرقة", "hammer"),
     ("Harga palu", "hammer"), ("Poštnina", "postage"), ("Výplata", "payout"), ("Hoa hồng", "commission"),
     ("עמלת מוכר", "commission"), ("السعر شامل الضريبة", "gross"), ("Väljamakse", "payout"), ("Þóknun", "commission")],
)  # fmt: skip
def test_amounts_are_known_in_further_languages(heading: str, role: str) -> None:
    assert account(**{heading: BIDS}).columns[heading].role == role


def test_fees_under_an_unknown_name_make_no_ask_of_the_price() -> None:
    """A charge that no word list knows, and the label that was paid for, came off the payout too."""
    prices = [100.0, 190.0, 240.0, 85.0, 310.0, 150.0, 205.0, 95.0]
    posted = [6.95, 6.95, 9.5, 6.95, 9.5, 0.0, 6.95, 6.95]
    labels = [5.95, 5.95, 7.4, 5.95, 7.4, 5.95, 5.95, 5.95]
    sundry = [round(0.03 * price + 0.4, 2) for price in prices]
    fee = [round(0.09 * price, 2) for price in prices]
    left = [
        price + post - one - less - label
        for price, post, one, less, label in zip(prices, posted, fee, sundry, labels, strict=True)
    ]
    amounts = {
        "Item price": prices,
        "Postage paid by buyer": posted,
        "Selling fee": fee,
        "Payment processing": sundry,
        "Postage label": labels,
        "Net payout": left,
    }
    cells = pl.DataFrame({name: [f"{value:.2f}" for value in values] for name, values in amounts.items()})
    account = read_account(cells, numbers_are_plain=False)

    assert (account.price, account.ask) == ("Item price", None)
