"""What core without a reference line can still say: its angle to the hole leaves a cone of poles."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from jointstats.checks import as_numbers
from jointstats.errors import InputError
from jointstats.sphere.axes import as_axes, as_weights, frame_about
from jointstats.types import Array, ArrayLike

if TYPE_CHECKING:
    from jointstats.sphere.axial_fisher import AxialFisher


def poles_on_cone(alpha_deg: float, hole_direction: ArrayLike, n: int = 360) -> Array:
    """Poles that a plane at a known angle to the hole may have.

    Parameters
    ----------
    alpha_deg : float
        Acute angle between core axis and plane, degrees, 0 to 90.
    hole_direction : array_like, shape (3,)
        Direction of the hole.
    n : int
        Number of poles, evenly round the hole.

    Returns
    -------
    ndarray, shape (n, 3)
        Unit normals at 90° − α from the direction of the hole; not turned to the lower
        hemisphere, so that they run round the cone.

    Raises
    ------
    InputError
        If the angle is out of range or n is below 1.

    Examples
    --------
    >>> poles_on_cone(30.0, [0, 0, -1], n=2).round(3) + 0.0
    array([[ 0.866,  0.   , -0.5  ],
           [-0.866,  0.   , -0.5  ]])
    """
    alpha = np.radians(as_numbers(alpha_deg, "alpha_deg", low=0, high=90)[0])
    if n < 1:
        raise InputError(f"n must be 1 or more; got {n}")
    first, second, hole = frame_about(hole_direction)
    turn = 2.0 * np.pi * np.arange(n) / n
    round_hole = np.outer(np.cos(turn), first) + np.outer(np.sin(turn), second)
    # α is between plane and axis, so the normal stands 90° − α from the hole.
    return np.cos(alpha) * round_hole + np.sin(alpha) * hole


def chances_on_cone(
    alpha_deg: ArrayLike,
    hole_directions: ArrayLike,
    sets: Sequence[AxialFisher],
    weights: ArrayLike | None = None,
    *,
    background: float = 0.0,
    n: int = 720,
) -> Array:
    """Chance of each set, for planes of which only the angle to the hole is known.

    Parameters
    ----------
    alpha_deg : array_like, shape (m,)
        Acute angles between core axis and plane, degrees.
    hole_directions : array_like, shape (m, 3) or (3,)
        Direction of the hole at each plane.
    sets : sequence of AxialFisher
        Distributions of the poles of K sets.
    weights : array_like, shape (K,), or None
        Intensity (P32) of each set; equal if None.
    background : float
        Intensity of fractures of any orientation.
    n : int
        Points round the cone.

    Returns
    -------
    ndarray, shape (m, K + 1)
        Rows sum to 1; the last column is the background. Every point of a cone stands at the
        same angle to the hole, so the sampling of the hole cancels out.

    Raises
    ------
    InputError
        If there is no set, or an argument is out of range.

    Examples
    --------
    Level beds and upright joints in a vertical hole are told apart by α alone:

    >>> from jointstats.sphere.axial_fisher import AxialFisher
    >>> sets = [AxialFisher([0, 0, 1], 50.0), AxialFisher([1, 0, 0], 50.0)]
    >>> chances_on_cone([85.0, 10.0], [0, 0, -1], sets).round(3)
    array([[1., 0., 0.],
           [0., 1., 0.]])
    """
    if not len(sets):
        raise InputError("sets must hold at least one set")
    alpha = as_numbers(alpha_deg, "alpha_deg", low=0, high=90)
    lines = as_axes(hole_directions, "hole_directions")
    if len(lines) not in (1, len(alpha)):
        raise InputError(
            f"hole_directions must have one row, or one a plane ({len(alpha)}); got {len(lines)}"
        )
    if not background >= 0:
        raise InputError(f"background must not be negative; got {background}")
    intensity = as_weights(weights, len(sets))
    lines = np.broadcast_to(lines, (len(alpha), 3))
    chances = np.empty((len(alpha), len(sets) + 1))
    for row, (angle, line) in enumerate(zip(alpha, lines, strict=True)):
        poles = poles_on_cone(float(angle), line, n)
        # In logarithms, so that a cone far from every set still has a nearest one.
        mean = [np.logaddexp.reduce(one.logpdf(poles)) - np.log(n) for one in sets]
        level = np.array([*mean, -np.log(2.0 * np.pi)])  # even over the hemisphere
        with np.errstate(divide="ignore"):
            # Bayes' rule: how dense each set is on the circle, times how frequent it is.
            level += np.log(np.append(intensity, background))
        chances[row] = np.exp(level - level.max())
    return chances / chances.sum(axis=1, keepdims=True)
