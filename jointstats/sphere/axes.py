"""Axes as rows of unit vectors: checking, choosing one end, turning, and angles between them."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from jointstats.checks import check_lengths, real_array
from jointstats.errors import InputError
from jointstats.types import Array, ArrayLike


def as_axes(values: ArrayLike, name: str = "poles", *, min_rows: int = 0) -> Array:
    """Check axes and return them as unit rows.

    `values` (n, 3) or (3,): one axis a row. Gives (n, 3): rows of length one, float64; a new
    array.
    """
    rows = real_array(values, name, ", one axis (x, y, z) a row")
    if rows.size == 0:
        rows = rows.reshape(0, 3)
    if rows.ndim == 1:
        rows = rows[np.newaxis, :]
    if rows.ndim != 2 or rows.shape[1] != 3:
        raise InputError(f"{name} must have shape (n, 3), one axis a row; got {rows.shape}")
    if not np.isfinite(rows).all():
        bad = int(np.flatnonzero(~np.isfinite(rows).all(axis=1))[0])
        raise InputError(f"{name} must be finite; row {bad} is {rows[bad].tolist()}")
    # Scaling by the largest component first keeps the length of tiny and huge rows exact.
    largest = np.abs(rows).max(axis=1, initial=0.0)
    if (largest == 0).any():
        bad = int(np.flatnonzero(largest == 0)[0])
        raise InputError(f"{name} must not contain a zero row; row {bad} has no direction")
    if len(rows) < min_rows:
        raise InputError(f"{name} needs at least {min_rows} rows; got {len(rows)}")
    rows = rows / largest[:, np.newaxis]
    return rows / np.sqrt((rows * rows).sum(axis=1, keepdims=True))


def as_weights(weights: ArrayLike | None, n: int, name: str = "weights") -> Array:
    """Check weights of `n` rows and return them; ones if None.

    `weights` (n,): weights, zero or more, not all zero; `n`: number of rows they belong to. Gives
    (n,): float64; a new array.
    """
    if weights is None:
        return np.ones(n)
    values = real_array(weights, name, ", one a row")
    if values.shape != (n,):
        raise InputError(f"{name} must have shape ({n},), one a row; got {values.shape}")
    if not np.isfinite(values).all() or (values < 0).any():
        raise InputError(f"{name} must be finite and not negative")
    if n and not values.any():
        raise InputError(f"{name} must not all be zero")
    return values


def sorted_out(
    poles: ArrayLike, weights: ArrayLike | None, name: str = "poles", *, min_rows: int = 1
) -> tuple[Array, Array]:
    """Check poles with their weights and leave out those that weigh nothing.

    `poles` (n, 3); `weights` (n,): weights, zero or more. Gives `rows` (m, 3): unit rows with a
    weight above a billionth of the largest; `weights` (m,): their weights, the largest 1.
    """
    rows = as_axes(poles, name)
    values = as_weights(weights, len(rows), "weights")
    values = values / values.max(initial=1e-300)
    # A billionth of the largest weight tells nothing, and would undo the arithmetic.
    used = values > 1e-9
    if used.sum() < min_rows:
        raise InputError(
            f"{name} needs at least {min_rows} rows with a weight above zero; got {used.sum()}"
        )
    return rows[used], values[used]


def lower_hemisphere(axes: ArrayLike) -> Array:
    """Choose the end of each axis that points down.

    `axes` (n, 3): axes, either end. Gives (n, 3): unit rows with z ≤ 0; where z = 0 the end with
    x > 0, or y > 0 if x = 0 too.
    """
    rows = as_axes(axes, "axes")
    x, y, z = rows.T
    flip = (z > 0) | ((z == 0) & ((x < 0) | ((x == 0) & (y < 0))))
    rows[flip] *= -1.0
    return rows + 0.0  # no negative zeros


def align_axes(axes: ArrayLike, direction: ArrayLike) -> Array:
    """Choose the end of each axis that lies within 90° of a direction.

    `axes` (n, 3): axes, either end; `direction` (3,): the direction to agree with. Gives (n, 3):
    unit rows with a dot product of zero or more with `direction`.
    """
    rows = as_axes(axes, "axes")
    toward = as_axes(direction, "direction")[0]
    rows[rows @ toward < 0] *= -1.0
    return rows


def axis_angles_deg(a: ArrayLike, b: ArrayLike) -> Array:
    """Acute angle between axes, row by row (one row is set against all of the other).

    Parameters
    ----------
    a, b : array_like, shape (n, 3) or (3,)
        Axes, either end.

    Returns
    -------
    ndarray, shape (n,)
        Angles in degrees, 0 to 90.

    Raises
    ------
    InputError
        If the numbers of rows differ and neither is one.

    Examples
    --------
    >>> axis_angles_deg([[1.0, 0, 0], [0, 0, 1.0]], [0, 0, -1.0])
    array([90.,  0.])
    """
    first, second = as_axes(a, "a"), as_axes(b, "b")
    check_lengths(first, second, "a and b")
    # The arc tangent keeps small angles exact, where an arc cosine loses half the digits.
    across = np.linalg.norm(np.cross(first, second), axis=1)
    along = np.abs((first * second).sum(axis=1))
    return np.degrees(np.arctan2(across, along))


def frame_about(axis: ArrayLike) -> Array:
    """Two unit vectors square to an axis, and the axis: rows of a right-handed frame.

    `axis` (3,): the direction that becomes the third row. Gives (3, 3): rows (u, v, axis) with u
    × v = axis.
    """
    return frames_about(as_axes(axis, "axis"))[0]


def frames_about(axes: Array) -> Array:
    """The frames of `frame_about` for many axes at once; the axes are not checked.

    `axes` (n, 3): unit rows. Gives (n, 3, 3): for each axis the rows (u, v, axis).
    """
    x, y, z = axes.T
    sign = np.where(z >= 0, 1.0, -1.0)
    # Duff et al. (2017), Building an Orthonormal Basis, Revisited, JCGT 6(1): no branch cut.
    a = -1.0 / (sign + z)
    b = x * y * a
    frames = np.empty((len(axes), 3, 3))
    frames[:, 0] = np.column_stack([1.0 + sign * x**2 * a, sign * b, -sign * x])
    frames[:, 1] = np.column_stack([b, sign + y**2 * a, -y])
    frames[:, 2] = axes
    return frames + 0.0


def hemisphere_grid(n: int) -> Array:
    """Directions spread evenly over the lower hemisphere.

    `n`: number of directions, at least 1. Gives (n, 3): points of a Fibonacci spiral, each for
    the same solid angle.
    """
    k = np.arange(n) + 0.5
    z = -k / n
    across = np.sqrt(1.0 - z * z)
    turn = np.pi * (3.0 - np.sqrt(5.0)) * k
    return np.column_stack([across * np.cos(turn), across * np.sin(turn), z])


def moved_along(axes: Array, tangents: Array) -> Array:
    """Axes moved over the sphere along great circles; the arguments are not checked.

    `axes` (n, 3) or (3,): unit rows; `tangents` (n, 3): square to the axes. Gives (n, 3): unit
    rows.
    """
    turn = np.linalg.norm(tangents, axis=1, keepdims=True)
    moved = np.cos(turn) * axes + np.sinc(turn / np.pi) * tangents
    return moved / np.linalg.norm(moved, axis=1, keepdims=True)


def rotation_about(axis: ArrayLike, angle_rad: float) -> Array:
    """Matrix (3, 3) that turns column vectors about an axis by the right-hand rule.

    >>> turned = rotation_about([0, 0, 1.0], np.pi / 2) @ [1.0, 0, 0]
    >>> np.round(turned, 12) + 0.0
    array([0., 1., 0.])
    """
    return Rotation.from_rotvec(angle_rad * as_axes(axis, "axis")[0]).as_matrix()


def principal_axes(rows: Array, weights: Array) -> tuple[Array, Array]:
    """Eigenvalues (3,) of the orientation tensor Σ w n nᵀ / Σ w, falling, and its axes as rows."""
    share = weights / weights.sum()
    values, columns = np.linalg.eigh((rows * share[:, np.newaxis]).T @ rows)
    return np.clip(values[::-1], 0.0, None), columns.T[::-1]


def uniform_axes(generator: np.random.Generator, *shape: int) -> Array:
    """Directions drawn uniformly over the sphere, shape (*shape, 3)."""
    rows = generator.standard_normal((*shape, 3))
    return rows / np.linalg.norm(rows, axis=-1, keepdims=True)
