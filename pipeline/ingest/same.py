"""Same and not the same: which rows of which files are one sale, and which sales are of one pair."""

import polars as pl

from pipeline.ledger import Ledger
from pipeline.schema import HOLDING_FLAGS


def derive_sales(ledger: Ledger) -> None:
    """Derive the sales again from the staged rows, the decisions and the price flags.

    The outcome rests on the set of staged rows alone, not on the order in which they came. To be called
    within a transaction.
    """
    ledger.run("staging/forget_settled_sales")
    settle_sales(ledger)


def settle_sales(ledger: Ledger) -> None:
    """Derive the sales that were forgotten, and those that are new; the others must be as they would be derived again.

    To be called within a transaction.
    """
    for relation in ("settled_rows", "pair_histories"):
        ledger.run(f"staging/forget_{relation}")
    key_rows(ledger)
    ledger.run("staging/row_nodes")
    links = pl.concat([ledger.read("staging/node_links"), ledger.read("staging/ruled_links")])
    ledger.write("staging/row_sales", least_nodes(links))
    ledger.run("staging/matched_reversals")
    ledger.run("staging/settled_reversals")
    ledger.run("staging/sale_refunds")
    ledger.run("marts/said_of_sales")
    ledger.run("staging/settled_rows")
    ledger.run("marts/settled_sales", holding_flags=list(HOLDING_FLAGS))
    ledger.run("marts/own_histories")
    ledger.run("marts/known_pairs")
    ledger.write("marts/pair_histories", least_nodes(ledger.read("marts/ruled_pairs")))


def key_rows(ledger: Ledger) -> None:
    """Work out again what staged rows are known by, for the statements that read `keyed_rows`."""
    ledger.run("staging/row_keys", only_removed=False)
    ledger.run("staging/keyed_rows")


def find_keys(ledger: Ledger) -> None:
    """Prepare `keyed_rows` as `key_rows` does, from sales that are derived already: quick in a large ledger."""
    ledger.run("staging/row_keys", only_removed=True)
    ledger.run("staging/keyed_as_settled")


def least_nodes(links: pl.DataFrame) -> pl.DataFrame:
    """Return (node, label) of the linked nodes: the label is the least node that links lead to.

    `links` holds node and key; nodes with a key in common are linked, and links carry on.
    """
    labels = links.select("node", pl.col("node").alias("label")).unique()
    while True:
        by_key = links.join(labels, on="node").group_by("key").agg(pl.col("label").min())
        nearer = links.join(by_key, on="key").group_by("node").agg(pl.col("label").min())
        if nearer.join(labels, on=["node", "label"], how="anti").height == 0:
            return labels
        labels = nearer
