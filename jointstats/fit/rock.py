"""The rock: sets with their densities and intensities, and a uniform background. Plain data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from jointstats.errors import InputError
from jointstats.sphere.axes import lower_hemisphere
from jointstats.sphere.set_density import SetDensity
from jointstats.sphere.set_shapes import RoundDensity
from jointstats.types import Array

__all__ = ["Rock", "RockSet"]


#: What the criterion takes for heavy tails. Their weight has a narrow range, so that a penalty that
#: grows with the number of fractures asks too much; in light-tailed rock twice the gain of log
#: likelihood is a chi-square of one degree of freedom in half of the cases, else nothing (Self & Liang
#: 1987, J. American Statistical Association 82:605-610; from memory), and passes this in 3 %.
TAILS_PENALTY = 3.5


class ReadAlike(NamedTuple):
    """Rows that were read with about the same error."""

    rows: NDArray[np.intp]
    scatter: float  # variance of the error a tangent direction, radians²


class RockSet(NamedTuple):
    """One set of a rock.

    Attributes
    ----------
    density : SetDensity
        Of its poles: round, elliptical or a girdle.
    p32_per_m : float
        Its intensity: P32 in 1/m where an exposure is known.

    Examples
    --------
    >>> RockSet(RoundDensity.about([0, 0, -1], 40.0), 2.0).p32_per_m
    2.0
    """

    density: SetDensity
    p32_per_m: float


@dataclass(frozen=True)
class Rock:
    """Sets of fractures and a background, as a fit, a draw or a user gives them.

    Parameters
    ----------
    sets : tuple of RockSet
    background_per_m : float
        Intensity of the fractures of no set, uniform in direction.

    Raises
    ------
    InputError
        If an intensity is negative or not finite.

    Examples
    --------
    >>> rock = Rock((RockSet(RoundDensity.about([0, 0, -1], 40.0), 2.0),), 0.1)
    >>> len(rock.sets), rock.sets[0].density.shape
    (1, 'round')
    """

    sets: tuple[RockSet, ...]
    background_per_m: float

    def __post_init__(self) -> None:
        for value in (self.background_per_m, *(one.p32_per_m for one in self.sets)):
            if not 0 <= value < np.inf:
                raise InputError(
                    f"intensities of a rock must be finite and not negative; got {value}"
                )

    @property
    def densities(self) -> tuple[SetDensity, ...]:
        """Density of each set."""
        return tuple(one.density for one in self.sets)

    @property
    def intensities(self) -> Array:
        """P32 of each set, shape (K,)."""
        return np.array([one.p32_per_m for one in self.sets])

    @property
    def shapes(self) -> tuple[str, ...]:
        """Word for the shape of each set."""
        return tuple(one.density.shape for one in self.sets)

    @property
    def means(self) -> Array:
        """Mean poles (K, 3), lower hemisphere; nan for a girdle, which has none."""
        none = np.full(3, np.nan)
        rows = [none if one.mean is None else one.mean for one in self.densities]
        return np.array(rows).reshape(-1, 3)

    @property
    def kappas(self) -> Array:
        """κ (K,); nan for a girdle."""
        return np.array([np.nan if d.kappa is None else d.kappa for d in self.densities])

    @property
    def all_round(self) -> bool:
        """Whether every set is round."""
        return all(shape == "round" for shape in self.shapes)

    @property
    def has_tails(self) -> bool:
        """Whether sets have heavy tails, of one weight for all."""
        return any(one.tail_freedom is not None for one in self.densities)

    def penalty(self, n: float) -> float:
        """What the Bayesian information criterion takes for the parameters, with n fractures.

        Free are those of each density, its intensity, and the background where there is one.
        """
        free = sum(one.free + 1 for one in self.densities) + (self.background_per_m > 0)
        return free * float(np.log(max(n, 1.0))) + TAILS_PENALTY * self.has_tails

    @classmethod
    def of_round(
        cls, means: ArrayLike, kappas: ArrayLike, intensities: ArrayLike, background: float = 0.0
    ) -> Self:
        """Rock of round sets: mean poles (K, 3), κ and intensities (K,)."""
        sets = [
            RockSet(RoundDensity.about(mean, float(kappa)), float(intensity))
            for mean, kappa, intensity in zip(
                np.reshape(means, (-1, 3)),
                np.atleast_1d(kappas),
                np.atleast_1d(intensities),
                strict=True,
            )
        ]
        return cls(tuple(sets), float(background))

    def take(self, order: NDArray[np.intp] | list[int]) -> Rock:
        """The same with only the sets named, in the order named."""
        return Rock(tuple(self.sets[k] for k in order), self.background_per_m)

    def joined(self, density: SetDensity, intensity: float) -> Rock:
        """The same with one more set at the end."""
        return Rock((*self.sets, RockSet(density, intensity)), self.background_per_m)

    def replaced(self, k: int, density: SetDensity, intensity: float | None = None) -> Rock:
        """The same with another density of set k, and another intensity if it is given."""
        sets = list(self.sets)
        sets[k] = RockSet(density, sets[k].p32_per_m if intensity is None else intensity)
        return Rock(tuple(sets), self.background_per_m)

    def with_background(self, least: float) -> Rock:
        """The same with a background of at least so much."""
        return Rock(self.sets, max(self.background_per_m, least))

    def read_with(self, scatter: Array) -> Rock:
        """The rock as it is read, with this scatter of reading (K,) in each set."""
        sets = [
            RockSet(one.density.read_with(float(spread)), one.p32_per_m)
            for one, spread in zip(self.sets, scatter, strict=True)
        ]
        return Rock(tuple(sets), self.background_per_m)

    def plain(self) -> Rock:
        """The same with each frame in its plain form."""
        sets = tuple(RockSet(one.density.plain(), one.p32_per_m) for one in self.sets)
        return Rock(sets, self.background_per_m)

    def log_rates(
        self,
        rows: Array,
        closed: NDArray[np.bool_] | None = None,
        read: Sequence[ReadAlike] = (),
    ) -> Array:
        """Log of λ f of each component at unit rows (n, 3), the background last: (n, K + 1).

        `closed` (n, G) marks rows that may not join each of the first G sets; `read` says with what
        errors the rows were read, none of them if it is empty.
        """
        values = np.empty((len(rows), len(self.sets) + 1))
        for k, density in enumerate(self.densities):
            if not read:
                values[:, k] = density.unchecked_log_density(rows)
            for part, scatter in read:
                values[part, k] = density.read_with(scatter).unchecked_log_density(rows[part])
        with np.errstate(divide="ignore"):  # an intensity of zero is a component that is not there
            values[:, :-1] += np.log(self.intensities)
            values[:, -1] = np.log(self.background_per_m) - np.log(2.0 * np.pi)
        if closed is not None:
            values[:, : closed.shape[1]][closed] = -np.inf
        return values

    def sample(self, size: int, generator: np.random.Generator) -> tuple[Array, NDArray[np.intp]]:
        """Poles (size, 3) of fractures of the rock, by area, and the set of each (−1: background)."""
        share = np.append(self.intensities, self.background_per_m)
        labels = generator.choice(len(share), size, p=share / share.sum())
        poles = generator.normal(size=(size, 3))
        poles /= np.linalg.norm(poles, axis=1, keepdims=True)
        for k, density in enumerate(self.densities):
            own = labels == k
            poles[own] = density.sample(int(own.sum()), generator)
        return lower_hemisphere(poles), np.where(labels == len(self.sets), -1, labels)
