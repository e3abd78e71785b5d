"""Rocks from the posterior of an analysis: readings, shapes, sets, unevenness and background at once."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple, Protocol

import numpy as np

from jointstats.borehole.fractures import Fractures
from jointstats.fit.certainty import Certainty, certainty_of
from jointstats.fit.data import FitData
from jointstats.fit.odds import POWER
from jointstats.fit.posterior import SetDraws
from jointstats.fit.rock import Rock, RockSet
from jointstats.fit.rocks import NamedRock, Rocks
from jointstats.fit.shaped import ShapedFit, fit_shaped
from jointstats.observed.loss import TIMES, loss_factors
from jointstats.observed.observation import Observation
from jointstats.sets.fitted import Fitted
from jointstats.sets.lines import uneven_rock
from jointstats.sets.reading_error import ReadingError, common_error_deg, reading_error
from jointstats.sphere.set_chart import COORDINATES, turned_frames
from jointstats.types import Array
from jointstats.uneven.uneven_rock import Unevenness

#: A description is drawn from if its probability is at least this; the best always is.
_LEAST = 0.02
#: Times as often as the rest that a set may have lost its orientation.
_OFTENER = TIMES ** np.linspace(-1.0, 1.0, 9)
_MOST_FRACTURES = 3000  # as many as the information of another description is taken from


class Drawable(Fitted, Protocol):
    """What rocks are drawn from."""

    @property
    def uneven(self) -> Unevenness | None: ...
    @property
    def rock(self) -> Rock: ...
    @property
    def observation(self) -> Observation: ...


class _Description(NamedTuple):
    """One description of the rock: so many sets of such shapes."""

    rock: Rock
    probability: float
    certainty: Certainty
    uneven: Unevenness | None
    errors: tuple[ReadingError, ...]  # of reading, of each set
    names: tuple[str, ...]
    lost: Array  # (K + 1, G) logs of what a loss of orientation by other than chance does to P32


class EvenDraws(NamedTuple):
    """Draws of sets and random fractures that take the rock as even."""

    sets: tuple[SetDraws, ...]
    background: Array


class RockPosterior:
    """The descriptions of an analysis, each with what it takes to draw from it."""

    def __init__(self, result: Drawable) -> None:
        self.confidence = float(result.settings["confidence"])
        self._result, model = result, result.mixture
        fitted = Fractures(result.fractures).fitted
        common = common_error_deg(result.site, result.fractures)
        self._table = fitted.table.assign(common_deg=common[Fractures(result.fractures).is_fitted])
        self._fitted = fitted
        self._labels = self._members(model.read_rock_)
        self.descriptions = [
            self._described(fit, share, first=place == 0)
            for place, (fit, share) in enumerate(_shares(result))
        ]

    def _members(self, rock: Rock) -> Array:
        """Set of each fitted fracture under a rock; K is the background."""
        model = self._result.mixture
        closed = model.data_.closed if rock is model.read_rock_ else None
        return rock.log_rates(self._fitted.poles, closed).argmax(axis=1)

    def _described(self, fit: ShapedFit, share: float, *, first: bool) -> _Description:
        result = self._result
        rock = result.mixture.rock_ if first else fit.rock
        labels = self._labels if first else self._members(rock)
        errors = tuple(self._error(labels == k) for k in range(len(rock.sets)))
        if first:
            names = tuple(one.name for one in result.sets)
            known = result.mixture.certainty_, result.uneven
            return _Description(rock, share, *known, errors, names, self._lost(labels, rock))
        names = self._names(labels, len(rock.sets))
        part = result.mixture.data_.thinned(np.random.RandomState(0), _MOST_FRACTURES)
        if part.read:  # descriptions are compared as read
            rock = fit_shaped(part, rock).rock
        certainty = certainty_of(part, rock, self.confidence)
        logs = rock.log_rates(self._fitted.poles)
        members = np.exp(logs - np.logaddexp.reduce(logs, axis=1)[:, np.newaxis])
        uneven = uneven_rock(self._fitted, members, rock, result.sampling)
        lost = self._lost(labels, rock)
        return _Description(rock, share, certainty, uneven, errors, names, lost)

    def _lost(self, labels: Array, rock: Rock) -> Array:
        """For each set, and the background, over even steps of the log of how much oftener it lost it."""
        lost = self._result.observation.lost
        found = np.zeros((len(rock.sets) + 1, len(_OFTENER)))
        if 0.0 < lost < 1.0:
            shares = np.bincount(labels, minlength=len(found)) / max(len(labels), 1)
            found = np.array([np.log(loss_factors(shares, lost, r)) for r in _OFTENER]).T
        return found

    def _error(self, own: Array) -> ReadingError:
        table = self._table[own]
        return reading_error(table, table["common_deg"].to_numpy())

    def _names(self, labels: Array, sets: int) -> tuple[str, ...]:
        """The set of the analysis that holds the same fractures: more than half are in common."""
        names, others = [], 0
        for j in range(sets):
            name = None
            for k, one in enumerate(self._result.sets):
                mine, theirs = self._labels == k, labels == j
                if np.count_nonzero(mine & theirs) > 0.5 * np.count_nonzero(mine | theirs):
                    name = one.name
            if name is None:
                others += 1
                name = f"other {others}"
            names.append(name)
        return tuple(names)

    def even(self, size: int, generator: np.random.Generator) -> EvenDraws:
        """Draws of the first description as if the rock were even."""
        first = self.descriptions[0]
        sets = [
            _with_common_error(first.certainty.set_draws(k, size, generator), error, generator)
            for k, error in enumerate(first.errors)
        ]
        observed = _observed_factors(first, size, generator)
        background = first.certainty.background_draws(size, generator) * observed[:, -1]
        sets = [
            one._replace(intensities=one.intensities * observed[:, k]) for k, one in enumerate(sets)
        ]
        return EvenDraws(tuple(sets), background)

    def draw(self, size: int, generator: np.random.Generator) -> Rocks:
        """Rocks, in the order drawn."""
        shares = np.array([one.probability for one in self.descriptions])
        which = generator.choice(len(shares), size, p=shares / shares.sum())
        drawn: dict[int, NamedRock] = {}
        for j, one in enumerate(self.descriptions):
            places = np.flatnonzero(which == j)
            rocks = _drawn(one, len(places), generator)
            drawn |= dict(zip(places.tolist(), rocks, strict=True))
        first = self.descriptions[0]
        centre = NamedRock(first.rock.sets, first.rock.background_per_m, first.names)
        return Rocks(tuple(drawn[d] for d in range(size)), centre, self.confidence)


def _shares(result: Drawable) -> list[tuple[ShapedFit, float]]:
    """The fits to draw from, the best first, with their probabilities.

    A reading has the probability that the analysis gives it; among the shapes of one number of
    sets the criterion shares it by the same rule.
    """
    model, data = result.mixture, replace(result.mixture.data_, scatter=None)
    best = model.others_[0] if model.others_ else model.fit_
    if (model.given_ >= 0).any():
        return [(best, 1.0)]
    by_number = {len(one.rock.sets): one.probability for one in result.readings}
    kept = [
        fit
        for fit in model.others_
        if len(fit.rock.sets) in by_number and _large_enough(fit, best, data)
    ]
    criteria = np.array([fit.criterion(data) for fit in kept])
    weights = np.exp(-0.5 * POWER * (criteria - criteria.min()))
    number = np.array([len(fit.rock.sets) for fit in kept])
    for sets, probability in by_number.items():
        weights[number == sets] *= probability / weights[number == sets].sum()
    weights /= weights.sum()
    pairs = zip(kept, weights.tolist(), strict=True)
    return [(fit, share) for fit, share in pairs if share >= _LEAST or fit is best]


def _large_enough(fit: ShapedFit, best: ShapedFit, data: FitData) -> bool:
    return fit is best or len(fit.counts) == 1 or float(fit.counts[:-1].min()) >= data.smallest


def _drawn(
    one: _Description, size: int, generator: np.random.Generator
) -> list[NamedRock]:
    factors: Array = np.ones((size, len(one.rock.sets)))
    if one.uneven is not None:
        factors = one.uneven.draws(size, generator).factors
    observed = _observed_factors(one, size, generator)
    factors = factors * observed[:, :-1]
    columns = [_sets(one, k, factors[:, k], generator) for k in range(len(one.rock.sets))]
    background = one.certainty.background_draws(size, generator) * observed[:, -1]
    return [
        NamedRock(tuple(column[d] for column in columns), float(background[d]), one.names)
        for d in range(size)
    ]


def _observed_factors(one: _Description, size: int, generator: np.random.Generator) -> Array:
    """Factors of P32 of each set, and the background, (size, K + 1): what was not observed.

    The error of the shares detected and oriented is common to all; how much oftener each lost its
    orientation than the rest is drawn evenly on a log scale over what the intervals allow for.
    """
    log = one.certainty.log_error * generator.normal(size=(size, 1))
    at = generator.random((size, len(one.lost))) * (len(_OFTENER) - 1)
    steps = np.arange(len(_OFTENER))
    own = [np.interp(column, steps, values) for column, values in zip(at.T, one.lost, strict=True)]
    return np.exp(log + np.column_stack(own))


def _sets(
    one: _Description, k: int, factors: Array, generator: np.random.Generator
) -> list[RockSet]:
    drawn = _with_common_error(
        one.certainty.set_draws(k, len(factors), generator), one.errors[k], generator
    )
    found = []
    for d, factor in enumerate(factors.tolist()):
        density, p32 = drawn.set_at(d)
        found.append(RockSet(density, p32 * factor))
    return found


def _with_common_error(
    drawn: SetDraws, error: ReadingError, generator: np.random.Generator
) -> SetDraws:
    """The same turned by the errors that all fractures of a hole share."""
    steps = np.zeros((len(drawn.frames), COORDINATES))
    # The root mean square angle is that of two tangent directions.
    steps[:, :2] = generator.standard_normal((len(steps), 2)) * np.radians(error.mean_deg) / np.sqrt(2.0)
    return drawn._replace(frames=turned_frames(drawn.frames, steps)[0])
