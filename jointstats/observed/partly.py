"""Fractures known in part: the planes that what was read of them leaves open."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.exposure import LineExposure
from jointstats.sphere.axes import frames_about
from jointstats.types import Array

#: Places on the circle of a fracture known by its angle to the hole: 5° apart, so that the mean of a
#: Fisher density over them is right within 1 % up to κ 400, and over a few fractures beyond.
PLACES = 72


class PartlyOriented(NamedTuple):
    """Fractures known in part, with the places that their poles may have."""

    number: NDArray[np.intp]  # (P,) rows of the table of fractures
    poles: Array  # (M, 3), those of one fracture after another
    part_of: NDArray[np.intp]  # (M,) number of the fracture of each place
    exposure: LineExposure  # of fractures oriented, or known in part
    scatter: float | None  # variance a tangent direction of what was read, radians²


def circles(angle_deg: Array, directions: Array) -> tuple[Array, NDArray[np.intp]]:
    """Poles of planes at an angle (P,) to lines (P, 3), evenly round the line, and whose each is.

    The first place of each fracture is moved on from that of the one before, so that the places of
    several fractures fall between one another.
    """
    number = len(angle_deg)
    step = 2.0 * np.pi / PLACES
    # The golden section spreads the starts evenly.
    start = (np.arange(number) * 0.6180339887 % 1.0)[:, np.newaxis]
    turn = step * (start + np.arange(PLACES))
    sine, cosine = (f(np.radians(angle_deg))[:, np.newaxis, np.newaxis] for f in (np.sin, np.cos))
    frames = frames_about(directions)
    across = np.cos(turn)[..., np.newaxis] * frames[:, np.newaxis, 0]
    across = across + np.sin(turn)[..., np.newaxis] * frames[:, np.newaxis, 1]
    poles = sine * directions[:, np.newaxis] + cosine * across
    return poles.reshape(-1, 3), np.repeat(np.arange(number), PLACES)
