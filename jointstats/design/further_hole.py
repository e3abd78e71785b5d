"""The direction in which a further hole would teach most about the set known worst.

The fractures of an investigation are a Poisson process on the sphere with rate ρ(n) E(n), where
ρ = Σ λ_k f_k is the rock's own density and E the exposure. Its expected information about the
parameters θ (the coordinates of `sphere.set_chart` and log λ of every set, log of the background) is

    I = ∫ ∇ρ ∇ρᵀ / ρ · E(n) dn,

linear in E; so a further hole adds its own, and the expected error of each log λ after drilling is
read from the inverse of the sum. Overlap of sets, unknown means and concentrations are all in it.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import ndtri

from jointstats.borehole.exposure import LineExposure
from jointstats.checks import check_confidence, check_number
from jointstats.design.estimates import centre_of
from jointstats.errors import InputError
from jointstats.fit.rock import Rock
from jointstats.fit.rocks import HasRocks, Rocks
from jointstats.fit.shaped import PER_SET, score_rows
from jointstats.results import Result
from jointstats.sphere.angles import trend_from_lines
from jointstats.sphere.axes import as_axes, hemisphere_grid
from jointstats.sphere.set_density import SetDensity
from jointstats.types import Array, ArrayLike

_SET_NODES, _BACKGROUND_NODES = 2000, 1500
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
    >>> import jointstats as js
    >>> steep = Rock.of_round(js.poles_from_dip(88, 90), [60.0], [1.0])
    >>> found = js.design.next_hole(steep, js.LineExposure([[0, 0, -1]], [50.0]), 50.0)
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


def _nodes(density: SetDensity) -> Array:
    """Poles that stand for equal shares of a set: by chance, from a fixed seed."""
    return density.sample(_SET_NODES, 0)


def _slopes(rock: Rock, poles: Array) -> tuple[Array, Array]:
    """Rock's density ρ at poles, shape (m,), and its slopes by the coordinates, (m, 6 K + 1)."""
    rates = np.exp(rock.log_rates(poles))
    slopes = np.empty((len(poles), PER_SET * len(rock.sets) + 1))
    for k, density in enumerate(rock.densities):
        own = slice(PER_SET * k, PER_SET * (k + 1) - 1)
        slopes[:, own] = rates[:, k : k + 1] * score_rows(density, poles)
        slopes[:, own.stop] = rates[:, k]
    slopes[:, -1] = rates[:, -1]
    return rates.sum(axis=1), slopes


class _Sphere:
    """Quadrature of the information: nodes, their weights, and the scaled slopes at them."""

    def __init__(self, rock: Rock) -> None:
        poles = [_nodes(one) for one in rock.densities]
        weights = [np.full(_SET_NODES, p32 / _SET_NODES) for p32 in rock.intensities]
        if rock.background_per_m > 0:
            poles.append(hemisphere_grid(_BACKGROUND_NODES))
            weights.append(np.full(_BACKGROUND_NODES, rock.background_per_m / _BACKGROUND_NODES))
        self.poles = np.vstack(poles)
        density, slopes = _slopes(rock, self.poles)
        # ∫ h ρ dn = Σ_k λ_k (mean of h over set k), so each node carries λ_k times its share.
        self.scaled = slopes / density[:, np.newaxis] * np.sqrt(np.concatenate(weights))[:, None]

    def information(self, exposure_at_nodes: Array) -> Array:
        """Expected information of an exposure."""
        return (self.scaled * exposure_at_nodes[:, np.newaxis]).T @ self.scaled


def _errors(information: Array, n_sets: int) -> Array:
    floor = _PRIOR_INFORMATION * np.eye(len(information))
    return np.sqrt(np.diag(np.linalg.inv(information + floor))[PER_SET - 1 : PER_SET * n_sets : PER_SET])


def _checked(rock: Rock | HasRocks | Rocks) -> Rock:
    rock = centre_of(rock)
    if not rock.sets:
        raise InputError("the rock has no set, so there is nothing to learn more about")
    for k, (density, p32) in enumerate(rock.sets):
        if not (density.concentration > 0 and p32 > 0):
            raise InputError(
                f"set {k} must have a concentration and p32_per_m above zero; got "
                f"{density.concentration} and {p32}"
            )
    return rock


def expected_errors(rock: Rock | HasRocks | Rocks, exposure: LineExposure) -> Array:
    """Standard error of each set's log P32 that an investigation should leave.

    Parameters
    ----------
    rock : Rock, SiteAnalysis or Rocks
        K sets and a background.
    exposure : LineExposure
        Of the holes drilled, or planned.

    Returns
    -------
    ndarray, shape (K,)
        0.1 is about 10 %. For one set alone whose mean and κ hardly matter: 1 / √(fractures met).

    Raises
    ------
    InputError
        If there is no set, or a concentration or P32 is not above zero.

    Examples
    --------
    A hundred fractures met square on leave a tenth:

    >>> level = Rock.of_round([[0, 0, -1]], [500.0], [2.0])
    >>> expected_errors(level, LineExposure([[0, 0, -1]], [50.0])).round(2)
    array([0.1])
    """
    rock = _checked(rock)
    sphere = _Sphere(rock)
    return _errors(sphere.information(exposure.at(sphere.poles)), len(rock.sets))


def next_hole(
    rock: Rock | HasRocks | Rocks,
    exposure: LineExposure,
    length_m: float,
    *,
    directions: ArrayLike | None = None,
    set_index: int | None = None,
    confidence: float = 0.95,
) -> NextHole:
    """Direction in which a further hole would narrow the P32 of the worst-known set most.

    Parameters
    ----------
    rock : Rock, SiteAnalysis or Rocks
        K sets and a background, as known now.
    exposure : LineExposure
        Of the holes drilled so far; its blind angle is used for the further hole.
    length_m : float
        Length of the further hole, metres.
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

    >>> import jointstats as js
    >>> level_and_steep = Rock.of_round(js.poles_from_dip([5, 88], [0, 90]), [60, 60], [1, 1])
    >>> found = next_hole(level_and_steep, js.LineExposure([[0, 0, -1]], [50.0]), 30.0)
    >>> found.set_index, found.plunge_deg < 25, min(abs(found.trend_deg - e) for e in (90, 270)) < 25
    (1, True, True)
    """
    rock = _checked(rock)
    length = check_number(length_m, "length_m", low=0, open_end=True)
    z = float(ndtri(0.5 * (1.0 + check_confidence(confidence))))
    offered = hemisphere_grid(400) if directions is None else as_axes(directions, "directions")
    if len(offered) == 0:
        raise InputError("directions has no row; offer at least one direction")
    sphere = _Sphere(rock)
    now = sphere.information(exposure.at(sphere.poles))
    errors = _errors(now, len(rock.sets))
    chosen = int(np.argmax(errors)) if set_index is None else set_index
    if not 0 <= chosen < len(rock.sets):
        raise InputError(f"set_index must lie between 0 and {len(rock.sets) - 1}; got {set_index}")
    blind = exposure.blind_angle_deg
    widths = np.empty(len(offered))
    for i, line in enumerate(offered):
        further = LineExposure([line], [length], blind_angle_deg=blind)
        more = sphere.information(further.at(sphere.poles))
        widths[i] = z * _errors(now + more, len(rock.sets))[chosen]
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
