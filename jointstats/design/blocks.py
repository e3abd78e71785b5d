"""Size of the blocks that three sets cut out."""

from __future__ import annotations

import numpy as np

from jointstats.checks import as_numbers
from jointstats.errors import InputError
from jointstats.sphere.axes import as_axes
from jointstats.types import ArrayLike

#: Below this value of |n1 · (n2 × n3)| the three planes share a line, and no block closes.
_SMALLEST_DETERMINANT = 1e-9


def block_volume(spacings_m: ArrayLike, normals: ArrayLike) -> float:
    """Volume of the block that three sets of persistent planes cut out.

    Parameters
    ----------
    spacings_m : array_like, shape (3,)
        Normal spacing of each set, metres, above zero.
    normals : array_like, shape (3, 3)
        Mean pole of each set, either end.

    Returns
    -------
    float
        S1 S2 S3 / abs(n1 · (n2 × n3)), m³: the volume between three pairs of parallel planes.

    Raises
    ------
    InputError
        If there are not three of each, a spacing is not above zero, or the three normals lie in one
        plane, so that no block closes.

    Notes
    -----
    Geometry of one block of mean spacings. Three independent sets of unbounded parallel planes cut
    blocks of this mean volume whatever the law of their spacings; the median is far smaller.

    Examples
    --------
    >>> block_volume([1.0, 2.0, 0.5], [[1, 0, 0], [0, 1, 0], [0, 0, 1]])
    1.0
    """
    spacing = as_numbers(spacings_m, "spacings_m", low=0, open_end=True)
    axes = as_axes(normals, "normals")
    if len(spacing) != 3 or len(axes) != 3:
        raise InputError(
            f"a block needs three spacings and three normals; got {len(spacing)} and {len(axes)}"
        )
    determinant = abs(float(np.linalg.det(axes)))
    if determinant < _SMALLEST_DETERMINANT:
        raise InputError("the three normals lie in one plane, so the sets close no block")
    return float(spacing.prod() / determinant)
