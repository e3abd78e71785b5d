"""Where each set stands: given sets as a start, and all sets in order of intensity."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from jointstats.errors import InputError
from jointstats.fit.likelihood import (
    Exposure,
    RoundSets,
    set_exposures,
)
from jointstats.fit.search import START_KAPPAS
from jointstats.fit.shaped import ShapedFit
from jointstats.types import Array

__all__ = ["given_start", "in_order", "labels_of"]



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
    order = np.argsort(-fit.rock.intensities, kind="stable")
    counts = np.append(fit.counts[order], fit.counts[-1])
    return fit._replace(rock=fit.rock.take(order).plain(), counts=counts), order
