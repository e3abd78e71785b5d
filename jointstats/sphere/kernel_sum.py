"""Sums of an axial Fisher kernel over many poles, to a stated tolerance, fast.

Few poles: every pair. Many: the poles are first gathered on a net of nodes, each pole shared out
among the 8 × 8 nodes about it by polynomials (Lagrange), and pairs too far apart to matter are
left out. The net depends on the width of the kernel alone, so its cost stops growing with the
number of poles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import null_space
from scipy.optimize import minimize
from scipy.spatial import cKDTree

from jointstats.sphere.axial_fisher import log_sinh_ratio
from jointstats.types import Array

#: Error of the sums of many poles, relative to the value of the kernel at its centre.
TOLERANCE = 1.0e-5
_PAIRS_AT_ONCE = 200_000
_STENCIL = 8
#: Spacing of the net in standard deviations of the kernel, for the tolerance above.
_SPACING = 0.35
#: Below this concentration every pair matters, and the far ends of the axes too.
_WIDE = 40.0
_FEW = 1000


@dataclass(frozen=True, eq=False)
class KernelSum:
    """Weighted sum of axial Fisher kernels, in multiples of a uniform density.

    `rows` (m, 3): unit centres, poles or nodes; `masses` (m,): their shares; `kappa`:
    concentration of the kernel.
    """

    rows: Array
    masses: Array
    kappa: float
    truncated: bool

    @property
    def height(self) -> float:
        """Value of a kernel of mass one at its centre: κ coth κ."""
        return float(np.exp(np.log1p(np.exp(-2 * self.kappa)) - self._scale))

    @property
    def _scale(self) -> float:
        return float(np.log(2.0) + log_sinh_ratio(self.kappa))

    def at(self, points: Array) -> Array:
        """Evaluate the sum.

        `points` (m, 3): unit rows, either end. Gives (m,): density in multiples of a uniform one,
        not below zero.
        """
        if self.truncated:
            return np.clip(self._near_pairs(points), 0.0, None)
        step = max(1, _PAIRS_AT_ONCE // max(1, len(self.rows)))
        parts = [
            self._kernel(np.abs(points[at : at + step] @ self.rows.T)) @ self.masses
            for at in range(0, len(points), step)
        ]
        return np.concatenate(parts) if parts else np.zeros(0)

    def uphill(self, axis: Array) -> Array:
        """Climb to the top of the hill.

        `axis` (3,): unit vector to start from. Gives (3,): a local maximum.
        """
        # Steps in standard deviations of the kernel, so that the first does not leave the hill.
        basis = null_space(axis[np.newaxis]).T / np.sqrt(max(self.kappa, 1.0))

        def loss(step: Array) -> tuple[float, Array]:
            point = axis + step @ basis
            length = float(np.linalg.norm(point))
            point = point / length
            along = self.rows @ point
            pull = self.masses * np.exp(self.kappa * (np.abs(along) - 1.0))
            total = float(pull.sum())
            rise = self.kappa * ((pull * np.sign(along)) @ self.rows) / total
            # Only what lies across the axis turns it.
            return -float(np.log(total)), -basis @ (rise - (rise @ point) * point) / length

        found = minimize(loss, np.zeros(2), jac=True, method="BFGS", options={"gtol": 1e-8})
        top = axis + found.x @ basis
        return np.asarray(top / np.linalg.norm(top))

    def _kernel(self, along: Array) -> Array:
        k = self.kappa
        values = np.exp(k * (along - 1.0) - self._scale)
        # The far end of the axis adds e^(−2κc), which matters for wide kernels only.
        return values * (1.0 + np.exp(-2.0 * k * along)) if k < _WIDE else values

    def _near_pairs(self, points: Array) -> Array:
        # Beyond this chord the kernel is below the tolerance: κ (1 − cos) = κ chord² / 2.
        reach = np.sqrt(min(2.0, -2.0 * np.log(TOLERANCE) / self.kappa))
        tree = cKDTree(np.vstack([self.rows, -self.rows]))
        masses = np.concatenate([self.masses, self.masses])
        k, scale = self.kappa, self._scale
        total = np.zeros(len(points))
        for at in range(0, len(points), 2000):
            part = cKDTree(points[at : at + 2000])
            near = part.sparse_distance_matrix(tree, reach, output_type="ndarray")
            value = np.exp(-0.5 * k * near["v"] ** 2 - scale) * masses[near["j"]]
            total[at : at + 2000] = np.bincount(near["i"], value, minlength=part.n)
        return total


def kernel_sum(rows: Array, weights: Array, kappa: float) -> KernelSum:
    """Prepare the sum of kernels over poles.

    `rows` (n, 3): unit rows; `weights` (n,): weights above zero; `kappa`: concentration of the
    kernel, zero or more. It is exact for few poles, or a wide kernel; else to `TOLERANCE` of the
    height of the kernel.
    """
    masses = weights / weights.sum()
    spacing = _SPACING / np.sqrt(max(kappa, 1.0))
    # Gathering pays once the poles outnumber the nodes of three faces of a cube.
    if len(rows) > max(_FEW, 3 * (np.pi / 2 / spacing) ** 2):
        rows, masses = gather(rows, masses, spacing)
    return KernelSum(rows, masses, float(kappa), len(rows) > _FEW and kappa >= _WIDE)


def gather(rows: Array, masses: Array, spacing: float) -> tuple[Array, Array]:
    """Share poles out among the nodes of a net so that smooth sums over them stay the same.

    `rows` (n, 3): unit rows; `masses` (n,): what each carries; `spacing`: spacing of the net,
    radians. Gives `nodes` (m, 3): unit rows; those that carry something; `shares` (m,): what they
    carry; the sum is that of `masses`.
    """
    face = np.abs(rows).argmax(axis=1)
    order = (face[:, np.newaxis] + np.arange(3)) % 3
    turned = np.take_along_axis(rows, order, axis=1)
    # Equal angles on the faces of a cube; an axis has an end on one of three faces.
    u = np.arctan(turned[:, 1] / turned[:, 0]) / spacing
    v = np.arctan(turned[:, 2] / turned[:, 0]) / spacing
    half = int(np.pi / 4 / spacing) + _STENCIL
    width = 2 * half + 1
    net = np.zeros(3 * width * width)
    (u_first, u_parts), (v_first, v_parts) = _lagrange(u), _lagrange(v)
    base = (face * width + u_first + half) * width + v_first + half
    for i in range(_STENCIL):
        for j in range(_STENCIL):
            mass = masses * u_parts[i] * v_parts[j]
            net += np.bincount(base + i * width + j, mass, minlength=len(net))
    used = np.flatnonzero(net)
    face, rest = np.divmod(used, width * width)
    across = np.tan((np.array(np.divmod(rest, width)) - half) * spacing)
    nodes = np.column_stack([np.ones(len(used)), across[0], across[1]])
    nodes /= np.linalg.norm(nodes, axis=1)[:, np.newaxis]
    back = (np.arange(3) - face[:, np.newaxis]) % 3
    return np.take_along_axis(nodes, back, axis=1), net[used]


def _lagrange(position: Array) -> tuple[NDArray[np.int64], Array]:
    """First node and weights of the polynomial through the nodes about each position."""
    first = np.floor(position).astype(np.int64) - (_STENCIL // 2 - 1)
    offset = position - first
    parts = np.ones((_STENCIL, len(position)))
    for i in range(_STENCIL):
        for j in range(_STENCIL):
            if i != j:
                parts[i] *= (offset - j) / (i - j)
    return first, parts
