"""Shapes of the sets of a mixture: from the round fit to one in which sets may be oval."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from jointstats.sets.certainty import Certainty, certainty_of
from jointstats.sets.elongation import Elongation, choose_shapes
from jointstats.sets.fitting import Fit, Problem
from jointstats.sets.likelihood import Closed, SetParameters
from jointstats.sets.oval_fit import OvalFit, certainty_of_oval
from jointstats.sets.oval_sets import Data, OvalSets, as_oval, in_plain_form

__all__ = ["certainty_for", "frames_of", "shaped"]

Array = NDArray[np.float64]


def shaped(
    problem: Problem, fit: Fit, shape: str, may_merge: bool
) -> tuple[Fit | OvalFit, tuple[Elongation, ...]]:
    """Give the sets of a round fit the shape that is asked for.

    Parameters
    ----------
    problem : Problem
    fit : Fit
    shape : "round", "elongated" or "auto"
    may_merge : bool
        Whether two round sets may become one oval set.

    Returns
    -------
    Fit or OvalFit
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


def frames_of(parameters: SetParameters | OvalSets) -> tuple[Array | None, Array]:
    """Frames (None unless there are three columns) and ovalness of sets."""
    if parameters.means.shape[1] != 3:
        return None, np.zeros(len(parameters.kappas))
    sets = in_plain_form(as_oval(parameters))
    return sets.frames, sets.betas


def certainty_for(
    problem: Problem,
    fit: Fit | OvalFit,
    parameters: SetParameters | OvalSets,
    order: NDArray[np.intp],
    confidence: float,
    closed: Closed,
) -> Certainty | None:
    """Certainty of a fit whose sets were put in an order; None unless there are three columns.

    Parameters
    ----------
    problem : Problem
    fit : Fit or OvalFit
    parameters : SetParameters or OvalSets
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
    if isinstance(fit, OvalFit) and isinstance(parameters, OvalSets):
        if fit.oval.any():
            ordered = fit.take(order)._replace(parameters=parameters)
            return certainty_of_oval(Data(rows, weights, exposure, closed), ordered, confidence)
        parameters = parameters.as_round()
    return certainty_of(rows, weights, parameters, exposure, confidence, closed)
