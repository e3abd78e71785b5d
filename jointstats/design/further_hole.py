"""The direction in which a further hole would teach most about the set known worst.

The fractures of an investigation are a Poisson process on the sphere with rate ρ(n) E(n), where
ρ = Σ λ_k f_k is the rock's own density and E the exposure. Its expected information about the
parameters θ (two tangents, log κ and log λ of every set, log of the background) is

    I = ∫ ∇ρ ∇ρᵀ / ρ · E(n) dn,

linear in E; so a further hole adds its own, and the expected error of each log λ after drilling is
read from the inverse of the sum. Overlap of sets, unknown means and concentrations are all in it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.polynomial.legendre import leggauss
from scipy.special import ndtri

from jointstats.borehole.exposure import LineExposure
from jointstats.checks import check_confidence, check_number
from jointstats.design.frequency import SetLike
from jointstats.errors import InputError
from jointstats.results import Result
from jointstats.sphere.angles import trend_from_lines
from jointstats.sphere.axes import as_axes, frame_about, hemisphere_grid
from jointstats.sphere.axial_fisher import AxialFisher, log_density
from jointstats.types import Array, ArrayLike

_RINGS, _SPOKES, _BACKGROUND_NODES = 24, 24, 1500
#: A direction that nothing settles gets an error of one in its logarithm (a factor of e) or radian.
_PRIOR_INFORMATION = 1.0


class NextHole(Result):
    """Where to drill next, for the set whose P32 is known worst.

    Attributes
    ----------
    set_index : int
        Place of that set among those given.
    direction : ndarray, shape (3,)
        Best direction, lower hemisphere unless only others were offered.
    trend_deg, plunge_deg : float
    length_m : float
        Length of the further hole.
    half_width_now, half_width_after : float
        Expected half-width of the interval of log P32 now and with the further hole: 0.2 means a
        factor of e^0.2, about ± 20 %.
    half_width_at_random : float
        The same, averaged over the directions offered.
    directions : ndarray, shape (m, 3)
        Directions offered.
    half_widths : ndarray, shape (m,)
        Half-width after a hole along each.
    errors_now : ndarray, shape (K,)
        Expected standard error of each set's log P32 now.
    confidence : float

    Examples
    --------
    >>> from types import SimpleNamespace as Set
    >>> import jointstats as js
    >>> steep = Set(mean=js.poles_from_dip(88, 90)[0], kappa=60.0, p32_per_m=1.0)
    >>> found = js.design.next_hole([steep], js.LineExposure([[0, 0, -1]], [50.0]), 50.0)
    >>> found.half_width_after < 0.7 * found.half_width_now
    True
    """

    _SHORT = "set {set_index}: trend {trend_deg:.0f}°, plunge {plunge_deg:.0f}°"
    _COLUMNS = ("set_index", "trend_deg", "plunge_deg", "length_m", "half_width_after")

    set_index: int
    direction: Array
    length_m: float
    half_width_now: float
    half_width_after: float
    half_width_at_random: float
    directions: Array
    half_widths: Array
    errors_now: Array
    confidence: float = 0.95

    @property
    def trend_deg(self) -> float:
        """Trend of the best direction, degrees."""
        return float(trend_from_lines(self.direction)[0][0])

    @property
    def plunge_deg(self) -> float:
        """Plunge of the best direction, degrees."""
        return float(trend_from_lines(self.direction)[1][0])

    def to_frame(self) -> pd.DataFrame:
        """One row a direction offered, the best first."""
        trend, plunge = trend_from_lines(self.directions)
        table = pd.DataFrame(
            {"trend_deg": trend, "plunge_deg": plunge, "half_width_after": self.half_widths}
        )
        return table.sort_values("half_width_after", kind="stable", ignore_index=True)


def _nodes(one: SetLike) -> Array:
    """Poles that stand for equal shares of a set: rings by share, spokes by angle."""
    share = 0.5 * (leggauss(_RINGS)[0] + 1.0)
    angle = np.radians(AxialFisher(one.mean, one.kappa).ppf(share))[:, np.newaxis]
    spoke = 2 * np.pi * (np.arange(_SPOKES) + 0.5) / _SPOKES
    frame = frame_about(one.mean)
    around = np.cos(spoke)[:, np.newaxis] * frame[0] + np.sin(spoke)[:, np.newaxis] * frame[1]
    poles = np.sin(angle)[..., np.newaxis] * around + np.cos(angle)[..., np.newaxis] * frame[2]
    return poles.reshape(-1, 3)


def _slopes(sets: Sequence[SetLike], background: float, poles: Array) -> tuple[Array, Array]:
    """Rock's density ρ at poles, shape (m,), and its slopes by the parameters, (m, 4 K + 1)."""
    density = np.empty((len(poles), len(sets) + 1))
    slopes = np.empty((len(poles), 4 * len(sets) + 1))
    for k, one in enumerate(sets):
        kappa = float(one.kappa)
        mean = as_axes(one.mean, "mean")[0]
        own = one.p32_per_m * np.exp(log_density(poles, mean, kappa))
        along = poles @ mean
        # d log f = κ tanh(κ μ·n) dμ·n + (μ·n tanh(κ μ·n) − coth κ + 1/κ) dκ
        pull = np.tanh(kappa * along)
        across = poles @ frame_about(mean)[:2].T
        slopes[:, 4 * k : 4 * k + 2] = (own * kappa * pull)[:, np.newaxis] * across
        slopes[:, 4 * k + 2] = own * kappa * (along * pull - 1 / np.tanh(kappa) + 1 / kappa)
        slopes[:, 4 * k + 3] = density[:, k] = own
    slopes[:, -1] = density[:, -1] = background / (2 * np.pi)
    return density.sum(axis=1), slopes


class _Sphere:
    """Quadrature of the information: nodes, their weights, and the scaled slopes at them."""

    def __init__(self, sets: Sequence[SetLike], background: float) -> None:
        poles = [_nodes(one) for one in sets]
        ring_weights = np.repeat(0.5 * leggauss(_RINGS)[1], _SPOKES) / _SPOKES
        weights = [one.p32_per_m * ring_weights for one in sets]
        if background > 0:
            poles.append(hemisphere_grid(_BACKGROUND_NODES))
            weights.append(np.full(_BACKGROUND_NODES, background / _BACKGROUND_NODES))
        self.poles = np.vstack(poles)
        density, slopes = _slopes(sets, background, self.poles)
        # ∫ h ρ dn = Σ_k λ_k (mean of h over set k), so each node carries λ_k times its share.
        self.scaled = slopes / density[:, np.newaxis] * np.sqrt(np.concatenate(weights))[:, None]

    def information(self, exposure_at_nodes: Array) -> Array:
        """Expected information of an exposure."""
        return (self.scaled * exposure_at_nodes[:, np.newaxis]).T @ self.scaled


def _errors(information: Array, n_sets: int) -> Array:
    floor = _PRIOR_INFORMATION * np.eye(len(information))
    return np.sqrt(np.diag(np.linalg.inv(information + floor))[3 : 4 * n_sets : 4])


def _checked_sets(sets: Sequence[SetLike]) -> None:
    if not sets:
        raise InputError("sets is empty, so there is nothing to learn more about")
    for k, one in enumerate(sets):
        if not (np.isfinite(one.kappa) and one.kappa > 0 and one.p32_per_m > 0):
            raise InputError(
                f"set {k} must have kappa and p32_per_m above zero; got {one.kappa} and "
                f"{one.p32_per_m}"
            )


def expected_errors(
    sets: Sequence[SetLike], exposure: LineExposure, *, background_per_m: float = 0.0
) -> Array:
    """Standard error of each set's log P32 that an investigation should leave.

    Parameters
    ----------
    sets : sequence of K objects with ``mean`` (3,), ``kappa`` and ``p32_per_m``
        Joint sets of the rock.
    exposure : LineExposure
        Of the holes drilled, or planned.
    background_per_m : float
        P32 of fractures of any orientation, 1/m.

    Returns
    -------
    ndarray, shape (K,)
        0.1 is about 10 %. For one set alone whose mean and κ hardly matter: 1 / √(fractures met).

    Raises
    ------
    InputError
        If there is no set, or κ or P32 is not above zero.

    Examples
    --------
    A hundred fractures met square on leave a tenth:

    >>> from types import SimpleNamespace as Set
    >>> level = Set(mean=[0, 0, -1], kappa=500.0, p32_per_m=2.0)
    >>> expected_errors([level], LineExposure([[0, 0, -1]], [50.0])).round(2)
    array([0.1])
    """
    _checked_sets(sets)
    sphere = _Sphere(sets, check_number(background_per_m, "background_per_m", low=0))
    return _errors(sphere.information(exposure.at(sphere.poles)), len(sets))


def next_hole(
    sets: Sequence[SetLike],
    exposure: LineExposure,
    length_m: float,
    *,
    background_per_m: float = 0.0,
    directions: ArrayLike | None = None,
    set_index: int | None = None,
    confidence: float = 0.95,
) -> NextHole:
    """Direction in which a further hole would narrow the P32 of the worst-known set most.

    Parameters
    ----------
    sets : sequence of K objects with ``mean`` (3,), ``kappa`` and ``p32_per_m``
        Joint sets as known now.
    exposure : LineExposure
        Of the holes drilled so far; its blind angle is used for the further hole.
    length_m : float
        Length of the further hole, metres.
    background_per_m : float
        P32 of fractures of any orientation, 1/m.
    directions : array_like, shape (m, 3), or None
        Directions that could be drilled; None offers 400 over the lower hemisphere.
    set_index : int or None
        The set to learn about; None takes the one of largest expected error.
    confidence : float
        Level of the intervals whose half-widths are given.

    Returns
    -------
    NextHole

    Raises
    ------
    InputError
        If there is no set, or an argument is out of range.

    Notes
    -----
    Rests on the sets as known now: a set that no hole has met is not in the list, and a hole along
    the best direction may not be the one that would find it.

    Examples
    --------
    A vertical hole has hardly met a steep set that dips east; drill across it:

    >>> from types import SimpleNamespace as Set
    >>> import jointstats as js
    >>> steep = Set(mean=js.poles_from_dip(88, 90)[0], kappa=60.0, p32_per_m=1.0)
    >>> level = Set(mean=js.poles_from_dip(5, 0)[0], kappa=60.0, p32_per_m=1.0)
    >>> found = next_hole([level, steep], js.LineExposure([[0, 0, -1]], [50.0]), 30.0)
    >>> found.set_index, found.plunge_deg < 25, min(abs(found.trend_deg - e) for e in (90, 270)) < 25
    (1, True, True)
    """
    _checked_sets(sets)
    length = check_number(length_m, "length_m", low=0, open_end=True)
    z = float(ndtri(0.5 * (1.0 + check_confidence(confidence))))
    offered = hemisphere_grid(400) if directions is None else as_axes(directions, "directions")
    if len(offered) == 0:
        raise InputError("directions has no row; offer at least one direction")
    sphere = _Sphere(sets, check_number(background_per_m, "background_per_m", low=0))
    now = sphere.information(exposure.at(sphere.poles))
    errors = _errors(now, len(sets))
    chosen = int(np.argmax(errors)) if set_index is None else set_index
    if not 0 <= chosen < len(sets):
        raise InputError(f"set_index must lie between 0 and {len(sets) - 1}; got {set_index}")
    blind = exposure.blind_angle_deg
    widths = np.empty(len(offered))
    for i, line in enumerate(offered):
        further = LineExposure([line], [length], blind_angle_deg=blind)
        more = sphere.information(further.at(sphere.poles))
        widths[i] = z * _errors(now + more, len(sets))[chosen]
    best = int(np.argmin(widths))
    return NextHole(
        chosen,
        offered[best],
        length,
        z * float(errors[chosen]),
        float(widths[best]),
        float(widths.mean()),
        offered,
        widths,
        errors,
        confidence,
    )
