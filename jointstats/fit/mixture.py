"""JointSetMixture: joint sets as an estimator in the manner of scikit-learn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from numbers import Real
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from jointstats.checks import as_random_state, is_whole
from jointstats.errors import InputError
from jointstats.fit.arrangement import given_start, in_order, labels_of
from jointstats.fit.certainty import Certainty, certainty_of
from jointstats.fit.data import FitData
from jointstats.fit.find import Found, find_round, find_sets
from jointstats.fit.fitted_mixture import FittedMixture
from jointstats.fit.fitting import Fit
from jointstats.fit.likelihood import Closed, Exposure, RoundSets
from jointstats.fit.rock import Rock
from jointstats.fit.search import Trial
from jointstats.fit.shaped import ShapedFit, as_read, fit_shaped
from jointstats.sphere.axes import as_weights
from jointstats.types import Array, RandomState

__all__ = ["JointSetMixture"]


class JointSetMixture(FittedMixture):
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
    criterion : "bic" or "icl"
        What "auto" makes smallest: the Bayesian information criterion, or the integrated completed
        likelihood, which also asks that sets be well apart.
    smallest_set : float
        Fewest fractures (sum of memberships) that "auto" calls a set.
    given_means : array_like, shape (G, p), or None
        Means of sets to start from. They are never dropped; "auto" and a larger `n_sets` add to
        them.
    hold_means : bool or array_like of bool, shape (G,)
        Whether the given means stay as they are.
    shape : "round", "elliptical" or "auto"
        Density of a set: axial Fisher; axial Kent, with an elliptical cross-section; or chosen with
        the number of sets among these, a girdle (axial Bingham) and round sets with heavy tails. The
        last two need three columns.
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
    random_state : int, Generator, RandomState or None
        Chooses the places to look where there are more than 1500 fractures, and the part of the
        fractures in which the sets are looked for where there are more than 5,000.

    Attributes
    ----------
    means_ : ndarray, shape (K, p)
        Mean poles, by falling intensity; in three columns on the lower hemisphere. A girdle has
        none: nan.
    kappas_ : ndarray, shape (K,)
        Concentrations; nan for a girdle.
    intensities_ : ndarray, shape (K,)
        P32 in 1/m with an exposure; shares that sum to 1 with `background_` without one.
    background_ : float
        Intensity of the background.
    labels_ : ndarray, shape (n,)
        Set of each row, −1 for the background.
    rock_ : Rock or None
        The fitted sets with their densities, and the background, in the order of `means_`; None
        unless there are three columns.
    read_rock_ : Rock or None
        The same as its readings scatter: each density spread by the mean error of its fractures.
        Without errors of reading it is `rock_`.
    fit_, data_ : ShapedFit, FitData
        The fit, and the data and rules it was made under; in three columns.
    others_ : tuple of ShapedFit
        The best fit of each description tried (so many sets of each shape), the best first.
    n_sets_ : int
    given_ : ndarray of int, shape (K,)
        For each set, its place among `given_means`; −1 for a set that was found.
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

    fit_: ShapedFit
    rock_: Rock
    data_: FitData
    certainty_: Certainty
    _round: RoundSets | None

    def __init__(
        self,
        n_sets: int | Literal["auto"] = "auto",
        *,
        max_sets: int = 8,
        background: bool = True,
        criterion: Literal["bic", "icl"] = "bic",
        smallest_set: float = 5.0,
        kappa_bounds: tuple[float, float] = (4.0, 1000.0),
        candidates: int = 4,
        given_means: ArrayLike | None = None,
        hold_means: bool | ArrayLike = False,
        shape: Literal["round", "elliptical", "auto"] = "round",
        tol: float = 1e-6,
        max_iter: int = 500,
        confidence: float = 0.95,
        random_state: RandomState = None,
    ) -> None:
        self.n_sets = n_sets
        self.max_sets = max_sets
        self.background = background
        self.criterion = criterion
        self.smallest_set = smallest_set
        self.kappa_bounds = kappa_bounds
        self.candidates = candidates
        self.given_means = given_means
        self.hold_means = hold_means
        self.shape = shape
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
        allowed: ArrayLike | None = None,
        scatter: ArrayLike | None = None,
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
        allowed : array_like of bool, shape (n, G), or None
            Whether each row may join each of the given sets; all may join the sets that are found.
        scatter : array_like, shape (n,), or None
            Variance a tangent direction by which errors of reading turned each row, radians² (three
            columns). The sets are looked for as read; their densities, P32 and intervals are then
            those of the rock.

        Returns
        -------
        JointSetMixture
            Itself.
        """
        rows = self._unit_rows(X, reset=True)
        weights = as_weights(sample_weight, len(rows), "sample_weight")
        self._check_arguments(rows, exposure)
        closed = self._closed(allowed, len(rows))
        has_direction = rows.any(axis=1)
        # A row of zeros has no direction: it keeps its place and counts for nothing.
        weights = np.where(has_direction, weights, 0.0)
        if exposure is not None:
            # What no hole could meet is not explained by the model, and would make its likelihood zero.
            weights[has_direction] *= exposure.at(rows[has_direction]) > 0
        used = weights > 0
        shut = None if closed is None else closed[used]
        data = self._data(rows[used], weights[used], exposure, shut)
        random = as_random_state(self.random_state)
        if rows.shape[1] == 3:
            turned = None if scatter is None else as_weights(scatter, len(rows), "scatter")[used]
            # Number and shape are sought as read; stated errors of reading then move the sets that were found.
            found = find_sets(data, self.n_sets, self.shape, self.max_sets, random)
            self._keep_found(replace(data, scatter=turned), found)
        else:
            self._keep_round(data, *find_round(data, self.n_sets, self.max_sets, random)[:2])
        self.labels_ = labels_of(self._rates(rows, self._shut(closed)), rows)
        return self

    def fit_predict(self, X: ArrayLike, y: None = None, **fit_params: object) -> NDArray[np.intp]:
        """Fit and give the set of each row; arguments as for `fit`."""
        return self.fit(X, y, **fit_params).labels_  # type: ignore[arg-type]

    def _data(
        self, rows: Array, weights: Array, exposure: Exposure | None, shut: Closed
    ) -> FitData:
        given = given_start(self.given_means, rows, weights, exposure, bool(self.background))
        held = None if given is None else np.broadcast_to(self.hold_means, given.kappas.shape)
        return FitData(
            rows,
            weights,
            exposure,
            bool(self.background),
            (self.kappa_bounds[0], self.kappa_bounds[1]),
            self.smallest_set,
            self.candidates,
            self.tol,
            self.max_iter,
            self.criterion,
            given,
            held,
            shut,
        )

    def _keep_found(self, data: FitData, found: Found) -> None:
        """Keep a fit in three columns."""
        fit, order = in_order(found.fit)
        self.others_ = (fit, *found.others[1:])
        self.data_ = data.reordered(order)
        if self.data_.read:
            fit = fit_shaped(self.data_, fit.rock)
        self.fit_, self.rock_, self.read_rock_ = fit, fit.rock, as_read(self.data_, fit.rock)
        self._round = None
        self.means_, self.kappas_ = fit.rock.means, fit.rock.kappas
        self._keep(data, fit, found.trials, order, fit.rock.intensities, fit.rock.background_per_m)
        # A part carries the weight of all rows, so its information is theirs within 1 or 2 %.
        part = self.data_.thinned(np.random.RandomState(0), _MOST_DRAWN)
        self.certainty_ = certainty_of(part, fit.rock, self.confidence)

    def _keep_round(self, data: FitData, fit: Fit, trials: Sequence[Trial]) -> None:
        """Keep a round fit in other than three columns."""
        order = np.argsort(-fit.parameters.intensities, kind="stable")
        sets = fit.parameters.take(order)
        # Of two ends the one whose largest entry is positive: the same answer in whatever order rows came.
        largest = np.abs(sets.means).argmax(axis=1)[:, np.newaxis]
        ends = np.sign(np.take_along_axis(sets.means, largest, axis=1)) if len(order) else 1.0
        self._round = sets._replace(means=sets.means * ends)
        # Rock, data and certainty are of three columns alone.
        self.fit_ = self.data_ = self.rock_ = self.certainty_ = None  # type: ignore[assignment]
        self.read_rock_ = None  # type: ignore[assignment]
        self.others_ = ()
        self.means_, self.kappas_ = self._round.means, sets.kappas
        self._keep(data, fit, trials, order, sets.intensities, sets.background)

    def _keep(
        self,
        data: FitData,
        fit: Fit | ShapedFit,
        trials: Sequence[Trial],
        order: NDArray[np.intp],
        intensities: Array,
        background: float,
    ) -> None:
        total = data.total
        # Without an exposure intensities are numbers of fractures, and shares are what can be told.
        scale = 1.0 if data.exposure is not None else 1.0 / max(total, 1e-300)
        self._scale = 1.0 / scale
        self.given_ = np.where(order < data.n_given, order, -1)
        self.intensities_, self.background_ = intensities * scale, background * scale
        self.n_sets_ = len(order)
        self.log_likelihood_, self.bic_ = fit.log_likelihood, fit.bic(total)
        self.converged_, self.n_iter_ = fit.converged, max(fit.n_iter, 1)
        self.trials_ = tuple(trials)

    def _check_arguments(self, rows: Array, exposure: Exposure | None) -> None:
        rules = {
            "n_sets": self.n_sets == "auto" or is_whole(self.n_sets, 0 if self.background else 1),
            "criterion": self.criterion in ("bic", "icl"),
            "shape": self.shape in ("round", "elliptical", "auto"),
            "max_sets": is_whole(self.max_sets, 1),
            "candidates": is_whole(self.candidates, 1),
            "max_iter": is_whole(self.max_iter, 1),
            "smallest_set": self.smallest_set >= 1,
            "tol": self.tol > 0,
            "confidence": isinstance(self.confidence, Real) and 0 < self.confidence < 1,
            "kappa_bounds": 0 < self.kappa_bounds[0] < self.kappa_bounds[1],
        }
        for name, holds in rules.items():
            if not holds:
                got = getattr(self, name)
                raise InputError(f"{name} of JointSetMixture must be {_ALLOWED[name]}; got {got!r}")
        if self.shape != "round" and rows.shape[1] != 3:
            raise InputError(
                f'shape {self.shape!r} needs X of three columns; got {rows.shape[1]}: use "round"'
            )
        if exposure is not None and rows.shape[1] != 3:
            raise InputError(f"an exposure needs X of three columns; got {rows.shape[1]}")

#: Rows from which intervals are drawn; more of them only cost time.
_MOST_DRAWN = 5_000

_ALLOWED = {
    "n_sets": 'a whole number (0 or more with a background, else 1 or more) or "auto"',
    "criterion": '"bic" or "icl"',
    "shape": '"round", "elliptical" or "auto"',
    "max_sets": "a whole number, 1 or more",
    "candidates": "a whole number, 1 or more",
    "max_iter": "a whole number, 1 or more",
    "smallest_set": "a number, 1 or more",
    "tol": "a number above 0",
    "confidence": "a number between 0 and 1",
    "kappa_bounds": "two rising numbers above 0",
}
