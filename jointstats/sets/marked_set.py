"""A set marked by eye as a cone of poles, with statistics that know the cone cut its tails.

Fractures outside the cone are not looked at, so the likelihood inside it is that of a Poisson
process of rate  E(n) (λ f(n) + b u(n))  over the cone only:

    ℓ = Σ log(λ f + b u) − ∫_cone E (λ f + b u) dn.

Taking the plain mean resultant of the poles in the cone instead makes every set look tighter than
it is, the more so the narrower the cone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize

from jointstats.errors import InputError
from jointstats.fit.certainty import Certainty, covariance_of
from jointstats.fit.information import tangent_frames, turned
from jointstats.fit.likelihood import Exposure, RoundSets, component_log_densities
from jointstats.fit.shaped import PER_SET
from jointstats.sphere.angles import dip_from_poles
from jointstats.sphere.axes import align_axes, as_axes, frame_about, lower_hemisphere
from jointstats.types import Array

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ConeSet", "cone_set"]

Interval = tuple[float, float]

_NODES = 4000
_FEWEST = 5
_KAPPA_BOUNDS = (0.5, 2000.0)
_STEP = 1e-3


@dataclass(frozen=True, eq=False)
class ConeSet:
    """Statistics of the poles in a cone, as of a set whose tails the cone cut off.

    Attributes
    ----------
    n : int
        Poles in the cone.
    mean : ndarray, shape (3,)
        Mean pole, lower hemisphere.
    cone_deg : float
        Half-angle of its confidence cone, degrees.
    kappa : float
    kappa_interval : (float, float)
    intensity : float
        P32 in 1/m with an exposure; else the number of poles that the whole set has.
    intensity_interval : (float, float)
    inside : float
        Share of the set's observable fractures that the cone holds.
    kappa_untruncated : float
        Concentration that the poles would have if the cone were taken for the whole set.
    confidence : float

    Examples
    --------
    >>> import jointstats as js
    >>> poles = js.sphere.AxialFisher([0, 0, 1], 30.0).rvs(400, random_state=1)
    >>> found = js.sets.cone_set(poles, [0, 0, 1], 12)
    >>> found.kappa_interval[0] < 30 < found.kappa_interval[1]
    True
    """

    n: int
    mean: Array
    cone_deg: float
    kappa: float
    kappa_interval: Interval
    intensity: float
    intensity_interval: Interval
    inside: float
    kappa_untruncated: float
    confidence: float

    @property
    def dip_deg(self) -> float:
        """Dip of the mean plane, degrees."""
        return float(dip_from_poles(self.mean)[0][0])

    @property
    def dip_direction_deg(self) -> float:
        """Dip direction of the mean plane, degrees."""
        return float(dip_from_poles(self.mean)[1][0])

    def to_frame(self) -> pd.DataFrame:
        """The figures as a frame of one row."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "dip_deg": self.dip_deg,
                    "dip_direction_deg": self.dip_direction_deg,
                    "cone_deg": self.cone_deg,
                    "kappa": self.kappa,
                    "kappa_low": self.kappa_interval[0],
                    "kappa_high": self.kappa_interval[1],
                    "intensity": self.intensity,
                    "intensity_low": self.intensity_interval[0],
                    "intensity_high": self.intensity_interval[1],
                    "n": self.n,
                    "inside": self.inside,
                }
            ]
        )


class _Truncated:
    """The likelihood inside the cone, by the parameters' change from a start."""

    def __init__(
        self, rows: Array, nodes: Array, weights: Array, exposure: Array, start: RoundSets
    ) -> None:
        self.rows, self.nodes, self.measure = rows, nodes, weights * exposure
        # Start at the intensity that expects as many poles as there are.
        unit = max(self.expected(start._replace(background=0.0)), _STEP)
        self.start = start._replace(intensities=np.array([len(rows) / unit]))
        self.frames = tangent_frames(start.means)

    def at(self, change: Array) -> RoundSets:
        moved = turned(self.start, self.frames, np.append(change, 0.0))
        return moved._replace(kappas=np.clip(moved.kappas, *_KAPPA_BOUNDS))

    def loss(self, change: Array) -> float:
        parameters = self.at(change)
        seen = np.logaddexp.reduce(component_log_densities(self.rows, parameters), axis=1)
        return self.expected(parameters) - float(seen.sum())

    def expected(self, parameters: RoundSets) -> float:
        logs = component_log_densities(self.nodes, parameters)
        return float(self.measure @ np.exp(np.logaddexp.reduce(logs, axis=1)))

    def curvature(self, change: Array) -> Array:
        steps = _STEP * np.eye(len(change))
        return np.array(
            [
                [
                    self.loss(change + a + b)
                    - self.loss(change + a - b)
                    - self.loss(change - a + b)
                    + self.loss(change - a - b)
                    for b in steps
                ]
                for a in steps
            ]
        ) / (4 * _STEP**2)


def cone_set(
    poles: ArrayLike,
    axis: ArrayLike,
    half_angle_deg: float,
    *,
    exposure: Exposure | None = None,
    background: float = 0.0,
    confidence: float = 0.95,
) -> ConeSet:
    """Statistics of a set marked as a cone about an axis.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        All poles; those outside the cone are not used.
    axis : array_like, shape (3,)
        Axis of the cone, either end.
    half_angle_deg : float
        Half-angle of the cone, degrees, above 0 up to 90.
    exposure : LineExposure or None
        How the holes sampled; poles it could not see are left out.
    background : float
        Intensity of fractures of no set: P32 in 1/m with an exposure, else their number over all
        orientations.
    confidence : float
        Level of the intervals.

    Returns
    -------
    ConeSet

    Raises
    ------
    InputError
        If an argument is out of range, or fewer than five poles lie in the cone.

    Examples
    --------
    >>> import jointstats as js
    >>> poles = js.sphere.AxialFisher([0, 0, 1], 30.0).rvs(400, random_state=1)
    >>> js.sets.cone_set(poles, [0, 0, 1], 12).kappa_untruncated > 60
    True
    """
    if not 0 < half_angle_deg <= 90:
        raise InputError(f"half_angle_deg must be above 0, up to 90; got {half_angle_deg}")
    if not (np.isfinite(background) and background >= 0):
        raise InputError(f"background must be finite and not negative; got {background}")
    centre = as_axes(axis, "axis")[0]
    edge = float(np.cos(np.radians(half_angle_deg)))
    rows = align_axes(poles, centre)
    rows = rows[rows @ centre >= edge]
    if exposure is not None:
        rows = rows[exposure.at(rows) > 0]
    if len(rows) < _FEWEST:
        raise InputError(
            f"at least {_FEWEST} poles must lie in the cone and above the blind angle; "
            f"got {len(rows)}"
        )
    nodes, weights = _cap(centre, edge)
    seen = np.ones(_NODES) if exposure is None else exposure.at(nodes)
    start, plain = _start(rows, background)
    problem = _Truncated(rows, nodes, weights, seen, start)
    change = minimize(problem.loss, np.zeros(4), method="BFGS").x
    return _as_set(problem, change, exposure, plain, confidence)


def _cap(centre: Array, edge: float) -> tuple[Array, Array]:
    """Nodes of equal area over a spherical cap, on a Fibonacci spiral."""
    i = np.arange(_NODES) + 0.5
    t, phi = 1.0 - (1.0 - edge) * i / _NODES, np.pi * (1.0 + 5**0.5) * i
    across = np.sqrt(1.0 - t * t)
    local = np.column_stack([across * np.cos(phi), across * np.sin(phi), t])
    return local @ frame_about(centre), np.full(_NODES, 2 * np.pi * (1.0 - edge) / _NODES)


def _start(rows: Array, background: float) -> tuple[RoundSets, float]:
    """The plain mean of the poles, and their concentration as if nothing had been cut."""
    total = rows.sum(axis=0)
    length = float(np.linalg.norm(total))
    plain = float((len(rows) - 1) / max(len(rows) - length, 1e-6 * len(rows)))
    kappa = float(np.clip(0.7 * plain, *_KAPPA_BOUNDS))
    start = RoundSets(total[np.newaxis] / length, np.array([kappa]), np.ones(1), background)
    return start, plain


def _as_set(
    problem: _Truncated,
    change: Array,
    exposure: Exposure | None,
    plain: float,
    confidence: float,
) -> ConeSet:
    parameters = problem.at(change)
    # Two turns, log κ and log λ are free; the background is given and has no variance.
    free = np.ix_([0, 1, 2, PER_SET - 1], [0, 1, 2, PER_SET - 1])
    covariance = np.zeros((PER_SET + 1, PER_SET + 1))
    covariance[free] = covariance_of(problem.curvature(change))
    sure = Certainty(covariance, confidence, parameters.rock())
    alone = parameters._replace(background=0.0)
    whole = parameters.intensities[0]
    if exposure is not None:
        whole *= exposure.of_sets(parameters.means, parameters.kappas)[0]
    return ConeSet(
        n=len(problem.rows),
        mean=lower_hemisphere(parameters.means)[0],
        cone_deg=sure.cone_deg(0),
        kappa=float(parameters.kappas[0]),
        kappa_interval=sure.kappa_interval(0),
        intensity=float(parameters.intensities[0]),
        intensity_interval=sure.intensity_interval(0),
        inside=min(1.0, problem.expected(alone) / float(whole)),
        kappa_untruncated=plain,
        confidence=confidence,
    )
