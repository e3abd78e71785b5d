"""Centres that a few stray poles hardly move: the spherical median and the trimmed mean."""

from __future__ import annotations

import numpy as np

from jointstats.errors import InputError
from jointstats.sphere.axes import lower_hemisphere, sorted_out
from jointstats.sphere.resultant import resultant_of
from jointstats.types import Array, ArrayLike


def _arc(rows: Array, centre: Array, *, axial: bool) -> Array:
    """Angles in radians between rows and a centre."""
    along = rows @ centre
    across = np.linalg.norm(np.cross(rows, centre), axis=1)
    return np.arctan2(across, np.abs(along) if axial else along)


def _toward(rows: Array, centre: Array, *, axial: bool) -> Array:
    """Unit tangents at the centre that point to each row; zero for a row at the centre."""
    along = rows @ centre
    ends = rows * np.where(along < 0, -1.0, 1.0)[:, np.newaxis] if axial else rows
    tangents = ends - (ends @ centre)[:, np.newaxis] * centre
    length = np.linalg.norm(tangents, axis=1, keepdims=True)
    return np.where(length > 1e-12, tangents / np.maximum(length, 1e-12), 0.0)


def spherical_median(
    poles: ArrayLike, weights: ArrayLike | None = None, *, axial: bool = True
) -> Array:
    """Axis (or direction) whose summed angle to all poles is least.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of one set.
    weights : array_like, shape (n,), or None
        Weights, zero or more.
    axial : bool
        Whether the rows are axes.

    Returns
    -------
    ndarray, shape (3,)
        Unit vector; on the lower hemisphere if axial. Where several minima tie, the one reached
        from the mean or the nearest pole.

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, or the arrays are not axes and weights.

    Notes
    -----
    Fisher (1985), Spherical medians, J. R. Stat. Soc. B 47: 342-348 (from memory); found by the
    steps of Weiszfeld along the sphere.

    Examples
    --------
    One stray pole in five does not move it from the four others:

    >>> spherical_median([[0, 0, 1.0]] * 4 + [[1.0, 0, 0]]) + 0.0
    array([ 0.,  0., -1.])
    """
    rows, values = sorted_out(poles, weights)
    values = values / values.sum()

    def loss(centre: Array) -> float:
        return float(values @ _arc(rows, centre, axial=axial))

    mean = resultant_of(rows, values, axial=axial).mean
    # The best pole is a start too: the minimum may sit on a pole, where the steps stall.
    step = max(1, len(rows) // 200)
    ranked = rows[np.argsort(_arc(rows, mean, axial=axial), kind="stable")][::step]
    starts = [mean, ranked[int(np.argmin([loss(row) for row in ranked]))]]
    ends = [_descend(rows, values, start, axial=axial) for start in starts]
    candidates = ends + starts
    best = candidates[int(np.argmin([loss(end) for end in candidates]))]
    return lower_hemisphere(best)[0] if axial else best


def _descend(rows: Array, values: Array, centre: Array, *, axial: bool) -> Array:
    for _ in range(500):
        angles = np.maximum(_arc(rows, centre, axial=axial), 1e-9)
        tangents = _toward(rows, centre, axial=axial)
        step = values @ tangents / float(values @ (1.0 / angles))
        size = float(np.linalg.norm(step))
        if size < 1e-12:
            break
        centre = np.cos(size) * centre + np.sin(size) * step / size
        centre /= np.linalg.norm(centre)
    return centre


def trimmed_mean(
    poles: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    share: float = 0.1,
    axial: bool = True,
) -> Array:
    """Mean of the poles nearest to their own mean, a share of the farthest left out.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of one set.
    weights : array_like, shape (n,), or None
        Weights, zero or more; the share is one of weight.
    share : float
        Share left out, 0 up to 0.5.
    axial : bool
        Whether the rows are axes.

    Returns
    -------
    ndarray, shape (3,)
        Unit vector; on the lower hemisphere if axial. One pole at least is kept.

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, or `share` is not 0 to 0.5.

    Examples
    --------
    >>> trimmed_mean([[0, 0, 1.0]] * 9 + [[1.0, 0, 0.2]]).round(6) + 0.0
    array([ 0.,  0., -1.])
    """
    rows, values = sorted_out(poles, weights)
    if not 0.0 <= share <= 0.5:
        raise InputError(f"share must lie between 0 and 0.5; got {share!r}")
    centre = spherical_median(rows, values, axial=axial)
    for _ in range(100):
        angles = _arc(rows, centre, axial=axial)
        order = np.argsort(angles, kind="stable")
        within = np.cumsum(values[order]) <= (1.0 - share) * values.sum() * (1 + 1e-12)
        within[0] = True
        kept = order[within]
        ends = rows[kept]
        if axial:
            ends = ends * np.where(ends @ centre < 0, -1.0, 1.0)[:, np.newaxis]
        following = resultant_of(ends, values[kept], axial=False).mean
        if np.abs(following - centre).max() < 1e-12:
            break
        centre = following
    return lower_hemisphere(centre)[0] if axial else centre
