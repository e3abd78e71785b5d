"""How a fit is set out: rows of unit length, given sets as a start, all sets in order of intensity."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sklearn.base import BaseEstimator
from sklearn.utils.validation import validate_data

from jointstats.errors import InputError
from jointstats.fit.likelihood import (
    Exposure,
    RoundSets,
    set_exposures,
)
from jointstats.fit.search import START_KAPPAS
from jointstats.fit.shaped import ShapedFit
from jointstats.types import Array

__all__ = ["given_start", "in_order", "labels_of", "unit_rows"]


class _WrongKindError(InputError, TypeError):
    """scikit-learn asks for a TypeError where X holds what is no number at all."""


def unit_rows(estimator: BaseEstimator, X: ArrayLike, *, reset: bool) -> Array:
    """Rows of X brought to unit length; a row of zeros stays one.

    Numbers alone can't tell an axis of any length from angles, but the names of a frame's columns do.
    """
    # Angles taken for axes would give sets without a word of complaint.
    angles = [str(one) for one in getattr(X, "columns", ()) if str(one).endswith(("_deg", "_rad"))]
    if angles:
        raise InputError(
            f"X has columns {', '.join(angles)}: angles, where axes are wanted, one a row; give "
            "poles_from_dip(dip_deg, dip_direction_deg), or the frame to analyse_poles"
        )
    if np.ma.is_masked(X):
        raise InputError("X has masked values, which would be lost; take them out first")
    try:
        rows = validate_data(estimator, X, reset=reset, dtype="numeric")
        if rows.dtype.kind not in "biufO":
            raise InputError(f"X must be numbers; got an array of {rows.dtype}")
        rows = rows.astype(np.float64)
    except (TypeError, ValueError) as error:
        kind = InputError if isinstance(error, ValueError) else _WrongKindError
        raise kind(f"X: {str(error)[:300]}") from error
    # Scaling by the largest entry first keeps tiny and huge rows exact.
    rows = rows / _or_one(np.abs(rows).max(axis=1, keepdims=True))
    return rows / _or_one(np.linalg.norm(rows, axis=1, keepdims=True))


def _or_one(sizes: Array) -> Array:
    """Divisors that leave a row of zeros, which has no direction, as it is."""
    return np.where(sizes > 0, sizes, 1.0)


def labels_of(logs: Array, rows: Array) -> NDArray[np.intp]:
    """The component of the largest log rate (n, K + 1) at each row; −1 for the background and where
    a row has no direction."""
    best = logs.argmax(axis=1)
    return np.where((best == logs.shape[1] - 1) | ~rows.any(axis=1), -1, best)


def given_start(
    means: ArrayLike | None,
    rows: Array,
    weights: Array,
    exposure: Exposure | None,
    background: bool,
) -> RoundSets | None:
    """The given sets as a start: all components of one expected number."""
    if means is None:
        return None
    axes = np.atleast_2d(np.asarray(means, dtype=np.float64))
    if axes.shape[1] != rows.shape[1] or not np.isfinite(axes).all() or not axes.any(axis=1).all():
        raise InputError(
            f"given_means must be rows of {rows.shape[1]} finite numbers, none all zero; "
            f"got {axes.tolist()}"
        )
    axes = axes / np.linalg.norm(axes, axis=1, keepdims=True)
    kappas = np.full(len(axes), START_KAPPAS[1])
    share = float(weights.sum()) / (len(axes) + background)
    start = RoundSets(axes, kappas, np.ones(len(axes)), 1.0)
    met = np.maximum(set_exposures(start, exposure), np.finfo(float).tiny)
    return start._replace(
        intensities=share / met[:-1], background=share / met[-1] if background else 0.0
    )


def in_order(fit: ShapedFit) -> tuple[ShapedFit, NDArray[np.intp]]:
    """The sets of a fit by falling intensity, in plain form; and the order taken."""
    # By P32 and not by number: the number says as much of the holes as of the rock.
    order = np.argsort(-fit.rock.intensities, kind="stable")
    counts = np.append(fit.counts[order], fit.counts[-1])
    return fit._replace(rock=fit.rock.take(order).plain(), counts=counts), order
