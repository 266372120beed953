"""A pair as a shop describes it to a customer: the owner's own words for its era, its grade and its size."""

from dataclasses import dataclass

from pipeline import formats
from pipeline.alike import fold_all
from pipeline.config import Era, Market
from pipeline.ingest.sizes import size_number
from pipeline.market.pair import Pair
from pipeline.phrases.phrases import Phrases, Sentence, Value
from pipeline.schema import GRADES, SizeSystem


@dataclass(frozen=True)
class ShopWords:
    """What a customer reads of a pair; "" where it is not known."""

    maker: str
    era: str
    grade: str
    size: str


def in_shop_words(pair: Pair, market: Market) -> ShopWords:
    """Return a pair in the words of the market file."""
    silhouette = market.silhouette_by_name.get(pair.silhouette)
    era = market.era_by_name.get(pair.era or "")
    return ShopWords(
        maker=silhouette.maker if silhouette else "",
        era=era_words(era) if era else pair.era or "",
        grade="" if pair.grade is None else grade_words(pair.grade, market.words.grades),
        size=size_words(pair, market.sizes.usual),
    )


def era_words(era: Era) -> str:
    """Return an era as titles name it, with its run and years: "First run, original of 1984–1986"."""
    name = era.phrases[0] if era.phrases else era.name
    said, run = (text.replace("-", "") for text in fold_all([name, era.run]))
    key = "years" if run in said else era.run.replace("-", "")

    def years(language: Phrases) -> str:
        first = str(era.first_year)
        return f"{first}–{era.last_year}" if era.last_year else language.say("years_on", year=first)

    return Sentence.saying(f"era_{key}", era=f"{name[0].upper()}{name[1:]}", years=years)


def grade_words(grade: float, words: dict[str, float]) -> str:
    """Return a grade with the first trade word for it, a sign on the word half a step away: "Good+, 7.5 of 10"."""
    figures: dict[str, Value] = {
        "grade": lambda language: formats.number(grade, 3, language.locale),
        "best": f"{GRADES[-1]:g}",
    }
    for step, sign in ((0.0, ""), (-0.5, "+"), (0.5, "−")):
        found = next((word for word, value in words.items() if value == grade + step), None)
        if found is not None:
            return Sentence.saying("grade_worded", word=f"{found[0].upper()}{found[1:]}{sign}", **figures)
    return Sentence.saying("grade_of", **figures)


def size_words(pair: Pair, usual: SizeSystem | None) -> str:
    """Return the size as printed on the label; where the usual system is another, about what it is there."""
    if usual is None or usual == pair.size_system or pair.foot_mm is None:
        return pair.size_text
    other = size_number(usual, pair.foot_mm)
    return Sentence.saying(
        "size_about",
        size=pair.size_text,
        other=lambda language: f"{usual} {formats.number(other, 6, language.locale)}",
    )
