"""Discs thrown into a block of rock, and the cylinder that meets some of them: brute force."""

from __future__ import annotations

import numpy as np

from jointstats.types import Array

_TURNS = 240


def discs_met(
    poles: Array, radii: Array, hole_radius: float, random: np.random.Generator
) -> tuple[Array, Array, Array]:
    """Which discs with centres at random about a vertical hole meet its wall, and which whole.

    Centres fall evenly into a square about the hole that no disc outside of can reach it from; gives
    met (n,), whole (n,) and the area of the square (n,). A plane cuts the wall in an ellipse; a disc
    meets the wall where some point of that lies within it, and whole where all do. Discs that lie
    within the hole and touch no wall are met too, as a core would show them.
    """
    reach = radii + hole_radius
    centre = random.uniform(-1.0, 1.0, (len(poles), 2)) * reach[:, np.newaxis]
    turn = np.arange(_TURNS) * (2.0 * np.pi / _TURNS)
    met, whole = np.zeros(len(poles), bool), np.zeros(len(poles), bool)
    for part in np.array_split(np.arange(len(poles)), max(1, len(poles) // 20_000)):
        n, c, r = poles[part], centre[part], radii[part, np.newaxis]
        x = hole_radius * np.cos(turn) - c[:, :1]
        y = hole_radius * np.sin(turn) - c[:, 1:]
        z = -(n[:, :1] * x + n[:, 1:2] * y) / n[:, 2:3]
        inside = x**2 + y**2 + z**2 <= r**2
        # A disc smaller than the hole may lie across its axis without a point of the wall in it.
        at_axis = (c**2).sum(1) <= hole_radius**2
        met[part] = inside.any(axis=1) | at_axis
        whole[part] = inside.all(axis=1)
    return met, whole, 4.0 * reach**2
