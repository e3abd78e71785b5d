"""One rock or several? The likelihood ratio of a common fit to one a hole, with its bootstrap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.special import gammaincc

from jointstats.compare.groups import SampledGroup, pooled_exposure
from jointstats.fit.batch import (
    BatchFit,
    as_logs,
    fit_logs,
    joined_logs,
    kappa_bounds,
    simulate_logs,
)
from jointstats.fit.likelihood import RoundSets
from jointstats.types import Array

__all__ = ["RatioTest", "ratio_test"]



@dataclass(frozen=True, eq=False)
class RatioTest:
    """Likelihood-ratio test of one common rock against one a hole.

    Attributes
    ----------
    statistic : float
        Twice the log likelihood gained by fitting every hole on its own.
    simulated : ndarray, shape (draws,)
        The same of logs simulated from the common fit.
    pvalue : float
        Share of the simulated logs that gain as much, (beyond + 1) / (draws + 1).
    pvalue_smooth : float
        From a gamma distribution of the mean and variance of the simulated; it resolves values
        below 1 / draws.
    n : tuple of int
        Fractures of each hole in the fit.
    common : RoundSets
        The common fit.
    alone : tuple of BatchFit
        Fits of each hole: the observed log first, then the simulated.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats.compare.groups import groups_of
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> start = RoundSets.of(result.rock)
    >>> ratio_test(groups_of(result), start, draws=99, random_state=0).pvalue > 0.05
    True
    """

    statistic: float
    simulated: Array = field(repr=False)
    pvalue: float
    pvalue_smooth: float
    n: tuple[int, ...]
    common: RoundSets = field(repr=False)
    alone: tuple[BatchFit, ...] = field(repr=False)


def ratio_test(
    groups: Sequence[SampledGroup],
    start: RoundSets,
    *,
    draws: int = 199,
    random_state: int | np.random.Generator | None = 0,
) -> RatioTest:
    """Test whether several holes see one rock.

    The number of sets is held, and each fit starts from the common one; within a hole a set may
    change its mean, its P32 and, within a factor of three, its κ. The logs of the bootstrap are
    drawn from the common fit through the exposure of each hole, so holes of different direction
    are compared by what each could see.

    Parameters
    ----------
    groups : sequence of SampledGroup
        Two or more.
    start : RoundSets
        Sets to start from: the fit of all fractures.
    draws : int
        Bootstrap draws.
    random_state : int, Generator or None

    Returns
    -------
    RatioTest

    Examples
    --------
    See `RatioTest`.
    """
    generator = np.random.default_rng(random_state)
    whole = pooled_exposure(groups)
    bounds = kappa_bounds(start.kappas)
    observed = as_logs([np.vstack([one.poles for one in groups])])
    common = fit_logs(observed, whole, start, bounds).parameters(0)
    bounds = kappa_bounds(common.kappas)
    logs = []
    for one in groups:
        drawn = simulate_logs(common, one.exposure, draws, generator)
        rows = [drawn.rows[b, :n] for b, n in enumerate(drawn.counts)]
        logs.append(as_logs([one.poles, *rows]))
    alone = tuple(
        fit_logs(log, one.exposure, common, bounds) for log, one in zip(logs, groups, strict=True)
    )
    together = fit_logs(joined_logs(logs), whole, common, bounds)
    gain = 2.0 * (sum(one.log_likelihood for one in alone) - together.log_likelihood)
    statistic, simulated = float(gain[0]), gain[1:]
    return RatioTest(
        statistic=statistic,
        simulated=simulated,
        pvalue=share_beyond(statistic, simulated),
        pvalue_smooth=gamma_tail(statistic, simulated),
        n=tuple(one.n for one in groups),
        common=together.parameters(0),
        alone=alone,
    )


def share_beyond(statistic: float, simulated: Array) -> float:
    """Bootstrap p-value: share of statistics as large, the observed one counted among them.

    Parameters
    ----------
    statistic : float
    simulated : ndarray, shape (draws,)

    Returns
    -------
    float

    Examples
    --------
    >>> share_beyond(5.0, np.arange(9.0))
    0.5
    """
    beyond = int((simulated >= statistic * (1 - 1e-12)).sum())
    return (beyond + 1) / (len(simulated) + 1)


def gamma_tail(statistic: float, simulated: Array) -> float:
    """Upper tail of a gamma distribution with the mean and variance of simulated statistics.

    A likelihood ratio is near a multiple of chi-square; this is the chi-square of that mean and
    variance (two moments matched; Satterthwaite's device, from memory).

    Parameters
    ----------
    statistic : float
    simulated : ndarray, shape (draws,)

    Returns
    -------
    float

    Examples
    --------
    >>> from scipy.stats import chi2
    >>> drawn = chi2(8).rvs(20_000, random_state=1)
    >>> round(gamma_tail(15.507, drawn), 2)
    0.05
    """
    mean, variance = float(simulated.mean()), float(simulated.var())
    if mean <= 0 or variance <= 0:
        return 1.0 if statistic <= mean else 0.0
    return float(gammaincc(mean**2 / variance, max(statistic, 0.0) * mean / variance))
