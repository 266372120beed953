"""Same and not the same: which rows of which files tell of one sale."""

import polars as pl

from pipeline.ledger import Ledger
from pipeline.schema import HOLDING_FLAGS


def derive_sales(ledger: Ledger) -> None:
    """Derive record_sources and sales anew from the staged rows, the rulings and the price flags.

    The outcome rests on the set of staged rows alone, not on the order in which they came. To be called
    within a transaction.
    """
    ledger.run("staging/row_nodes")
    ledger.write("staging/row_records", least_nodes(_links(ledger)))
    ledger.run("staging/forget_sources")
    ledger.run("staging/record_sources")
    ledger.run("marts/merged_sales")
    ledger.run("marts/pair_keys")
    ledger.write("marts/merged_pairs", least_nodes(ledger.read("marts/ruled_pairs")))
    ledger.run("marts/resolved_rulings")
    ledger.run("marts/forget_sales")
    ledger.run("marts/sales", holding_flags=list(HOLDING_FLAGS))


def _links(ledger: Ledger) -> pl.DataFrame:
    """Return (node, key): the nodes that share a key, and those that the owner has ruled to be one sale."""
    ruled = ledger.read("staging/ruled_links")
    return pl.concat([ledger.read("staging/node_links"), ruled])


def least_nodes(links: pl.DataFrame) -> pl.DataFrame:
    """Return (node, label) of the linked nodes: the label is the least node that links lead to.

    `links` holds node and key, both UInt64; nodes with a key in common are linked, and links carry on.
    """
    labels = links.select("node", pl.col("node").alias("label")).unique()
    while True:
        by_key = links.join(labels, on="node").group_by("key").agg(pl.col("label").min())
        nearer = links.join(by_key, on="key").group_by("node").agg(pl.col("label").min())
        if nearer.join(labels, on=["node", "label"], how="anti").height == 0:
            return labels
        labels = nearer
