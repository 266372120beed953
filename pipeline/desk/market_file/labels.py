"""What the most used tables of the market file ask for, in a dealer's words.

Each key has its heading and what to write there; every other table takes both from its model (`fields.py`).
"""

LABELS: dict[str, dict[str, tuple[str, str]]] = {
    "Venue": {
        "name": ("Name", "As your exports name it, or as you do."),
        "kind": ("Kind", "An auction house, a shop, or a place that sells online."),
        "currency": ("Currency", "Three letters, such as EUR."),
        "country": ("Country", "As the costs of bringing a pair home name it."),
        "fees": ("Fees", "What it takes from buyer and seller, each from a day on."),
        "increments": (
            "Steps of its bids",
            "Up to each amount, bids are multiples of the step; the last has no end. Left blank, any whole amount.",
        ),
        "consignment": (
            "Takes consigned pairs",
            "Left blank: yes where a seller's fee is written and a pair was sold in the last year.",
        ),
        "freight": ("Cost of sending a pair", "To the venue, or on to its buyer, in your own currency."),
    },
    "Increment": {"up_to": ("Up to", ""), "step": ("Step", "")},
    "FeeSchedule": {
        "party": ("Who pays it", "The buyer (the premium), or the seller (the commission)."),
        "starts_on": ("From the day", "It holds until the next one for the same party begins."),
        "method": (
            "How its rates apply",
            "marginal: each rate on its own part of the price. whole-lot: one rate on the whole price.",
        ),
        "tiers": (
            "Rates",
            "Each rate holds up to and including its amount; the last has no end. A rate is 0.25 or 25 %.",
        ),
        "minimum": ("Least fee", "In the venue's currency."),
        "flat": ("Added to each fee", "A fixed amount in the venue's currency."),
        "tax_rate": ("Tax on the fee", "0.2 or 20 %."),
    },
    "Tier": {"up_to": ("Up to", ""), "rate": ("Rate", "")},
    "Era": {
        "name": ("Name", "As you would say it."),
        "run": ("Run", "The original one, or a re-issue."),
        "first_year": ("First year", ""),
        "last_year": ("Last year", "Left blank while it lasts."),
        "phrases": ("Words for it in titles", ""),
    },
    "Words": {
        "fix_typos": (
            "Read misspelt words",
            "As the one word or name that each is near to; every case is listed.",
        ),
        "grades": ("Words for a grade", "A grade is 1 to 10, in half steps."),
        "box": ("Words for the box", ""),
        "tags": ("Words for the tags", ""),
        "overlay": ("Words for the overlay", ""),
        "lasting": ("Words for the lasting", ""),
        "not_words": ("Words for “not”", ""),
        "restored_words": ("Words for restoring in general", "So that “never restored” is understood."),
        "flaw_words": ("Words for a flaw in general", "So that “no flaws” is understood."),
        "piece_words": ("Pieces of a shoe", "Whose condition is not the pair's: “uppers very good”."),
        "not_yet_words": ("Words for work still to be done", "“needs”, “candidate for”."),
        "unsure_words": ("Words for not being certain", "“nearly”, “looks like”."),
        "not_a_pair": ("What is sold beside pairs", "“laces only”; # stands for any number from two on."),
    },
    "Colourway": {"name": ("Name", ""), "phrases": ("Words for it in titles", "")},
    "Silhouette": {
        "name": ("Name", ""),
        "maker": ("Maker", ""),
        "family": ("Family", "Silhouettes of one family are taken to move in price together."),
        "phrases": ("Words for it in titles", ""),
        "colourways": ("Its colourways", ""),
    },
    "Buying": {
        "margin": ("Margin wanted", "The share of what the resale brings in that must be left: 0.2 or 20 %."),
        "confidence": ("How sure of it", "The chance with which it must be left, from 0.5 to 0.99."),
        "sells_at": ("Sold again at", "A venue of yours. Left blank: where the pair was bought."),
        "costs": ("Other costs of a pair", "In your own currency."),
    },
}

ROWS = {"grades": ("Word", "Grade"), "prior": ("Era", "Chance")}
"""What a list by names calls the name and the value of a row; all others: "Name" and "Value"."""

PREMIUM = {"buyer": "Buyer's premium", "seller": "Seller's commission"}
"""What a fee is called by who pays it."""
