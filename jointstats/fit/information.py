"""Score and observed information of what is maximised, exact, in one pass over the fractures.

For a row n of set k, with t = μ·n, T = tanh κt and v the components of n in the frame of μ, the log
of λ f has the slope  s = (κ T v, κ (T t − A), 1)  in (two tangents, log κ, log λ). With memberships
r, the information of a mixture is (Louis 1982, J. Royal Statistical Society B 44:226-233; from
memory)

    I = Σ_i [ (Σ_k r s_k)(Σ_k r s_k)ᵀ − Σ_k r (∂s_k + s_k s_kᵀ) ] + ∂²(Σ_k λ_k E_k).
"""

from __future__ import annotations

import numpy as np

from jointstats.fit.likelihood import (
    BLOCK,
    PRIOR,
    Closed,
    Exposure,
    RoundSets,
    component_log_densities,
)
from jointstats.sphere.axes import frames_about, moved_along
from jointstats.types import Array

__all__ = ["score_and_information", "tangent_frames", "turned"]


_TINY = float(np.finfo(float).tiny)


def tangent_frames(means: Array) -> Array:
    """Two unit vectors square to each mean, shape (K, 2, 3)."""
    return frames_about(means)[:, :2]


def turned(parameters: RoundSets, frames: Array, change: Array) -> RoundSets:
    """Parameters moved by a change (4 K + 1,): two tangents, log κ, log λ a set, then log background.

    `frames` (K, 2, 3): the tangents.
    """
    sets = len(parameters.kappas)
    steps = change[: 4 * sets].reshape(sets, 4)
    tangents = np.einsum("ka,kai->ki", steps[:, :2], frames)
    return RoundSets(
        moved_along(parameters.means, tangents),
        parameters.kappas * np.exp(steps[:, 2]),
        parameters.intensities * np.exp(steps[:, 3]),
        parameters.background * float(np.exp(change[-1])),
    )


def _of_one_set(
    rows: Array, share: Array, mean: Array, kappa: float, frame: Array
) -> tuple[Array, Array]:
    """Slopes of each row weighted by its share (n, 4), and Σ r (∂s + s sᵀ) (4, 4)."""
    t, v = rows @ mean, rows @ frame.T
    # An axis pulls its set from both ends: in place of t stands log cosh κt, whose slope is κ tanh κt.
    bend = np.tanh(kappa * t)
    flat = 1.0 - bend * bend
    a = 1.0 / np.tanh(kappa) - 1.0 / kappa
    # A(κ) = coth κ − 1/κ solves A′ = 1 − A² − 2A/κ.
    a_slope = 1.0 - a * a - 2.0 * a / kappa
    slopes = np.column_stack(
        [kappa * bend[:, np.newaxis] * v, kappa * (bend * t - a), np.ones(len(rows))]
    )
    weighted = slopes * share[:, np.newaxis]
    curve = weighted.T @ slopes
    curve[:2, :2] += kappa**2 * (v * (share * flat)[:, np.newaxis]).T @ v
    # On the sphere a step along a tangent falls away from it: the pull along the mean counts against the curvature.
    curve[[0, 1], [0, 1]] -= kappa * float(share @ (bend * t))
    across = kappa * ((share * (bend + kappa * t * flat)) @ v)
    curve[:2, 2] += across
    curve[2, :2] += across
    curve[2, 2] += kappa**2 * float(share @ (t * t * flat - a_slope))
    curve[2, 2] += kappa * float(share @ (bend * t - a))
    return weighted, curve


def _of_exposure(
    parameters: RoundSets, exposure: Exposure | None, frames: Array
) -> tuple[Array, Array]:
    """Gradient (K, 4) and second derivatives (K, 4, 4) of λ E of each set."""
    means, kappas, intensities, _ = parameters
    sets = len(kappas)
    gradient, curve = np.zeros((sets, 4)), np.zeros((sets, 4, 4))
    if exposure is None:
        gradient[:, 3] = curve[:, 3, 3] = intensities
        return gradient, curve
    met = exposure.of_sets_slopes(means, kappas)
    # The coordinates are turns, log κ and log λ: in these the likelihood is nearest to a parabola.
    along = kappas * met.by_kappa
    gradient[:, :2] = np.einsum("kai,ki->ka", frames, met.by_mean)
    gradient[:, 2], gradient[:, 3] = along, met.value
    curve[:, :2, :2] = np.einsum("kai,kij,kbj->kab", frames, met.by_mean_twice, frames)
    # The same fall of the sphere, for the exposure.
    curve[:, [0, 1], [0, 1]] -= (means * met.by_mean).sum(axis=1)[:, np.newaxis]
    mixed = kappas[:, np.newaxis] * np.einsum("kai,ki->ka", frames, met.by_mean_and_kappa)
    curve[:, :2, 2] = curve[:, 2, :2] = mixed
    curve[:, 2, 2] = kappas**2 * met.by_kappa_twice + along
    curve[:, :, 3] = curve[:, 3, :] = gradient
    return gradient * intensities[:, np.newaxis], curve * intensities[:, np.newaxis, np.newaxis]


def score_and_information(
    rows: Array,
    weights: Array,
    parameters: RoundSets,
    exposure: Exposure | None,
    frames: Array,
    closed: Closed = None,
) -> tuple[Array, Array]:
    """Gradient of log likelihood and log prior, and minus their second derivatives.

    `rows` (n, 3), `weights` (n,), `frames` (K, 2, 3) from `tangent_frames`, `closed` (n, G): rows that
    may not join each of the first G sets. Gives score (4 K + 1,), by two tangents (radians), log κ and
    log λ of each set, then the log of the background; and information (4 K + 1, 4 K + 1).
    """
    size = 4 * len(parameters.kappas) + 1
    score, information = np.zeros(size), np.zeros((size, size))
    for start in range(0, len(rows), BLOCK):
        block = slice(start, start + BLOCK)
        shut = None if closed is None else closed[block]
        one = _of_block(rows[block], weights[block], parameters, frames, shut)
        score += one[0]
        information += one[1]
    expected, curves = _of_exposure(parameters, exposure, frames)
    met = 1.0 if exposure is None else exposure.of_uniform()
    score -= np.append(expected.ravel(), parameters.background * met)
    for k, (gradient, curve) in enumerate(zip(expected, curves, strict=True)):
        own, place = slice(4 * k, 4 * k + 4), slice(4 * k, 4 * k + 3)
        information[own, own] += curve
        # The prior ½ log E: by log λ the slope of λ E is λ E itself.
        slope = gradient[:3] / max(gradient[3], _TINY)
        score[place] += PRIOR * slope
        bend = curve[:3, :3] / max(gradient[3], _TINY) - np.outer(slope, slope)
        information[place, place] -= PRIOR * bend
    information[-1, -1] += parameters.background * met
    return score, information


def _of_block(
    rows: Array, weights: Array, parameters: RoundSets, frames: Array, closed: Closed
) -> tuple[Array, Array]:
    size = 4 * len(parameters.kappas) + 1
    # Louis (1982): observed information is that of complete data less what is lost by not knowing whose fracture is whose.
    logs = component_log_densities(rows, parameters, closed)
    shares = np.exp(logs - np.logaddexp.reduce(logs, axis=1)[:, np.newaxis])
    information, slopes = np.zeros((size, size)), np.empty((len(rows), size))
    for k, (mean, kappa) in enumerate(zip(parameters.means, parameters.kappas, strict=True)):
        own = slice(4 * k, 4 * k + 4)
        share = weights * shares[:, k]
        slopes[:, own], curve = _of_one_set(rows, share, mean, float(kappa), frames[k])
        information[own, own] -= curve
    slopes[:, -1] = weights * shares[:, -1]
    information[-1, -1] -= slopes[:, -1].sum()
    # The slopes carry the weights once; the square of a row's slope must carry them once too.
    root = slopes / np.sqrt(np.where(weights > 0, weights, 1.0))[:, np.newaxis]
    return slopes.sum(axis=0), information + root.T @ root
