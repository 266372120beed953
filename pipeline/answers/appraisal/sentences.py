"""What cautions say, and why a value is weak: the sentences alone, for whoever needs no value."""

WEAKNESSES: dict[str, str] = {
    "no silhouette": "too few sales",
    "later sales": "too few sales",
    "few sales": "too few sales",
    "no era": "outside the data",
    "no such era of it": "outside the data",
    "era not known": "era in doubt",
    "odds": "era in doubt",
    "extrapolated": "outside the data",
    "uncalibrated": "bands not tested",
    "old sales": "no recent sales",
    "before the sales": "before the first sale",
    "stale": "out of date",
}
"""What puts a value itself in doubt, by the caution that says so; it stands above the value. All others stay below."""

SENTENCES: dict[str, str] = {
    "no silhouette": "No sale of the silhouette '{silhouette}' is in the records: the value is that of an average "
    "silhouette, and the band as wide as silhouettes differ.{hint}",
    "later sales": "No sale of this silhouette up to this day is in the records: its effect rests on later sales, "
    "which the fit has seen.",
    "few sales": "Only {count} of this silhouette: much of its value comes from similar models.",
    "no era": "No sale in the records is of this era: what it adds or takes off is guessed, and the band is wider "
    "for it.",
    "no such era of it": "No sale of this silhouette is of this era: what the era adds or takes off is estimated from "
    "similar models.",
    "era not known": "The era is not known: the value is that of pairs that nobody dated. Give the era, or the odds "
    "of each.",
    "no colourway": "No sale of this silhouette in '{colourway}' is in the records: an average colourway is assumed.",
    "no attribute": "No sale in the records shares its {names}: what they add or take off is estimated from similar "
    "models, and the band is wider for it.",
    "extrapolated": "The {names} lies outside those sold: its effect is extrapolated from the nearest.",
    "not known": "Not known: {names}. Priced as if unstated; look at the pair and say what you see.",
    "any venue": "No venue chosen, so the band is wider.",
    "restored": "Tell the buyer what was restored: the value assumes that buyers know of it.",
}
"""The sentences that depend on the pair; the pricing page shows them too."""


def phrase_key(key: str) -> str:
    """Return the key of the phrase that says in other languages what a key of SENTENCES or WEAKNESSES says."""
    return f"caution_{key.replace(' ', '_')}"


def weakness_key(weakness: str) -> str:
    """Return the key of the phrase that says a weakness in other languages."""
    return f"weak_{weakness.replace(' ', '_')}"
