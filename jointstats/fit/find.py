"""From the data of a fit to its sets: their number, their shapes, and what else was tried."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from jointstats.fit.data import FitData
from jointstats.fit.descriptions import Descriptions, as_elliptical, describe
from jointstats.fit.fitting import Fit, run_em
from jointstats.fit.rock import Rock
from jointstats.fit.search import Candidates, Trial, fit_sets, search
from jointstats.fit.shaped import ShapedFit, fit_shaped
from jointstats.sphere.set_shapes import EllipticalDensity

__all__ = ["Found", "as_shaped", "find_round", "find_sets"]


_MOST_SEARCHED = 5000  # fractures in which the sets are looked for; all then settle where they lie
_FEWER_STEPS = 8  # of a fit that only looks
_FAR_BEHIND = 20.0  # of the criterion; a path that far behind and falling is left
_STARTS = 3  # places tried for each new elliptical set


class Found(NamedTuple):
    """What a search found."""

    fit: ShapedFit
    trials: list[Trial]
    others: tuple[ShapedFit, ...]  # best fit of each description tried, best first


def as_shaped(fit: Fit) -> ShapedFit:
    """A round fit in three columns as a fit of any shapes."""
    counts = fit.found.counts
    rock = fit.parameters.rock()
    return ShapedFit(rock, fit.log_likelihood, counts, fit.n_iter, fit.converged)


def find_round(
    data: FitData, n_sets: int | str, max_sets: int, random_state: np.random.RandomState
) -> tuple[Fit, list[Trial], dict[int, Fit]]:
    """Round sets: their number by the criterion, or as given; in any number of columns."""
    part = data.thinned(random_state, _MOST_SEARCHED)
    if n_sets == "auto":
        fit, trials, by_number = search(part, max_sets, random_state)
    else:
        fit = fit_sets(part, int(n_sets), random_state)
        trials, by_number = [], {len(fit.parameters.kappas): fit}
    if part is not data:
        # The part is large enough to find the sets; all rows then settle where they lie.
        fit = run_em(data, fit.parameters)
    return fit, trials, by_number


def find_sets(
    data: FitData,
    n_sets: int | str,
    shape: str,
    max_sets: int,
    random_state: np.random.RandomState,
) -> Found:
    """Sets of the shape asked for ("round", "elliptical", or "auto": chosen with the number)."""
    round_fit, trials, by_number = find_round(data, n_sets, max_sets, random_state)
    if shape == "round":
        return Found(as_shaped(round_fit), trials, (as_shaped(round_fit),))
    part = data.thinned(random_state, _MOST_SEARCHED)
    # Where the data hold no place for so many, it is those that were found which get a shape.
    number = n_sets if n_sets == "auto" else len(round_fit.parameters.kappas)
    found = Descriptions(part, number, shape)
    if shape == "auto":
        for fit in by_number.values():
            found.offer(as_shaped(fit))
    candidates = Candidates(part, random_state)
    start = as_shaped(round_fit).rock
    elliptical = found.tried(_all_elliptical(start))
    starts = [as_shaped(round_fit)] if shape == "auto" else []
    starts += [elliptical] if elliptical is not None else []
    if n_sets == "auto":
        starts += _elliptical_path(found, candidates, max_sets)
    if n_sets == "auto" or shape == "auto":
        describe(found, starts)
    ranked = sorted(found.fits.values(), key=found.value)
    best = ranked[0]
    if part is not data:
        best = fit_shaped(data, best.rock)
    # A part's fits are not on one scale with a fit of all.
    others = tuple(ranked[1:]) if part is data else ()
    return Found(best, trials + found.trials, (best, *others))


def _all_elliptical(rock: Rock) -> Rock:
    for k, density in enumerate(rock.densities):
        if density.shape == "round":
            rock = rock.replaced(k, as_elliptical(density))
    return rock


def _elliptical_path(found: Descriptions, candidates: Candidates, max_sets: int) -> list[ShapedFit]:
    """Elliptical sets grown one at a time for as long as the criterion gains; the best of them."""
    data = found.data
    if data.given is None:
        rock = Rock((), data.total / data.uniform)
    else:
        rock = _all_elliptical(data.given.rock())
    best, failures = None, 0
    while len(rock.sets) < max_sets and failures < 2:
        fit = _grown(found, rock, candidates)
        if fit is None:
            break
        better = best is None or found.value(fit) < found.value(best)
        failures = 0 if better else failures + 1
        if found.value(fit) > found.value(found.best) + _FAR_BEHIND:
            failures += 0 if better else 1
        best, rock = (fit if better else best), fit.rock
    return [] if best is None else [best]


def _grown(found: Descriptions, rock: Rock, candidates: Candidates) -> ShapedFit | None:
    """One more elliptical set, from the most promising of a few places."""
    logs = rock.log_rates(candidates.rows, candidates.closed)
    looks = []
    for start in candidates.best(logs, _STARTS):
        kappa = float(np.clip(start.kappa, *found.data.kappa_bounds))
        density = as_elliptical(EllipticalDensity.about(start.mean, kappa))
        grown = rock.joined(density, start.intensity).with_background(found.least_background)
        looks.append(fit_shaped(found.data, grown, max_iter=_FEWER_STEPS))
    if not looks:
        return None
    best = max(looks, key=lambda one: one.log_likelihood)
    return found.tried(best.rock, to_the_end=True)
