"""What every page and every stated value must say of itself."""

LIMITS: tuple[str, ...] = (
    "An estimate from the owner’s own records of sales; not an appraisal by a licensed appraiser, and not advice.",
    "For insurance, tax, estate or customs, use a qualified professional and the local rules.",
    "It does not authenticate a pair.",
)
