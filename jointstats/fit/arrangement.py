"""Where each set stands: given sets as a start, and all sets in order of intensity."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from jointstats.errors import InputError
from jointstats.fit.elliptical_sets import EllipticalSets, in_plain_form, log_densities
from jointstats.fit.likelihood import (
    Closed,
    Exposure,
    SetParameters,
    set_exposures,
)
from jointstats.fit.search import START_KAPPAS
from jointstats.sphere.axes import lower_hemisphere

__all__ = ["given_start", "in_order", "labels_of"]

Array = NDArray[np.float64]


def labels_of(
    rows: Array, parameters: SetParameters | EllipticalSets, closed: Closed = None
) -> NDArray[np.intp]:
    best = log_densities(rows, parameters, closed).argmax(axis=1)
    return np.where((best == len(parameters.kappas)) | ~rows.any(axis=1), -1, best)


def given_start(
    means: ArrayLike | None,
    rows: Array,
    weights: Array,
    exposure: Exposure | None,
    background: bool,
) -> SetParameters | None:
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
    start = SetParameters(axes, kappas, np.ones(len(axes)), 1.0)
    met = np.maximum(set_exposures(start, exposure), np.finfo(float).tiny)
    return start._replace(
        intensities=share / met[:-1], background=share / met[-1] if background else 0.0
    )


def in_order(
    parameters: SetParameters | EllipticalSets,
) -> tuple[SetParameters | EllipticalSets, NDArray[np.intp]]:
    """By falling intensity, with the canonical end of each mean; and the order taken."""
    order = np.argsort(-parameters.intensities, kind="stable")
    if isinstance(parameters, EllipticalSets):
        return in_plain_form(parameters).take(order), order
    means = parameters.means
    if means.shape[1] == 3 and len(means):
        means = lower_hemisphere(means)
    elif len(means):
        largest = np.take_along_axis(means, np.abs(means).argmax(axis=1)[:, np.newaxis], axis=1)
        means = means * np.sign(largest)
    return parameters._replace(means=means).take(order), order
