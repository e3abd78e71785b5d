"""Bring a core log onto an image log: stretch of the whole, shift and turn of each run.

First a stretch and a shift of the whole log by the depths and α alone; then for each run a grid of
shifts and turns, every pairing summed, with shifts of neighbouring runs held together (Viterbi);
then rounds of pair chances and of refits of shift, stretch, turn, spreads and rates (EM).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jointstats.pairs.evidence import (
    Log,
    Reading,
    alpha_odds,
    axes_in_hole,
    condition_odds,
    depth_odds,
    orientation_odds,
)
from jointstats.pairs.pairing import log_sum_of_pairings, pair_chances
from jointstats.types import Array

_START = (0.07, 30.0)  # depth spread, m, and κ
_SHARE = 0.65  # of the fractures of each log that are taken to be in both, to start
_STRETCH = np.linspace(-0.04, 0.04, 33)
_BIN_M = 0.05
_SHIFTS_M = np.arange(-0.6, 0.601, 0.03)
_TURNS = np.radians(np.arange(0.0, 360.0, 10.0))
_DRIFT_M = 0.03  # between the shifts of neighbouring runs, besides the stretch of the whole
_ROUNDS = 6
_FINE_TURNS = np.radians(np.arange(0.0, 360.0, 5.0))
#: Limits of what is estimated. Core read to no better than κ 10 (26°) would be no orientation at
#: all, and an alignment that may drop orientation is not to be compared with one that keeps it.
_SPREADS_M, _KAPPAS = (0.005, 0.3), (10.0, 3000.0)
_LOOSE_M = 0.03  # how far a run's shift may leave that of the first search
_LOOSE_STRETCH = 0.02


@dataclass(frozen=True, eq=False)
class Alignment:
    """How the core lies on the image.

    Attributes
    ----------
    depth : ndarray, shape (I,)
        Depth of each core fracture on the depths of the image, metres.
    shift, stretch, turn, turn_error : ndarray, shape (R,)
        Of each run: metres to add at its middle, share by which it is to be lengthened, radians
        by which it is to be turned, and the standard error of that.
    spun : ndarray, shape (R,)
        Probability that the run is turned against the line its β was read from.
    chances : ndarray, shape (I, J)
        Chance of each pair.
    odds : float
        Log likelihood of the two logs, up to a constant.
    reading : Reading

    Examples
    --------
    See `match_core_to_image`.
    """

    depth: Array = field(repr=False)
    shift: Array
    stretch: Array
    turn: Array
    turn_error: Array
    spun: Array
    chances: Array = field(repr=False)
    odds: float
    reading: Reading


class TwoLogs(NamedTuple):
    """What is to be aligned: two logs in order of depth, one fracture or more each."""

    core: Log
    image: Log
    runs: NDArray[np.intp]  # (I,) run of each core fracture, 0, 1, …, rising
    length_m: float  # that both methods logged
    spun: Array  # (R,) chance, before anything is compared, that a run is turned
    given: Array  # (I, J) log odds of each pair from elsewhere


def align(logs: TwoLogs) -> Alignment:
    """Find the depths and turns that make the two logs one."""
    core, image = logs.core, logs.image
    both = _SHARE * min(len(core.depth), len(image.depth))
    rates = (both, max(len(core.depth) - both, 1.0), max(len(image.depth) - both, 1.0))
    reading = Reading(*_START, *(rate / logs.length_m for rate in rates))
    logs = logs._replace(given=condition_odds(core, image) + logs.given)
    stretch, shift = _whole_log(
        core.depth, image.depth, alpha_odds(core, image, reading.kappa) + logs.given
    )
    return _refined(logs, core.depth * (1.0 + stretch) + shift, reading)


def _whole_log(core: Array, image: Array, odds: Array) -> tuple[float, float]:
    """Stretch and shift of the whole log: the heap of depth differences stands highest there."""
    middle = 0.5 * (core[0] + core[-1])
    weights = np.exp(np.clip(odds, -3.0, 2.0)).ravel()
    edges = np.arange(-2.5, 2.5 + _BIN_M, _BIN_M)
    best, found = -np.inf, (0.0, 0.0)
    for stretch in _STRETCH:
        moved = core + stretch * (core - middle)
        for_end = stretch * middle  # depths are stretched from the collar
        apart = (image - moved[:, np.newaxis]).ravel()
        heap = np.histogram(apart, edges, weights=weights)[0]
        heap = np.convolve(heap, [0.5, 1.0, 1.0, 0.5], mode="same")
        top = int(np.argmax(heap))
        # The smaller change wins where the heaps are alike.
        score = heap[top] * (1.0 - 0.5 * abs(stretch))
        if score > best:
            best, found = score, (float(stretch), float(edges[top]) - for_end)
    return found


def _near(core: Array, image: Array, reach: float) -> slice:
    low, high = np.searchsorted(image, [core.min() - reach, core.max() + reach])
    return slice(int(low), int(high))


def _by_run(logs: TwoLogs, depth: Array, reading: Reading) -> tuple[Array, Array]:
    """Shift and turn of each run on a grid."""
    number = len(logs.spun)
    scores, best_turn = np.zeros((number, len(_SHIFTS_M))), np.zeros((number, len(_SHIFTS_M)))
    middles = np.zeros(number)
    for r in range(number):
        own = logs.runs == r
        middles[r] = depth[own].mean()
        part = _near(depth[own], logs.image.depth, _SHIFTS_M[-1] + 4 * reading.depth_spread)
        turns, prior = _turns(logs.core.beta[own], logs.spun[r], _TURNS)
        odds, at_large = _pair_odds(logs, own, part, turns, reading)
        apart = logs.image.depth[part] - (depth[own] + _SHIFTS_M[:, np.newaxis])[:, :, np.newaxis]
        weights = depth_odds(apart, reading)[:, np.newaxis] + odds
        values = log_sum_of_pairings(weights) + at_large + prior
        best_turn[r] = turns[values.argmax(axis=1)]
        peak = values.max(axis=1)
        scores[r] = peak + np.log(np.exp(values - peak[:, np.newaxis]).sum(axis=1))
    path = _viterbi(scores, middles)
    return _SHIFTS_M[path], best_turn[np.arange(number), path]


def _turns(beta: Array, spun: float, turns: Array) -> tuple[Array, Array]:
    """Turns that a run may have, the first being none, and the log of their chances beforehand."""
    if np.isnan(beta).all() or spun <= 0:
        return turns[:1], np.zeros(1)
    chance = np.full(len(turns), spun / len(turns))
    chance[0] += 1.0 - spun
    return turns, np.log(chance)


def _pair_odds(
    logs: TwoLogs, own: NDArray[np.bool_], part: slice, turns: Array, reading: Reading
) -> tuple[Array, Array]:
    """Log odds of the pairs of a run at each turn, depths apart, and of its planes at large."""
    core = logs.core.take(own)
    odds, at_large = orientation_odds(core, logs.image, turns, reading.kappa)
    odds = odds[:, :, part] + logs.given[own, part]
    alone = np.isnan(core.beta)
    if alone.any():
        odds[:, alone] += alpha_odds(core.take(alone), logs.image, reading.kappa)[:, part]
    return odds, at_large


def _viterbi(scores: Array, middles: Array) -> NDArray[np.intp]:
    """The path of shifts, one a run, that is likeliest with neighbours held together."""
    apart = _SHIFTS_M[:, np.newaxis] - _SHIFTS_M
    value = scores[0] - 0.5 * (_SHIFTS_M / 0.4) ** 2
    back = []
    for r in range(1, len(scores)):
        spread = np.hypot(_DRIFT_M, 0.01 * (middles[r] - middles[r - 1]))
        step = value - 0.5 * (apart / spread) ** 2
        back.append(step.argmax(axis=1))
        value = step.max(axis=1) + scores[r]
    path = [int(value.argmax())]
    for pointer in reversed(back):
        path.append(int(pointer[path[-1]]))
    return np.array(path[::-1])


def _refined(logs: TwoLogs, depth: Array, reading: Reading) -> Alignment:
    """Rounds of pair chances and of refits, from the grid's best, and the shifts they end with."""
    first, turn = _by_run(logs, depth, reading)
    number = len(first)
    state = Alignment(
        depth=depth + first[logs.runs],
        shift=first,
        stretch=np.zeros(number),
        turn=turn,
        turn_error=np.full(number, np.pi),
        spun=logs.spun,
        chances=np.zeros_like(logs.given),
        odds=0.0,
        reading=reading,
    )
    for _ in range(_ROUNDS):
        state = _refit_depths(_chances(logs, state), logs, depth, first)
        state = replace(state, reading=_refit_reading(state, logs))
    state = _chances(logs, state)
    whole = state.depth - logs.core.depth
    shift = np.array([whole[logs.runs == r].mean() for r in range(number)])
    return replace(state, shift=shift, stretch=_stretch_of_runs(state, logs.core, logs.runs))


def _stretch_of_runs(state: Alignment, core: Log, runs: NDArray[np.intp]) -> Array:
    """Metres on the image for a metre of core, less one; of the whole log where a run is short."""
    low, high = int(np.argmin(core.depth)), int(np.argmax(core.depth))
    reach = core.depth[high] - core.depth[low]
    whole = (state.depth[high] - state.depth[low]) / reach - 1.0 if reach > 0 else 0.0
    stretch = np.full(len(state.shift), whole)
    for r in range(len(stretch)):
        own = np.flatnonzero(runs == r)
        span = core.depth[own[-1]] - core.depth[own[0]]
        if span > 0.1:
            stretch[r] = (state.depth[own[-1]] - state.depth[own[0]]) / span - 1.0
    return stretch


def _chances(logs: TwoLogs, state: Alignment) -> Alignment:
    """Chance of each pair, and turn of each run: both averaged over what the other may be.

    A run of one or two fractures can be turned to fit almost anything, so a pair must not be
    judged at the one turn that suits it best.
    """
    chances, odds = np.zeros_like(state.chances), 0.0
    turn, error, now = state.turn.copy(), state.turn_error.copy(), state.spun.copy()
    for r in range(len(turn)):
        own = logs.runs == r
        turns, prior = _turns(logs.core.beta[own], logs.spun[r], _FINE_TURNS)
        part = _near(state.depth[own], logs.image.depth, 0.1 + 5 * state.reading.depth_spread)
        odds_here, at_large = _pair_odds(logs, own, part, turns, state.reading)
        apart = logs.image.depth[part] - state.depth[own, np.newaxis]
        weights = odds_here + depth_odds(apart, state.reading)
        values = log_sum_of_pairings(weights) + at_large + prior
        peak = float(values.max())
        share = np.exp(values - peak)
        odds += peak + float(np.log(share.sum()))
        share /= share.sum()
        chances[own, part] = np.einsum("t,tij->ij", share, pair_chances(weights))
        turn[r], error[r], now[r] = _turn_of(share, turns, logs.spun[r])
    # Runs meet at their ends; no fracture of the image is shared out more than once.
    chances /= np.maximum(chances.sum(axis=0), 1.0)
    return replace(state, chances=chances, turn=turn, turn_error=error, spun=now, odds=odds)


def _turn_of(share: Array, turns: Array, spun: float) -> tuple[float, float, float]:
    """Turn of a run, its standard error, and the chance that it was spun at all."""
    if len(turns) == 1:
        return 0.0, np.pi, spun
    whirled = share.copy()
    # Of the share at no turn, the part that a spun run would have there by accident.
    whirled[0] *= (spun / len(turns)) / (1.0 - spun + spun / len(turns))
    chance = float(whirled.sum())
    if chance <= 0.5:
        return 0.0, 0.0, chance
    middle = (whirled / chance) @ np.exp(1j * turns)
    error = min(float(np.sqrt(-2.0 * np.log(max(float(np.abs(middle)), 1e-9)))), np.pi)
    return float(np.angle(middle)), error, chance


def _refit_depths(state: Alignment, logs: TwoLogs, depth: Array, first: Array) -> Alignment:
    """Shift and stretch of each run by least squares, held near those of the first search."""
    shift, stretch = state.shift.copy(), state.stretch.copy()
    moved = state.depth.copy()
    spread = state.reading.depth_spread
    for r in range(len(shift)):
        own = logs.runs == r
        weights = state.chances[own]
        apart = (weights * (logs.image.depth - depth[own, np.newaxis])).sum(axis=1)
        weight = weights.sum(axis=1)
        along = depth[own] - depth[own].mean()
        design = np.column_stack([np.ones(len(along)), along])
        normal = design.T @ (weight[:, np.newaxis] * design) / spread**2
        normal += np.diag([_LOOSE_M**-2, _LOOSE_STRETCH**-2])
        right = design.T @ apart / spread**2 + [first[r] * _LOOSE_M**-2, 0.0]
        shift[r], stretch[r] = np.linalg.solve(normal, right)
        moved[own] = depth[own] + design @ [shift[r], stretch[r]]
    return replace(state, shift=shift, stretch=stretch, depth=moved)


def _refit_reading(state: Alignment, logs: TwoLogs) -> Reading:
    """Spreads from the pairs, less what the fit of each run used up; rates from their number."""
    core, image, runs, length_m = logs[:4]
    chances, reading = state.chances, state.reading
    pairs = max(float(chances.sum()), 1.0)
    apart = image.depth - state.depth[:, np.newaxis]
    squares = float((chances * apart**2).sum())
    # Degrees of freedom that the shift and the stretch of each run take from its depths.
    by_run = np.array([float(chances[runs == r].sum()) for r in range(len(state.turn))])
    taken = float((by_run / (by_run + (reading.depth_spread / _LOOSE_M) ** 2)).sum())
    spread = float(np.sqrt(squares / max(pairs - 1.3 * taken, 0.25 * pairs, 1.0)))
    known = ~np.isnan(core.beta[:, np.newaxis] + image.beta)
    kappa = reading.kappa
    oriented = float((chances * known).sum())
    if oriented > 2.0:
        here = axes_in_hole(np.nan_to_num(core.alpha), np.nan_to_num(core.beta + state.turn[runs]))
        there = axes_in_hole(np.nan_to_num(image.alpha), np.nan_to_num(image.beta))
        drop = float((chances * known * (1.0 - np.abs(here @ there.T))).sum())
        # 2 κ Σ (1 − cos) is chi-square of two a pair, less one for the turn of each run.
        used = float((state.spun * np.minimum(by_run, 1.0)).sum())
        kappa = (oriented - 0.5 * used) / max(drop, 1e-9)
    return Reading(
        float(np.clip(spread, *_SPREADS_M)),
        float(np.clip(kappa, *_KAPPAS)),
        pairs / length_m,
        max(len(core.depth) - pairs, 0.5) / length_m,
        max(len(image.depth) - pairs, 0.5) / length_m,
    )
