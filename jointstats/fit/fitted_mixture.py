"""What a fitted mixture answers: memberships, labels, log densities, the criterion, and draws."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sklearn.base import BaseEstimator, DensityMixin
from sklearn.utils.validation import check_is_fitted

from jointstats.checks import is_whole
from jointstats.errors import InputError
from jointstats.fit.arrangement import labels_of, unit_rows
from jointstats.fit.data import FitData
from jointstats.fit.likelihood import (
    Closed,
    Exposure,
    RoundSets,
    component_log_densities,
    log_likelihood,
)
from jointstats.fit.rock import Rock
from jointstats.fit.shaped import shaped_value
from jointstats.types import Array

__all__ = ["FittedMixture"]


class FittedMixture(DensityMixin, BaseEstimator):  # type: ignore[misc]  # untyped library
    """The questions that can be put to a fitted `JointSetMixture`; its attributes are described there."""

    background: bool
    given_means: ArrayLike | None
    n_sets_: int
    intensities_: Array
    background_: float
    given_: NDArray[np.intp]
    n_features_in_: int
    rock_: Rock
    read_rock_: Rock
    _round: RoundSets | None
    _scale: float

    def predict_proba(self, X: ArrayLike, *, allowed: ArrayLike | None = None) -> Array:
        """Membership of each row in each set, the background last.

        Parameters
        ----------
        X : array_like, shape (n, p)
        allowed : array_like of bool, shape (n, G), or None
            Whether each row may join each of the given sets, as in `fit`.

        Returns
        -------
        ndarray, shape (n, K + 1)
            Rows sum to one.
        """
        check_is_fitted(self)
        rows = self._unit_rows(X, reset=False)
        shut = self._shut(self._closed(allowed, len(rows)))
        logs = self._rates(rows, shut)
        total = np.logaddexp.reduce(logs, axis=1)
        # Where neither a set nor a background was found, a row is of none.
        logs[np.isneginf(total), -1] = total[np.isneginf(total)] = 0.0
        return np.exp(logs - total[:, np.newaxis])

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
        rows = self._unit_rows(X, reset=False)
        return labels_of(self._rates(rows), rows)

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
        logs = self._rates(self._unit_rows(X, reset=False))
        # Density of one fracture of the rock, not of what the holes met.
        whole = self.intensities_.sum() + self.background_
        return np.logaddexp.reduce(logs, axis=1) - np.log(whole * self._scale)

    def score(self, X: ArrayLike, y: None = None) -> float:
        """Mean of `score_samples`."""
        return float(self.score_samples(X).mean())

    def bic(self, X: ArrayLike, *, exposure: Exposure | None = None) -> float:
        """Bayesian information criterion of the fitted model on axes: smaller is better.

        Parameters
        ----------
        X : array_like, shape (n, p)
        exposure : LineExposure or None
            As in `fit`.

        Returns
        -------
        float
        """
        check_is_fitted(self)
        rows = self._unit_rows(X, reset=False)
        # As in the fit, what no hole could meet does not count.
        weights = np.ones(len(rows)) if exposure is None else (exposure.at(rows) > 0) * 1.0
        n = float(weights.sum())
        if self._round is None:
            place = shaped_value(FitData(rows, weights, exposure), self.read_rock_)
            return self.rock_.penalty(n) - 2.0 * place.log_likelihood
        free = self.n_sets_ * (rows.shape[1] + 1) + (self._round.background > 0)
        likelihood = log_likelihood(rows, weights, self._round, exposure)
        return free * float(np.log(max(n, 1.0))) - 2.0 * likelihood

    def sample(
        self, n_samples: int = 1, random_state: int | np.random.Generator | None = None
    ) -> tuple[Array, NDArray[np.intp]]:
        """Axes drawn from the rock (from all its fractures, seen or not), in three columns.

        Parameters
        ----------
        n_samples : int
        random_state : int, Generator or None

        Returns
        -------
        poles : ndarray, shape (n_samples, 3)
            Lower hemisphere.
        labels : ndarray of int, shape (n_samples,)
            Set each was drawn from, −1 for the background.
        """
        check_is_fitted(self)
        if self.n_features_in_ != 3:
            raise InputError(f"sample draws axes in 3 columns; the model has {self.n_features_in_}")
        if not is_whole(n_samples, 1):
            raise InputError(f"n_samples must be a whole number, 1 or more; got {n_samples!r}")
        return self.rock_.sample(n_samples, np.random.default_rng(random_state))

    def _rates(self, rows: Array, shut: Closed = None) -> Array:
        """Log rates of each component at unit rows, the background last."""
        if self._round is not None:
            return component_log_densities(rows, self._round, shut)
        return self.read_rock_.log_rates(rows, shut)

    def _shut(self, closed: Closed) -> Closed:
        """`closed` by given set, moved to where each given set now stands."""
        if closed is None:
            return None
        # Who may join is said of given sets, by their place among the given; sets are in order of P32.
        own = np.flatnonzero(self.given_ >= 0)
        shut = np.zeros((len(closed), self.n_sets_), bool)
        shut[:, own] = closed[:, self.given_[own]]
        return shut

    def _unit_rows(self, X: ArrayLike, *, reset: bool) -> Array:
        return unit_rows(self, X, reset=reset)

    def _closed(self, allowed: ArrayLike | None, n: int) -> Closed:
        if allowed is None:
            return None
        given = 0 if self.given_means is None else len(np.atleast_2d(self.given_means))
        may = np.asarray(allowed)
        if may.dtype != bool or may.shape != (n, given):
            raise InputError(
                f"allowed must be booleans of shape ({n}, {given}), a column for each given set; "
                f"got {may.dtype} of shape {may.shape}"
            )
        if not self.background:
            raise InputError("allowed needs a background, for the rows that may join no set")
        return ~may
