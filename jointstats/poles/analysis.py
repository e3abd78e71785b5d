"""From poles to their sets: the fit of a site, without a sampling."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import expit, logit, ndtri

from jointstats.borehole.fractures import Fractures, Status
from jointstats.checks import as_seed, check_confidence
from jointstats.errors import InputError
from jointstats.fit.mixture import JointSetMixture
from jointstats.fit.odds import presence, readings_of
from jointstats.fit.roundness import roundness_of
from jointstats.fit.shaped import PER_SET
from jointstats.intervals import share_interval
from jointstats.poles.result import PoleSet, PolesAnalysis
from jointstats.poles.table import Hand, PoleTable, poles_of, poles_of_rows
from jointstats.recipe.given_set import GivenSet, allowed_rows, set_names
from jointstats.sets.analysis import fit_notes, with_sets
from jointstats.sets.result import counts_of
from jointstats.sphere.axes import as_axes, as_weights
from jointstats.sphere.cones import effective_size
from jointstats.sphere.fisher import fisher_statistics
from jointstats.types import Array, ArrayLike, Interval, RandomState

__all__ = ["analyse_poles"]


def analyse_poles(
    poles: ArrayLike | pd.DataFrame | PoleTable,
    weights: ArrayLike | str | None = None,
    n_sets: int | Literal["auto"] = "auto",
    *,
    hand: Hand = "right",
    shape: Literal["auto", "round", "elliptical"] = "auto",
    given: Sequence[GivenSet] = (),
    confidence: float = 0.95,
    max_sets: int = 8,
    criterion: Literal["bic", "icl"] = "bic",
    random_state: RandomState = 0,
) -> PolesAnalysis:
    """Find the joint sets of poles of which no sampling is known.

    Parameters
    ----------
    poles : array_like, shape (n, 3), DataFrame or PoleTable
        Poles, either end, x east, y north, z up; or a table with dip and dip direction, dip and
        strike, or trend and plunge of the poles, in degrees (`jointstats.poles.read_poles`).
    weights : array_like, shape (n,), name of a column, or None
        How much each pole counts beside the others, such as its trace length. Only their ratios
        count: the poles are taken as worth (Σw)² / Σw² of equal weight (Kish 1965, Survey
        Sampling; from memory). Give a pole that stands for several as several rows.
    n_sets : int or "auto"
        Number of sets; "auto" lets `criterion` choose.
    hand : "right" or "left"
        Of strikes in a frame: to which side the plane dips as one looks along the strike.
    shape : "auto", "round" or "elliptical"
        Shape of the sets; "auto" chooses it with the number, girdles among them.
    given : sequence of GivenSet
        Sets the analyst gives, to start from or to hold; more are found beside them.
    confidence : float
        Level of every interval, between 0 and 1.
    max_sets : int
        Most sets that "auto" tries.
    criterion : "bic" or "icl"
        Bayesian information criterion, or integrated completed likelihood.
    random_state : int, Generator, RandomState or None
        Makes the search repeatable.

    Returns
    -------
    PolesAnalysis
        Sets with means, cones, shapes and shares, readings with their odds, and every pole with its
        set. P32, spacing and blind zone need a sampling and are not given.

    Raises
    ------
    InputError
        If there is no pole, rows of an array are far from unit length, or an argument is out of range.

    Examples
    --------
    >>> import jointstats as js
    >>> frame = pd.DataFrame({"dip_deg": [10, 12, 9, 11, 8, 10, 85, 88, 84, 86, 87, 85],
    ...                       "dip_direction_deg": [90, 95, 88, 92, 85, 91] + [180] * 6})
    >>> js.analyse_poles(frame, n_sets=2).counts.in_a_set
    12
    """
    given_table = _table(poles, hand)
    table = given_table.table
    level, seed = check_confidence(confidence), as_seed(random_state)
    oriented = Fractures(table).is_oriented
    if not oriented.any():
        raise InputError(f"{given_table.name} has no pole with an orientation; give at least one")
    weighed = _weights(weights, table)
    allowed = allowed_rows(given, table)
    model = JointSetMixture(
        n_sets,
        shape=shape,
        max_sets=max_sets,
        criterion=criterion,
        given_means=[one.pole for one in given] or None,
        hold_means=[one.hold for one in given],
        confidence=level,
        random_state=seed,
    )
    model.fit(
        Fractures(table).oriented.poles,
        sample_weight=_effective(weighed[oriented]),
        allowed=allowed[oriented] if given else None,
    )
    settings = {
        **{"n_sets": n_sets, "shape": shape, "given": tuple(given), "criterion": criterion},
        **{"max_sets": max_sets, "confidence": level, "random_state": seed},
        "poles": given_table.said,
        "weights": "none" if weights is None else weights if isinstance(weights, str) else "given",
    }
    return _result(given_table, model, settings, allowed)


#: Lengths of rows that may pass for those of unit vectors, written with few digits.
_SHORTEST, _LONGEST = 0.5, 2.0


def _table(poles: ArrayLike | pd.DataFrame | PoleTable, hand: Hand) -> PoleTable:
    if isinstance(poles, PoleTable):
        return poles
    if isinstance(poles, pd.DataFrame):
        return poles_of(poles, hand=hand)
    rows = as_axes(poles, "poles", min_rows=1)
    lengths = np.linalg.norm(np.asarray(poles, dtype=np.float64).reshape(-1, 3), axis=1)
    far = np.flatnonzero((lengths < _SHORTEST) | (lengths > _LONGEST))
    if len(far):
        raise InputError(
            f"poles must be unit vectors; row {far[0]} has length {lengths[far[0]]:.4g}, and {len(far)} rows "
            "are as far off: of dips and dip directions give poles_from_dip(dip_deg, dip_direction_deg)"
        )
    return poles_of_rows(rows)


def _weights(weights: ArrayLike | str | None, table: pd.DataFrame) -> Array:
    if isinstance(weights, str):
        if weights not in table:
            known = ", ".join(map(str, table))
            raise InputError(f"weights names the column {weights!r}; the columns are {known}")
        return as_weights(pd.to_numeric(table[weights], errors="coerce").to_numpy(), len(table))
    return as_weights(weights, len(table))


def _effective(weights: Array) -> Array:
    """Weights of a sum of Kish's effective number, so that intervals are of what they are worth."""
    if not weights.any():
        return weights
    share = weights / weights.max()
    return share * (effective_size(share) / share.sum())


def _result(
    given: PoleTable, model: JointSetMixture, settings: dict[str, Any], allowed: NDArray[np.bool_]
) -> PolesAnalysis:
    names = set_names(model, settings["given"])
    status = np.where(Fractures(given.table).is_oriented, Status.IN_THE_FIT, Status.NOT_ORIENTED)
    fractures = with_sets(given.table.assign(status=status), model, names, allowed)
    readings = readings_of(model.others_, model.data_)
    there = presence(readings, model.data_.rows)
    return PolesAnalysis(
        name=given.name,
        sets=tuple(_set(model, fractures, k, name, there) for k, name in enumerate(names)),
        background_share=float(model.background_),
        background_interval=share_limits(model, model.n_sets_),
        fractures=fractures,
        counts=counts_of(fractures),
        mixture=model,
        readings=readings,
        settings=settings,
        notes=(*([given.said] if given.strikes else []), *fit_notes(model)),
        sources=given.sources,
        digests=given.digests,
    )


def _set(
    model: JointSetMixture, fractures: pd.DataFrame, k: int, name: str, there: Array
) -> PoleSet:
    own = Fractures(fractures).of_set(name).fitted
    density, certainty = model.rock_.densities[k], model.certainty_
    return PoleSet(
        name=name,
        density=density,
        read_density=density,
        cone_deg=certainty.cone_deg(k),
        concentration_interval=certainty.kappa_interval(k),
        kappa_read_interval=certainty.kappa_interval(k),
        presence=float(there[k]),
        n=len(own),
        n_expected=float(model.intensities_[k]) * model.data_.total,
        statistics=fisher_statistics(
            own.poles if len(own) else density.frame[0], confidence=model.confidence
        ),
        elliptical_test=roundness_of(model.data_, model.fit_, k),
        confidence=model.confidence,
        share=float(model.intensities_[k]),
        share_interval=share_limits(model, k),
    )


def share_limits(model: JointSetMixture, k: int) -> Interval:
    """Interval of the share of a component, the background last, by the observed information.

    λ_k has the share of the whole times its number; the two are independent in a Poisson process,
    so the variance of log share is that of log λ_k less one over the number, and the interval is
    normal in the logit of the share; of none or all it is that of a count.
    """
    share = float(model.background_ if k == model.n_sets_ else model.intensities_[k])
    number = model.data_.total
    if not 1e-9 < share < 1 - 1e-9:
        return share_interval(round(share) * number, number, model.confidence, method="Jeffreys")
    covariance = model.certainty_.covariance
    place = PER_SET * k + (0 if k == model.n_sets_ else PER_SET - 1)
    # No share is known better than from as many fractures of known set.
    variance = max(float(covariance[place, place]) - 1.0 / number, (1.0 - share) / (number * share))
    half = ndtri(0.5 * (1.0 + model.confidence)) * np.sqrt(variance) / (1.0 - share)
    low, high = expit(logit(share) + np.array([-half, half]))
    return float(low), float(high)
