"""In what do the holes differ? Orientation and κ of each set, each with a bootstrap of its own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from jointstats.compare.groups import SampledGroup
from jointstats.compare.ratio import RatioTest, share_beyond
from jointstats.fit.batch import (
    BatchFit,
    as_logs,
    fit_logs,
    kappa_bounds,
    simulate_logs,
)
from jointstats.types import Array

__all__ = ["orientation_and_kappa_tests"]


#: Fewest fractures of a set (sum of memberships) for a hole to say where the set lies.
FEWEST = 3.0


def orientation_and_kappa_tests(
    groups: Sequence[SampledGroup],
    ratio: RatioTest,
    *,
    draws: int = 199,
    random_state: int | np.random.Generator | None = 0,
) -> list[dict[str, object]]:
    """Test of one mean, and of one κ, for each set over the holes that show it.

    The logs of the bootstrap have the common means and κ but the P32 that each hole has by
    itself, so holes may differ in frequency without being told apart here. Means are those of
    each hole's own fit, with its exposure in it: a hole that cuts one flank of a set more often
    than the other is not taken for another rock.

    Parameters
    ----------
    groups : sequence of SampledGroup
    ratio : RatioTest
        Of the same groups.
    draws : int
    random_state : int, Generator or None

    Returns
    -------
    list of dict
        part, set (its number), statistic, pvalue, holes (indices), n (memberships of each hole).

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats.compare.groups import groups_of
    >>> from jointstats.compare.ratio import ratio_test
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> groups = groups_of(result)
    >>> from jointstats.fit.likelihood import RoundSets
    >>> ratio = ratio_test(groups, RoundSets.of(result.rock), draws=19)
    >>> found = orientation_and_kappa_tests(groups, ratio, draws=19)
    >>> [one["part"] for one in found[:2]]
    ['orientation', 'kappa']
    """
    generator = np.random.default_rng(random_state)
    common, bounds = ratio.common, kappa_bounds(ratio.common.kappas)
    fits = []
    for one, alone in zip(groups, ratio.alone, strict=True):
        own = alone.parameters(0)
        rock = common._replace(intensities=own.intensities, background=own.background)
        drawn = simulate_logs(rock, one.exposure, draws, generator)
        rows = [drawn.rows[b, :n] for b, n in enumerate(drawn.counts)]
        fits.append(fit_logs(as_logs([one.poles, *rows]), one.exposure, common, bounds))
    found = []
    for k, kappa in enumerate(common.kappas):
        members = np.array([one.members[0, k] for one in fits])
        holes = np.flatnonzero(members >= FEWEST)
        if len(holes) < 2:
            continue
        used = [fits[g] for g in holes]
        for part, values in (
            ("orientation", _apart(used, k) * float(kappa)),
            ("kappa", _unlike(used, k)),
        ):
            found.append(
                {
                    "part": part,
                    "set": k,
                    "statistic": float(values[0]),
                    "pvalue": share_beyond(float(values[0]), values[1:]),
                    "holes": holes,
                    "n": members[holes],
                }
            )
    return found


def _apart(fits: Sequence[BatchFit], k: int) -> Array:
    """Σ n sin² of the angle between each hole's mean and the axis nearest to all, per log."""
    weights = np.array([one.members[:, k] for one in fits])
    means = np.array([one.means[:, k] for one in fits])
    tensor = np.einsum("gb,gbi,gbj->bij", weights, means, means)
    return np.maximum(weights.sum(axis=0) - np.linalg.eigvalsh(tensor)[:, -1], 0.0)


def _unlike(fits: Sequence[BatchFit], k: int) -> Array:
    """Σ n (log κ − mean)² over the holes, per log: the variance of log κ is near 1/n."""
    weights = np.array([one.members[:, k] for one in fits])
    logs = np.log(np.array([one.kappas[:, k] for one in fits]))
    total = np.maximum(weights.sum(axis=0), 1e-300)
    middle = (weights * logs).sum(axis=0) / total
    return (weights * (logs - middle) ** 2).sum(axis=0)
