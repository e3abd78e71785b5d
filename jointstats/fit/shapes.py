"""Shapes of the sets of a mixture: from the round fit to one in which sets may be elliptical."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from jointstats.fit.certainty import Certainty, certainty_of
from jointstats.fit.elliptical_fit import EllipticalFit, certainty_of_elliptical
from jointstats.fit.elliptical_sets import (
    Data,
    EllipticalSets,
    as_elliptical,
    in_plain_form,
)
from jointstats.fit.elongation import Elongation, choose_shapes
from jointstats.fit.fitting import Fit, Problem
from jointstats.fit.likelihood import Closed, SetParameters

__all__ = ["certainty_for", "frames_of", "shaped"]

Array = NDArray[np.float64]


def shaped(
    problem: Problem, fit: Fit, shape: str, may_merge: bool
) -> tuple[Fit | EllipticalFit, tuple[Elongation, ...]]:
    """Give the sets of a round fit the shape that is asked for.

    Parameters
    ----------
    problem : Problem
    fit : Fit
    shape : "round", "elongated" or "auto"
    may_merge : bool
        Whether two round sets may become one elliptical set.

    Returns
    -------
    Fit or EllipticalFit
    tuple of Elongation
        The test of each set; empty for "round".
    """
    if shape == "round":
        return fit, ()
    data = Data(
        problem.rows,
        problem.weights,
        problem.exposure,
        problem.closed,
        problem.held,
        problem.kappa_bounds,
    )
    return choose_shapes(data, fit.parameters, shape, n_given=problem.n_given, may_merge=may_merge)


def frames_of(parameters: SetParameters | EllipticalSets) -> tuple[Array | None, Array]:
    """Frames (None unless there are three columns) and ellipticity of sets."""
    if parameters.means.shape[1] != 3:
        return None, np.zeros(len(parameters.kappas))
    sets = in_plain_form(as_elliptical(parameters))
    return sets.frames, sets.betas


def certainty_for(
    problem: Problem,
    fit: Fit | EllipticalFit,
    parameters: SetParameters | EllipticalSets,
    order: NDArray[np.intp],
    confidence: float,
    closed: Closed,
) -> Certainty | None:
    """Certainty of a fit whose sets were put in an order; None unless there are three columns.

    Parameters
    ----------
    problem : Problem
    fit : Fit or EllipticalFit
    parameters : SetParameters or EllipticalSets
        Those of the fit, in the order.
    order : ndarray of int, shape (K,)
    confidence : float
    closed : ndarray of bool, shape (n, K), or None
        In the order.

    Returns
    -------
    Certainty or None
    """
    rows, weights, exposure = problem.rows, problem.weights, problem.exposure
    if rows.shape[1] != 3:
        return None
    if isinstance(fit, EllipticalFit) and isinstance(parameters, EllipticalSets):
        if fit.elliptical.any():
            ordered = fit.take(order)._replace(parameters=parameters)
            return certainty_of_elliptical(Data(rows, weights, exposure, closed), ordered, confidence)
        parameters = parameters.as_round()
    return certainty_of(rows, weights, parameters, exposure, confidence, closed)
