"""JointSetMixture: joint sets as an estimator in the manner of scikit-learn."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sklearn.base import BaseEstimator, DensityMixin
from sklearn.utils import check_random_state
from sklearn.utils.validation import check_is_fitted, validate_data

from jointstats.errors import InputError
from jointstats.sets.certainty import Certainty, certainty_of
from jointstats.sets.likelihood import Exposure, SetParameters, component_log_densities
from jointstats.sets.search import Fit, Problem, Trial, fit_sets, search
from jointstats.sphere.axes import as_weights, lower_hemisphere

__all__ = ["JointSetMixture"]

Array = NDArray[np.float64]


class JointSetMixture(DensityMixin, BaseEstimator):
    """Mixture of axial Fisher sets and a uniform background, aware of how the holes sampled.

    With an exposure, the fractures are a Poisson process whose rate is the rock's fracture density
    times the exposure of each orientation; maximising its likelihood gives the sets of the *rock*,
    with P32, where a plain mixture gives those of the log. Without one it is an ordinary mixture
    of axes, in any number of columns.

    Parameters
    ----------
    n_sets : int or "auto"
        Number of sets; "auto" takes the one of smallest Bayesian information criterion.
    max_sets : int
        Largest number of sets tried by "auto".
    background : bool
        Whether fractures of no set (uniform orientation) are part of the model.
    smallest_set : float
        Fewest fractures (sum of memberships) that "auto" calls a set.
    kappa_bounds : (float, float)
        Smallest and largest concentration of a set. With an exposure, 0.5 to 2000 at the widest.
    candidates : int
        Places tried for each new set.
    tol : float
        Gain of log likelihood per fracture and iteration below which a fit has converged.
    max_iter : int
        Most iterations of one fit.
    confidence : float
        Level of the intervals.
    random_state : int, RandomState or None
        Chooses the places to look where there are more than 1500 fractures.

    Attributes
    ----------
    means_ : ndarray, shape (K, p)
        Mean poles, by falling intensity; in three columns on the lower hemisphere.
    kappas_ : ndarray, shape (K,)
    intensities_ : ndarray, shape (K,)
        P32 in 1/m with an exposure; shares that sum to 1 with `background_` without one.
    background_ : float
        Intensity of the background.
    labels_ : ndarray, shape (n,)
        Set of each row, −1 for the background.
    n_sets_ : int
    log_likelihood_, bic_ : float
    converged_ : bool
    n_iter_ : int
    trials_ : tuple of Trial
        Every number of sets the search tried, with its criterion and what came of it.
    certainty_ : Certainty or None
        Intervals of the parameters; None unless there are three columns.

    Raises
    ------
    InputError
        If an argument is out of range, or an exposure meets other than 3 columns.

    Examples
    --------
    Two sets of a hundred axes each are found again:

    >>> import jointstats as js
    >>> from jointstats.sphere.axial_fisher import sample
    >>> level, steep = js.poles_from_dip([5, 85], [0, 90])
    >>> poles = np.vstack([sample(level, 40, 100, random_state=1),
    ...                    sample(steep, 40, 100, random_state=2)])
    >>> model = js.JointSetMixture(random_state=0).fit(poles)
    >>> model.n_sets_
    2
    >>> bool((js.axis_angles_deg(model.means_[model.predict([steep, level])],
    ...                          [steep, level]) < 4).all())
    True
    """

    def __init__(
        self,
        n_sets: int | Literal["auto"] = "auto",
        *,
        max_sets: int = 8,
        background: bool = True,
        smallest_set: float = 5.0,
        kappa_bounds: tuple[float, float] = (4.0, 1000.0),
        candidates: int = 4,
        tol: float = 1e-6,
        max_iter: int = 500,
        confidence: float = 0.95,
        random_state: int | np.random.RandomState | None = None,
    ) -> None:
        self.n_sets = n_sets
        self.max_sets = max_sets
        self.background = background
        self.smallest_set = smallest_set
        self.kappa_bounds = kappa_bounds
        self.candidates = candidates
        self.tol = tol
        self.max_iter = max_iter
        self.confidence = confidence
        self.random_state = random_state

    def fit(
        self,
        X: ArrayLike,
        y: None = None,
        *,
        exposure: Exposure | None = None,
        sample_weight: ArrayLike | None = None,
    ) -> JointSetMixture:
        """Find the sets.

        Parameters
        ----------
        X : array_like, shape (n, p)
            Axes, one a row; rows are brought to unit length. A row of zeros has no direction: it
            is left out of the fit and labelled −1.
        y : None
            Not used.
        exposure : LineExposure or None
            How the holes sampled (three columns). Rows it could not see are left out of the fit
            and labelled afterwards.
        sample_weight : array_like, shape (n,), or None

        Returns
        -------
        JointSetMixture
            Itself.
        """
        rows = self._unit_rows(X, reset=True)
        weights = as_weights(sample_weight, len(rows), "sample_weight")
        self._check_arguments(rows, exposure)
        has_direction = rows.any(axis=1)
        weights = np.where(has_direction, weights, 0.0)
        if exposure is not None:
            weights[has_direction] *= exposure.at(rows[has_direction]) > 0
        used = weights > 0
        problem = Problem(
            rows[used],
            weights[used],
            exposure,
            bool(self.background),
            tuple(self.kappa_bounds),
            self.smallest_set,
            self.candidates,
            self.tol,
            self.max_iter,
        )
        random = check_random_state(self.random_state)
        if self.n_sets == "auto":
            fit, trials = search(problem, self.max_sets, random)
        else:
            fit, trials = fit_sets(problem, self.n_sets, random), []
        self._keep(problem, fit, trials)
        self.labels_ = _labels(rows, self._parameters)
        return self

    def _keep(self, problem: Problem, fit: Fit, trials: Sequence[Trial]) -> None:
        parameters = _in_order(fit.parameters)
        total = float(problem.weights.sum())
        scale = 1.0 if problem.exposure is not None else 1.0 / max(total, 1e-300)
        self._parameters = parameters
        self.means_, self.kappas_ = parameters.means, parameters.kappas
        self.intensities_ = parameters.intensities * scale
        self.background_ = parameters.background * scale
        self.n_sets_ = len(parameters.kappas)
        self.log_likelihood_ = fit.log_likelihood
        self.bic_ = fit.bic(total)
        self.converged_, self.n_iter_ = fit.converged, max(fit.n_iter, 1)
        self.trials_ = tuple(trials)
        self.certainty_: Certainty | None = None
        if problem.rows.shape[1] == 3:
            self.certainty_ = certainty_of(
                problem.rows, problem.weights, parameters, problem.exposure, self.confidence
            )

    def _unit_rows(self, X: ArrayLike, *, reset: bool) -> Array:
        rows = validate_data(self, X, reset=reset, dtype=np.float64)
        # Scaling by the largest entry first keeps tiny and huge rows exact.
        rows = rows / _or_one(np.abs(rows).max(axis=1, keepdims=True))
        return rows / _or_one(np.linalg.norm(rows, axis=1, keepdims=True))

    def _check_arguments(self, rows: Array, exposure: Exposure | None) -> None:
        rules = {
            "n_sets": self.n_sets == "auto" or _whole(self.n_sets, 0 if self.background else 1),
            "max_sets": _whole(self.max_sets, 1),
            "candidates": _whole(self.candidates, 1),
            "max_iter": _whole(self.max_iter, 1),
            "smallest_set": self.smallest_set >= 1,
            "tol": self.tol > 0,
            "confidence": 0 < self.confidence < 1,
            "kappa_bounds": 0 < self.kappa_bounds[0] < self.kappa_bounds[1],
        }
        for name, holds in rules.items():
            if not holds:
                raise InputError(
                    f"{name} of JointSetMixture must be {_ALLOWED[name]}; got {getattr(self, name)!r}"
                )
        if exposure is not None and rows.shape[1] != 3:
            raise InputError(f"an exposure needs X of three columns; got {rows.shape[1]}")

    def predict_proba(self, X: ArrayLike) -> Array:
        """Membership of each row in each set, the background last.

        Parameters
        ----------
        X : array_like, shape (n, p)

        Returns
        -------
        ndarray, shape (n, K + 1)
            Rows sum to one.
        """
        check_is_fitted(self)
        logs = component_log_densities(self._unit_rows(X, reset=False), self._parameters)
        return np.exp(logs - np.logaddexp.reduce(logs, axis=1)[:, np.newaxis])

    def predict(self, X: ArrayLike) -> NDArray[np.intp]:
        """Set of each row, −1 for the background.

        Parameters
        ----------
        X : array_like, shape (n, p)

        Returns
        -------
        ndarray of int, shape (n,)
        """
        check_is_fitted(self)
        return _labels(self._unit_rows(X, reset=False), self._parameters)

    def fit_predict(self, X: ArrayLike, y: None = None, **fit_params: object) -> NDArray[np.intp]:
        """Fit and give the set of each row; arguments as for `fit`."""
        return self.fit(X, y, **fit_params).labels_  # type: ignore[arg-type]

    def score_samples(self, X: ArrayLike) -> Array:
        """Log density of each row: of one fracture among all, over the hemisphere of the rock.

        Parameters
        ----------
        X : array_like, shape (n, p)

        Returns
        -------
        ndarray, shape (n,)
        """
        check_is_fitted(self)
        logs = component_log_densities(self._unit_rows(X, reset=False), self._parameters)
        whole = self._parameters.intensities.sum() + self._parameters.background
        return np.logaddexp.reduce(logs, axis=1) - np.log(whole)

    def score(self, X: ArrayLike, y: None = None) -> float:
        """Mean of `score_samples`."""
        return float(self.score_samples(X).mean())


_ALLOWED = {
    "n_sets": 'a whole number (0 or more with a background, else 1 or more) or "auto"',
    "max_sets": "a whole number, 1 or more",
    "candidates": "a whole number, 1 or more",
    "max_iter": "a whole number, 1 or more",
    "smallest_set": "a number, 1 or more",
    "tol": "a number above 0",
    "confidence": "a number between 0 and 1",
    "kappa_bounds": "two rising numbers above 0",
}


def _or_one(sizes: Array) -> Array:
    """Divisors that leave a row of zeros, which has no direction, as it is."""
    return np.where(sizes > 0, sizes, 1.0)


def _whole(value: object, least: int) -> bool:
    return isinstance(value, (int, np.integer)) and not isinstance(value, bool) and value >= least


def _labels(rows: Array, parameters: SetParameters) -> NDArray[np.intp]:
    best = component_log_densities(rows, parameters).argmax(axis=1)
    return np.where((best == len(parameters.kappas)) | ~rows.any(axis=1), -1, best)


def _in_order(parameters: SetParameters) -> SetParameters:
    """By falling intensity, with the canonical end of each mean."""
    means = parameters.means
    if means.shape[1] == 3 and len(means):
        means = lower_hemisphere(means)
    elif len(means):
        largest = np.take_along_axis(means, np.abs(means).argmax(axis=1)[:, np.newaxis], axis=1)
        means = means * np.sign(largest)
    order = np.argsort(-parameters.intensities, kind="stable")
    return parameters._replace(means=means).take(order)
