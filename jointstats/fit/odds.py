"""Readings of one rock: the descriptions that a fit tried, each with its probability.

The Bayesian information criterion stands for the evidence of a description. Its weights are too
sure of themselves, since the criterion is that of the best fit found and knows nothing of rock that
is none of the models; taken to the power `POWER` they were right as often as they said in
simulations of round, elliptical and uneven rock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from typing import NamedTuple

import numpy as np

from jointstats.fit.data import FitData
from jointstats.fit.rock import Rock
from jointstats.fit.shaped import ShapedFit
from jointstats.types import Array

#: Power of the weights of the criterion: a trial by this package, no source.
POWER = 0.5
#: Readings shown at most, and the probability that one of them must have.
MOST_READINGS = 3
LEAST_PROBABILITY = 0.05
#: Share of the fractures in common above which sets of two readings are one: of a set split in two,
#: the larger part must not pass for the whole.
SAME_SET = 2.0 / 3.0


class Reading(NamedTuple):
    """One reading of the rock."""

    rock: Rock
    probability: float
    bic: float


def readings_of(fits: Sequence[ShapedFit], data: FitData) -> tuple[Reading, ...]:
    """Readings (at most three, the first the best) of the fits of one data set, best first.

    Fits of as many sets tell a design much the same; the best stands for them.
    """
    data = replace(data, scatter=None)  # descriptions are compared as read
    kept: dict[int, ShapedFit] = {}
    for fit in fits:
        own = fit.counts[data.n_given : -1]
        if len(own) and own.min() < data.smallest and fit is not fits[0]:
            continue
        kept.setdefault(len(fit.rock.sets), fit)
    criteria = np.array([fit.criterion(data) for fit in kept.values()])
    weights = np.exp(-0.5 * POWER * (criteria - criteria[0]))
    shares = weights / weights.sum()
    found = [
        Reading(fit.rock.plain(), float(share), float(value))
        for fit, share, value in zip(kept.values(), shares, criteria, strict=True)
    ]
    others = sorted(found[1:], key=lambda one: -one.probability)
    shown = [one for one in others if one.probability >= LEAST_PROBABILITY]
    return (found[0], *shown[: MOST_READINGS - 1])


def presence(readings: Sequence[Reading], rows: Array) -> Array:
    """Probability that each set of the first reading is there, shape (K,).

    A set is there in another reading where one of its sets holds the same fractures (the share
    in common is more than `SAME_SET`).
    """
    labels = [one.rock.log_rates(rows).argmax(axis=1) for one in readings]
    probabilities = np.array([one.probability for one in readings])
    found = np.zeros((len(readings[0].rock.sets), len(readings)))
    for r, (one, own) in enumerate(zip(readings, labels, strict=True)):
        for k, j in product(range(len(found)), range(len(one.rock.sets))):
            mine, theirs = labels[0] == k, own == j
            both = int(np.count_nonzero(mine & theirs))
            found[k, r] += both > SAME_SET * max(int(np.count_nonzero(mine | theirs)), 1)
    return np.minimum(found, 1.0) @ probabilities / probabilities.sum()
