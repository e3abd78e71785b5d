"""A figure derived from the rock: its estimate, and the interval that the data leave it.

Two levels of uncertainty are kept apart. One fracture differs from the next: that is in the rock,
and in the function asked of it. What the rock is, the investigation leaves open: that is in the
interval, which comes from asking the same function of rocks drawn from the posterior.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar, overload

import numpy as np
import pandas as pd

from jointstats.checks import as_seed, check_confidence, check_count
from jointstats.errors import InputError
from jointstats.fit.rock import Rock
from jointstats.fit.rocks import HasRocks, NamedRock, Rocks
from jointstats.results import Result
from jointstats.types import Array, RandomState

P = ParamSpec("P")
T_co = TypeVar("T_co", covariant=True)

#: Rocks drawn where none are given.
_ROCKS = 400
_FEWEST = 20  # values below which an interval says nothing


class Estimate(Result):
    """A figure, or an array of them, with an interval from rocks drawn from the posterior.

    Attributes
    ----------
    estimate : ndarray
        Of the rock as estimated; shape () for one figure.
    low, high : ndarray
        Ends of the interval, of the same shape.
    draws : ndarray, shape (n_rocks, …)
        The figure of each drawn rock; nan where the rock has none.
    confidence : float
        Level of the interval.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> found = js.design.frequency_along(result, [0, 0, 1])
    >>> bool(found.low[0] < found.estimate[0] < found.high[0]), found.draws.shape
    (True, (400, 1))
    """

    estimate: Array
    low: Array
    high: Array
    draws: Array
    confidence: float

    @property
    def interval(self) -> tuple[Array, Array]:
        """Both ends."""
        return self.low, self.high

    @property
    def defined_share(self) -> float:
        """Share of the rocks that have the figure: less than 1 where some lack a set it asks for."""
        return float(np.isfinite(self.draws).all(axis=tuple(range(1, self.draws.ndim))).mean())

    def to_frame(self) -> pd.DataFrame:
        """One row a figure: estimate, low, high."""
        columns = {"estimate": self.estimate, "low": self.low, "high": self.high}
        return pd.DataFrame({name: np.ravel(value) for name, value in columns.items()})

    def __repr__(self) -> str:
        rows = list(zip(*(np.ravel(one) for one in (self.estimate, *self.interval)), strict=True))
        told = ", ".join(f"{value:.4g} ({low:.4g} to {high:.4g})" for value, low, high in rows[:4])
        more = f" and {len(rows) - 4} more" if len(rows) > 4 else ""
        return f"Estimate({told}{more}, {100 * self.confidence:g} %)"


def estimate(
    function: Callable[[NamedRock], Any],
    rocks: Rocks | HasRocks,
    *,
    n_rocks: int = _ROCKS,
    confidence: float | None = None,
    random_state: RandomState = 0,
) -> Estimate:
    """Any figure that a function makes of a rock, with its interval.

    Parameters
    ----------
    function : callable
        Takes a `NamedRock` and gives a number or an array of numbers; None where the rock has no such
        figure. One that draws at random is best given a seed of its own, the same for every rock, so
        that its rocks differ and not its luck.
    rocks : SiteAnalysis or Rocks
        The result, or rocks drawn from it by `SiteAnalysis.draws`.
    n_rocks : int
        Rocks drawn from a result, 20 or more.
    confidence : float or None
        Level of the interval; None takes that of the analysis.
    random_state : int, Generator, RandomState or None
        For the rocks drawn from a result.

    Returns
    -------
    Estimate

    Raises
    ------
    InputError
        If there are fewer than 20 rocks, or fewer than 20 have the figure.

    Examples
    --------
    The share of the fractures, by area, that dip more steeply than 45°:

    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> def steep(rock):
    ...     poles, _ = rock.sample(2000, np.random.default_rng(0))
    ...     return np.mean(js.dip_from_poles(poles)[0] > 45)
    >>> found = js.design.estimate(steep, result, n_rocks=100, confidence=0.9)
    >>> bool(0.6 < found.low < found.estimate < found.high < 0.9)
    True
    """
    if not isinstance(rocks, Rocks):
        number = check_count(n_rocks, "n_rocks", _FEWEST)
        rocks = rocks.draws(number, as_seed(random_state) or 0)
    if len(rocks) < _FEWEST:
        raise InputError(f"an interval needs {_FEWEST} rocks or more; got {len(rocks)}")
    level = check_confidence(rocks.confidence if confidence is None else confidence)
    found = [_number(function(one)) for one in (rocks.centre, *rocks)]
    shape = next((one.shape for one in found if one.size and np.isfinite(one).any()), ())
    values = np.array([one if one.shape == shape else np.full(shape, np.nan) for one in found])
    drawn = values[1:]
    there = np.isfinite(drawn).sum(axis=0)
    if np.min(there, initial=len(drawn)) < _FEWEST:
        raise InputError(
            f"only {int(np.min(there))} of {len(drawn)} rocks have this figure; an interval needs "
            f"{_FEWEST}: ask for more rocks, or for a figure that every rock has"
        )
    tail = 0.5 * (1.0 - level)
    low, high = np.nanquantile(drawn, [tail, 1.0 - tail], axis=0)
    return Estimate(values[0], low, high, drawn, level)


def _number(value: object) -> Array:
    return np.asarray(np.nan if value is None else value, float)


def centre_of(rock: Rock | HasRocks | Rocks) -> Rock:
    """The rock itself, or that in the middle of the rocks of a result."""
    if isinstance(rock, Rock):
        return rock
    return rock.centre if isinstance(rock, Rocks) else rock.draws(1).centre


class OfRock(Protocol[P, T_co]):
    """A function of a rock that answers with an `Estimate` when it is given a result or rocks."""

    @overload
    def __call__(self, rock: Rock, /, *args: P.args, **kwargs: P.kwargs) -> T_co: ...
    @overload
    def __call__(self, rock: HasRocks | Rocks, /, *args: P.args, **kwargs: P.kwargs) -> Estimate: ...


def of_rock(
    n_rocks: int = _ROCKS,
) -> Callable[[Callable[Concatenate[Rock, P], T_co]], OfRock[P, T_co]]:
    """A figure of a rock becomes one of a result too, with its interval from so many rocks."""

    def made(function: Callable[Concatenate[Rock, P], T_co]) -> OfRock[P, T_co]:
        @functools.wraps(function)
        def either(
            rock: Rock | HasRocks | Rocks, /, *args: P.args, **kwargs: P.kwargs
        ) -> Any:
            if isinstance(rock, Rock):
                return function(rock, *args, **kwargs)
            if not (isinstance(rock, Rocks) or hasattr(rock, "draws")):
                raise InputError(
                    f"{function.__name__} takes a rock, a result of analyse, or rocks drawn from it; "
                    f"got {type(rock).__name__}"
                )
            return estimate(lambda one: function(one, *args, **kwargs), rock, n_rocks=n_rocks)

        return either

    return made
