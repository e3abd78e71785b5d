"""Counts of each set in each hole beside those expected there, and the exact test of one P32."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binomtest

from jointstats.borehole.exposure import LineExposure
from jointstats.checks import as_generator, as_numbers
from jointstats.errors import InputError
from jointstats.fit.likelihood import RoundSets, component_log_densities
from jointstats.sphere.axes import frame_about
from jointstats.sphere.axial_fisher import AxialFisher
from jointstats.types import Array, RandomState

__all__ = ["counts_by_set", "expected_counts", "poisson_ratio_test"]


_POINTS = 4000
_GOLDEN = np.pi * (3.0 - np.sqrt(5.0))
_DRAWS = 9999


def _spread_points(mean: Array, kappa: float) -> Array:
    """Evenly probable points of a set: quantiles of the angle, turned by the golden angle."""
    share = (np.arange(_POINTS) + 0.5) / _POINTS
    angle = np.radians(AxialFisher(mean, kappa).ppf(share))
    turn = _GOLDEN * np.arange(_POINTS)
    across = np.sin(angle)
    rows = np.column_stack([across * np.cos(turn), across * np.sin(turn), np.cos(angle)])
    return rows @ frame_about(mean)


def labels_of(poles: Array, rock: RoundSets) -> NDArray[np.intp]:
    """Most likely component of each pole, (n, 3), by number; K for the background.

    >>> level = RoundSets(np.array([[0, 0, -1.0]]), np.array([40.0]), np.array([2.0]), 0.1)
    >>> labels_of(np.eye(3), level)
    array([1, 1, 0])
    """
    return component_log_densities(poles, rock).argmax(axis=1)


def counts_by_set(logs: Sequence[Array], rock: RoundSets) -> NDArray[np.intp]:
    """Number of fractures sorted to each set in each hole, (G, K + 1), the background last.

    >>> level = RoundSets(np.array([[0, 0, -1.0]]), np.array([40.0]), np.array([2.0]), 0.1)
    >>> counts_by_set([np.eye(3), np.eye(3)[2:]], level)
    array([[1, 2],
           [1, 0]])
    """
    size = len(rock.kappas) + 1
    return np.array([np.bincount(labels_of(one, rock), minlength=size) for one in logs])


def expected_counts(rock: RoundSets, exposures: Sequence[LineExposure]) -> Array:
    """Number of fractures that each hole is expected to have *sorted into* each set, (G, K + 1).

    A fracture is sorted by its likeliest component, so neighbours and the background give a set
    some of theirs and take some of its own. The sum over components of λ times the mean of the
    exposure over the part of the sphere that is sorted to the set takes both into account: in
    rock of these sets the sorted counts are Poisson with just these means.

    >>> level = RoundSets(np.array([[0, 0, -1.0]]), np.array([500.0]), np.array([2.0]), 0.0)
    >>> hole = LineExposure([[0, 0, -1]], [50.0])
    >>> expected_counts(level, [hole]).round(1)
    array([[99.8,  0. ]])
    """
    sets = len(rock.kappas)
    expected = np.zeros((len(exposures), sets + 1))
    sources = [*zip(rock.means, rock.kappas, rock.intensities, strict=True)]
    sources.append((np.array([0.0, 0.0, -1.0]), 0.0, rock.background))
    for mean, kappa, intensity in sources:
        if intensity <= 0:
            continue
        points = _spread_points(mean, float(kappa))
        labels = labels_of(points, rock)
        for g, exposure in enumerate(exposures):
            met = np.bincount(labels, weights=exposure.at(points), minlength=sets + 1)
            expected[g] += intensity * met / _POINTS
    return expected


def poisson_ratio_test(
    counts: Sequence[int], exposures: Sequence[float], *, random_state: RandomState = 0
) -> tuple[float, float]:
    """Statistic and p of the exact test that Poisson counts share one rate over their exposures, (G,).

    Given their total, the counts are multinomial with the shares of the exposures (Przyborowski &
    Wilenski 1940, Biometrika 31:313-323, for two; from memory). Two counts: exact binomial.
    More: 9,999 multinomial draws, ordered by the likelihood ratio 2 Σ n log(n / expected). p is 1 where
    there is nothing to compare; a count where nothing was exposed is an InputError. Ten and thirty
    fractures over equal exposure, by hand 2 P(X ≤ 10 of 40):

    >>> statistic, p = poisson_ratio_test([10, 30], [1.0, 1.0])
    >>> round(statistic, 3), round(p, 5)
    (10.465, 0.00222)
    """
    n = as_numbers(counts, "counts")
    met = as_numbers(exposures, "exposures")
    if n.shape != met.shape or (n < 0).any() or (met < 0).any():
        raise InputError(
            "poisson_ratio_test needs as many exposures as counts, none of them negative; got "
            f"{list(counts)} and {list(exposures)}"
        )
    if (n[met == 0] > 0).any():
        raise InputError("a count above zero has an exposure of zero; leave that hole out")
    n, met = n[met > 0], met[met > 0]
    total = int(n.sum())
    if len(n) < 2 or total == 0:
        return 0.0, 1.0
    share = met / met.sum()
    statistic = float(_deviance(n[np.newaxis], share)[0])
    if len(n) == 2:
        return statistic, float(binomtest(int(n[0]), total, share[0]).pvalue)
    drawn = as_generator(random_state).multinomial(total, share, size=_DRAWS).astype(float)
    beyond = int((_deviance(drawn, share) >= statistic * (1 - 1e-9)).sum())
    return statistic, (beyond + 1) / (_DRAWS + 1)


def _deviance(counts: Array, share: Array) -> Array:
    total = counts.sum(axis=1, keepdims=True)
    ratio = np.where(counts > 0, counts / (total * share), 1.0)
    return 2.0 * (counts * np.log(ratio)).sum(axis=1)
