"""What pages weigh: a folder of them is sent, copied and kept."""

from reports.appraisal.page import appraisal_page
from reports.audit.page import audit_page
from reports.consignment.page import consignment_page
from reports.lots.page import lots_page
from reports.market_view.page import market_page
from tests.appraisals import common_pair
from tests.audits import usual_audit
from tests.market_views import usual_market
from tests.upcoming import demo_consignment, demo_lots

BUSINESS = "Tidewrack Pairs"
PRICING = 1_300_000
"""What the pricing page of the demo weighs: the fit and the sales travel in it."""


def weight(html: str) -> int:
    return len(html.encode())


def test_a_folder_of_25_pairs_weighs_no_more_than_six_megabytes() -> None:
    pair = weight(appraisal_page(common_pair(), business=BUSINESS))
    sheet = weight(consignment_page(demo_consignment(), business=BUSINESS))
    others = (
        market_page(usual_market(), business=BUSINESS),
        lots_page(demo_lots(), business=BUSINESS),
        audit_page(usual_audit(), business=BUSINESS),
    )
    assert PRICING + 25 * (pair + sheet) + sum(map(weight, others)) <= 6_000_000


def test_the_page_of_a_market_weighs_no_more_than_half_a_megabyte() -> None:
    assert weight(market_page(usual_market(), business=BUSINESS)) <= 500_000
