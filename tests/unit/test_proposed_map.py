"""The map that `pairband map` proposes goes into a market file once its questions are answered."""

from pathlib import Path

from pipeline.config import load_market, parse_market
from pipeline.ingest.proposal import propose_map

HERE = Path(__file__).parents[1]
ANSWERS = {"venue": '"Lantern Dock"', "date_order": '"dmy"', "currency": '"EUR"', "price_basis": '"hammer"'}
ROWS = (
    "Los;Bezeichnung;Datum;Zuschlag;Größe;Zustand\n"
    "12;Gannet Hi first run;03.02.2024;1.250,00;UK 9;8\n"
    "13;Plover Lo;04.02.2024;980,00;UK 8;7,5\n"
)


def answered(proposal: str) -> str:
    """Return a proposal in which each question is answered where it stands, as its comment says."""
    lines = []
    for line in proposal.splitlines():
        key = line.removeprefix("# ").split(" = ")[0]
        lines.append(
            f"{key} = {ANSWERS[key]}" if line.startswith("# ") and key in ANSWERS and " = " in line else line
        )
    return "\n".join(lines) + "\n"


def test_a_proposal_with_its_questions_answered_is_taken_by_the_market_file(tmp_path: Path) -> None:
    file = tmp_path / "salerooms_2024.csv"
    file.write_text(ROWS, encoding="utf-8")
    text = (HERE / "market.toml").read_text(encoding="utf-8")
    proposal = propose_map(file, load_market(HERE / "market.toml")).to_toml()
    market = parse_market(text + "\n" + answered(proposal), where="market.toml")
    assert market.maps["salerooms_2024"].columns["price_native"] == "Zuschlag"
