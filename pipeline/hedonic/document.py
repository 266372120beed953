"""A fit as a document: a JSON-able description and a few arrays, to be stored and read back."""

from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.convergence import Convergence
from pipeline.hedonic.design import Design, Factor
from pipeline.hedonic.doubtful import NO_RECORDS
from pipeline.hedonic.fitted import Fit, Trend
from pipeline.hedonic.inverse import Inverse
from pipeline.hedonic.layout import Dropped, Layout
from pipeline.hedonic.penalties import Penalty
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.specification import SPREAD, Specification, Term
from pipeline.hedonic.stored import AGAIN, checked_fit, sparse_in

FORMAT = 4
"""The version of the document; another one is not read."""

Arrays = dict[str, NDArray[np.float64]]


def to_document(fit: Fit) -> tuple[dict[str, Any], Arrays]:
    """Return (description, arrays); the description holds only what JSON can. The doubtful records are not in it."""
    description = {
        "format": FORMAT,
        "specification": {
            "response": fit.specification.response,
            "weights": fit.specification.weights,
            "terms": [asdict(term) for term in fit.specification.terms],
        },
        "factors": [_factor_out(factor) for factor in fit.design.factors],
        "dropped": [asdict(dropped) for dropped in fit.layout.dropped],
        "penalties": [
            {"term": penalty.term, "start": penalty.start, "size": penalty.size}
            for penalty in fit.layout.penalties
        ],
        "sigma2": fit.sigma2,
        "residual_scale": fit.residual_scale,
        "robust": None if fit.robust is None else asdict(fit.robust),
        "lambdas": fit.lambdas,
        "edf": fit.edf,
        "rows": fit.rows,
        "convergence": asdict(fit.convergence),
        "trend": None if fit.trend is None else asdict(fit.trend),
    }
    arrays: Arrays = {
        "coefficients": fit.coefficients,
        **_covariance_out(fit.covariance),
        "cells": fit.layout.cells.astype(np.float64),
    }
    for penalty in fit.layout.penalties:
        if penalty.root is not None:
            arrays[f"root of {penalty.term}"] = penalty.root
    return description, arrays


def from_document(description: dict[str, Any], arrays: Arrays) -> Fit:
    """Return the fit that `to_document` described; raises FitError for another format, or one that is damaged."""
    form = description.get("format") if isinstance(description, dict) else None
    if form != FORMAT:
        raise FitError(f"the stored fit has format {form!r}, not {FORMAT}", AGAIN)
    description = checked_fit(description, arrays)
    stated = description["specification"]
    terms = tuple(
        Term(
            term["name"], term["kind"], tuple(term["columns"]), term["reference"], term.get("spread", SPREAD)
        )
        for term in stated["terms"]
    )
    specification = Specification(stated["response"], terms, stated["weights"])
    factors = [_factor_in(factor, term) for factor, term in zip(description["factors"], terms, strict=True)]
    design = Design(specification, tuple(factors))
    convergence = dict(description["convergence"])
    convergence["at_bound"] = tuple(convergence["at_bound"])
    robust = description["robust"]
    trend = description["trend"]
    return Fit(
        specification,
        design,
        _layout_in(description, arrays, design),
        arrays["coefficients"],
        _covariance_in(arrays),
        description["sigma2"],
        description["residual_scale"],
        None if robust is None else Robust(**robust),
        dict(description["lambdas"]),
        description["edf"],
        description["rows"],
        Convergence(**convergence),
        NO_RECORDS,
        trend=None if trend is None else Trend(**trend | {"lags": tuple(trend["lags"])}),
    )


def _covariance_out(covariance: Inverse) -> Arrays:
    """Return the parts of a covariance as arrays, those of local coefficients only where there are any."""
    arrays = {"covariance": covariance.middle}
    if len(covariance.local):
        arrays["local"] = covariance.local.astype(np.float64)
        for name, matrix in (("blocks", covariance.blocks), ("links", covariance.links)):
            arrays[f"{name} starts"] = matrix.indptr.astype(np.float64)
            arrays[f"{name} columns"] = matrix.indices.astype(np.float64)
            arrays[name] = matrix.data
    return arrays


def _covariance_in(arrays: Arrays) -> Inverse:
    size, middle = len(arrays["coefficients"]), arrays["covariance"]
    local = arrays.get("local", np.zeros(0)).astype(np.int64)
    core = np.setdiff1d(np.arange(size), local)
    blocks = sparse_in(arrays, "blocks", len(local))
    return Inverse(size, core, local, blocks, sparse_in(arrays, "links", len(middle)), middle)


def _factor_out(factor: Factor) -> dict[str, Any]:
    axis = None if factor.axis is None else [None if np.isnan(x) else float(x) for x in factor.axis]
    return {
        "start": factor.start,
        "keys": list(factor.keys),
        "rows": factor.rows.tolist(),
        "many": factor.many,
        "axis": axis,
        "groups": None if factor.groups is None else list(factor.groups),
        "references": list(factor.references),
        "centre": factor.centre,
        "spread": factor.spread,
    }


def _factor_in(stated: dict[str, Any], term: Term) -> Factor:
    axis, groups = stated["axis"], stated["groups"]
    return Factor(
        term,
        stated["start"],
        tuple(stated["keys"]),
        np.array(stated["rows"], dtype=np.int64),
        stated["many"],
        None if axis is None else np.array([np.nan if x is None else x for x in axis], dtype=np.float64),
        None if groups is None else tuple(groups),
        tuple(stated["references"]),
        stated["centre"],
        stated["spread"],
    )


def _layout_in(description: dict[str, Any], arrays: Arrays, design: Design) -> Layout:
    cells = arrays["cells"].astype(np.int64)
    positions = np.full(design.size + 1, len(cells), dtype=np.int64)
    positions[cells] = np.arange(len(cells))
    penalties = tuple(
        Penalty(stated["term"], stated["start"], stated["size"], arrays.get(f"root of {stated['term']}"))
        for stated in description["penalties"]
    )
    return Layout(cells, positions, penalties, tuple(Dropped(**left) for left in description["dropped"]))
