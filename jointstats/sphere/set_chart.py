"""Five coordinates of a set density about a base, for fits and draws that move it.

Two turn p, one is the log of the concentration, and two are the ellipticity (η₁, η₂) =
h (cos 2ψ, sin 2ψ): q lies ψ away from the base's, and e / concentration = limit · h / √(1 + h²).
So a set without ellipticity is an ordinary inner point.
"""

from __future__ import annotations

import numpy as np

from jointstats.sphere.set_density import SetDensity
from jointstats.types import Array

__all__ = ["COORDINATES", "SetChart", "turned_frames"]


#: Turn toward q, turn toward r, log concentration, ellipticity (2).
COORDINATES = 5
_SMALL = 1e-4  # radians: below it the series of a turn is exact
_INNER = 0.999  # of the limit: a base at the limit itself would have no coordinates


class SetChart:
    """Coordinates about a base density; `bounds` are the smallest and largest concentration."""

    def __init__(self, base: SetDensity, bounds: tuple[float, float]) -> None:
        self.base, self.bounds = base, bounds
        most = base.limit * base.concentration
        share = min(base.ellipticity / most, _INNER) if most > 0 else 0.0
        self.start = share / np.sqrt(1.0 - share**2)

    def moved(self, steps: Array) -> tuple[Array, Array, Array]:
        """Frames (D, 3, 3), concentrations and ellipticities (D,) at steps (D, 5)."""
        frames = turned_frames(self.base.frame, steps)[0]
        # Beyond 700 the exponential is past every bound.
        c = np.clip(self.base.concentration * np.exp(np.minimum(steps[:, 2], 700.0)), *self.bounds)
        if not self.base.limit:
            return frames, c, np.zeros(len(steps))
        eta = steps[:, 3:] + np.array([self.start, 0.0])
        size = np.hypot(eta[:, 0], eta[:, 1])
        half = 0.5 * np.arctan2(eta[:, 1], eta[:, 0])
        cosine, sine = np.cos(half)[:, np.newaxis], np.sin(half)[:, np.newaxis]
        q, r = frames[:, 1].copy(), frames[:, 2].copy()
        frames[:, 1], frames[:, 2] = cosine * q + sine * r, cosine * r - sine * q
        return frames, c, self.base.limit * c * size / np.sqrt(1.0 + size**2)

    def at(self, step: Array) -> SetDensity:
        """The density at one step, shape (5,)."""
        frames, c, e = self.moved(step[np.newaxis])
        return type(self.base)(frames[0], float(c[0]), float(e[0]))

    def slope(self, step: Array, at: SetDensity, by_vector: Array, by_matrix: Array) -> Array:
        """Slopes by the coordinates of what has these slopes by the natural vector and matrix."""
        base, out = self.base.frame, np.zeros(COORDINATES)
        carried, jacobian = (one[0] for one in turned_frames(self.base.frame, step[np.newaxis]))
        vector, matrix = at.natural()
        # A small turn ε moves v by ε × v, and the matrix B by [ε]B − B[ε].
        lever = matrix @ by_matrix
        twist = np.array(
            [lever[1, 2] - lever[2, 1], lever[2, 0] - lever[0, 2], lever[0, 1] - lever[1, 0]]
        )
        torque = jacobian.T @ (np.cross(vector, by_vector) + 2.0 * twist)
        out[0], out[1] = torque @ base[2], -(torque @ base[1])
        inside = self.bounds[0] < at.concentration < self.bounds[1]
        out[2] = inside * (by_vector @ vector + (by_matrix * matrix).sum())
        if self.base.limit:
            eta = step[3:] + np.array([self.start, 0.0])
            _, q, r = carried
            lean = np.array([q @ by_matrix @ q - r @ by_matrix @ r, 2.0 * (q @ by_matrix @ r)])
            squared = 1.0 + float(eta @ eta)
            across = (lean - eta * (lean @ eta) / squared) / np.sqrt(squared)
            out[3:] = self.base.limit * at.concentration * across
        return out


def turned_frames(frames: Array, steps: Array) -> tuple[Array, Array]:
    """Frames (D, 3, 3) or (3, 3) turned by steps (D, 2 or more) of p toward q and toward r, and the
    left Jacobian of each turn."""
    q, r = frames[..., 1, :], frames[..., 2, :]
    turns = steps[:, :1] * r - steps[:, 1:2] * q
    angle = np.linalg.norm(turns, axis=1)[:, np.newaxis, np.newaxis]
    cross = np.zeros((len(steps), 3, 3))
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        cross[:, i, j], cross[:, j, i] = -turns[:, k], turns[:, k]
    square, tiny = cross @ cross, angle < _SMALL
    over = np.where(tiny, 1.0, angle)
    sine = np.where(tiny, 1.0, np.sin(over) / over)
    drop = np.where(tiny, 0.5, (1.0 - np.cos(over)) / over**2)
    rest = np.where(tiny, 1.0 / 6.0, (1.0 - np.sin(over) / over) / over**2)
    turn = np.eye(3) + sine * cross + drop * square
    return frames @ turn.transpose(0, 2, 1), np.eye(3) + drop * cross + rest * square
