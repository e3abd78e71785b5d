"""The frame of a hole: its direction, the reference line on its wall, and angles round it.

A plane at the acute angle α to the core axis cuts the core in an ellipse. With d the direction of
the hole and u the direction, square to it, from the axis to the lowest (farthest down the hole)
point of the ellipse, the plane's normal on the side of d is

    n = sin α d − cos α u

because a point R w + z d of the wall lies in the plane where z = −R (n · w) / (n · d), which is
largest for w = u. With r the direction from the axis to the reference line, and β clockwise
looking down the hole, which is by the right-hand rule about d,

    u = cos β r + sin β (d × r)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import cosdg, sindg

from jointstats.errors import InputError
from jointstats.schema import REFERENCES
from jointstats.sphere.axes import as_axes, lower_hemisphere
from jointstats.types import Array, ArrayLike

#: A hole this near to vertical has no low side that could be found on site, degrees.
VERTICAL_WITHIN_DEG = 0.1
#: North is a reference only in holes this near to vertical, degrees: farther off, the direction
#: that a compass finds on the wall is no longer that of north on the map.
NORTH_WITHIN_DEG = 10.0


def reference_fault(direction: ArrayLike, reference: str) -> str | None:
    """Why a reference line can't be used in a hole of this direction; None if it can.

    `direction` (3,): direction of the hole; `reference`: one of `REFERENCES`.
    """
    if reference not in REFERENCES:
        known = ", ".join(f'"{name}"' for name in REFERENCES)
        return f"reference must be one of {known}; got {reference!r}"
    x, y, z = as_axes(direction, "direction")[0]
    tilt = float(np.degrees(np.arctan2(np.hypot(x, y), abs(z))))
    if reference == "north" and tilt > NORTH_WITHIN_DEG:
        return (
            f"north is a reference only within {NORTH_WITHIN_DEG:g}° of vertical, and the hole is "
            f'{tilt:.1f}° from it; use "low side" or "high side"'
        )
    if reference != "north" and tilt < VERTICAL_WITHIN_DEG:
        return f'a vertical hole has no {reference}; use "north"'
    return None


def reference_lines(directions: ArrayLike, reference: str, *, north_deg: float = 0.0) -> Array:
    """Directions from the axis of a hole to the reference line on its wall.

    `directions` (n, 3): directions of the hole, the way it was drilled; `reference`: "low side",
    "high side", or "north" (holes within 10° of vertical). Gives (n, 3): unit vectors square to
    the hole.
    """
    lines = as_axes(directions, "directions")
    tilt = np.hypot(lines[:, 0], lines[:, 1])
    # One bad row stands for all: the steepest for a side, the flattest for north.
    if len(lines):
        worst = lines[np.argmax(tilt) if reference == "north" else np.argmin(tilt)]
        fault = reference_fault(worst, reference)
        if fault is not None:
            raise InputError(fault)
    toward = {
        "low side": [0.0, 0.0, -1.0],
        "high side": [0.0, 0.0, 1.0],
        "north": [sindg(north_deg), cosdg(north_deg), 0.0],
    }[reference]
    # The reference line is the part of down, up or north that is square to the hole.
    square = toward - (lines @ toward)[:, np.newaxis] * lines
    return square / np.linalg.norm(square, axis=1, keepdims=True)


def references_of(
    table_references: NDArray[np.object_],
    holes: NDArray[np.object_],
    by_hole: dict[str, str | None],
    default: str | None,
) -> NDArray[np.object_]:
    """Where the reference line of each row lies: its own, else its hole's, else the site's.

    `table_references, holes` (n,). Empty where it is not known.
    """
    result = np.full(len(holes), default or "", dtype=object)
    for name, reference in by_hole.items():
        if reference:
            result[holes == name] = reference
    given = table_references != ""
    result[given] = table_references[given]
    return result


def poles_in_hole(alpha_deg: Array, beta_deg: Array, directions: Array, references: Array) -> Array:
    """Poles of planes read in the frame of a hole; see the head of this module.

    `alpha_deg, beta_deg` (n,); `directions, references` (n, 3). Gives (n, 3): poles on the lower
    hemisphere.
    """
    alpha, beta = alpha_deg[:, np.newaxis], beta_deg[:, np.newaxis]
    # β counts from the reference, clockwise looking down: reference, then direction × reference.
    across = np.cross(directions, references)
    lowest = cosdg(beta) * references + sindg(beta) * across
    return lower_hemisphere(sindg(alpha) * directions - cosdg(alpha) * lowest)
