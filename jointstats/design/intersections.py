"""Lines along which the planes of two sets meet, and how they scatter."""

from __future__ import annotations

import numpy as np

from jointstats.borehole.fractures import Fractures
from jointstats.checks import as_generator, check_lengths
from jointstats.design.draws import DrawnSet, draw_set
from jointstats.errors import InputError
from jointstats.results import Result
from jointstats.sphere.angles import trend_from_lines
from jointstats.sphere.axes import as_axes, axis_angles_deg, lower_hemisphere
from jointstats.sphere.tensor import orientation_tensor
from jointstats.types import Array, ArrayLike, RandomState

#: Below this sine of the angle between two planes their line is rounding, not geometry.
_SMALLEST_SINE = 1e-9


class IntersectionLines(Result):
    """The line in which the mean planes of two sets meet, and the scatter of drawn ones.

    Attributes
    ----------
    sets : (str, str)
        Names of the two sets.
    trend_deg, plunge_deg : float
        The line of the two mean planes, degrees; plunge positive downward.
    planes_angle_deg : float
        Acute angle between the mean planes. Where it is small against the scatter of the sets, the
        line is poorly determined.
    half_angle_50_deg, half_angle_95_deg : float
        Half-angles of the cones about the line that hold 50 and 95 % of the drawn lines.
    principal_trend_deg, principal_plunge_deg : float
        First principal axis of the drawn lines.
    eigenvalues : ndarray, shape (3,)
        Of the orientation tensor of the drawn lines, falling, sum 1. Lines that spread along a
        great circle, rather than round about the mean, have the second far above the third.
    lines : ndarray, shape (n, 3)
        The drawn lines, lower hemisphere.
    uncertain : bool
        Whether the means and concentrations of the sets were drawn too.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> found = js.design.intersection_lines(*result.sets[:2], n=200, random_state=0)
    >>> found.sets, len(found.lines)
    (('J1', 'J2'), 200)
    """

    _SHORT = (
        "{set_a} x {set_b}: trend {trend_deg:.0f}°, plunge {plunge_deg:.0f}°, 95 % of {n} drawn "
        "lines within {half_angle_95_deg:.0f}°"
    )

    sets: tuple[str, str]
    trend_deg: float
    plunge_deg: float
    planes_angle_deg: float
    half_angle_50_deg: float
    half_angle_95_deg: float
    principal_trend_deg: float
    principal_plunge_deg: float
    eigenvalues: Array
    lines: Array
    uncertain: bool = False

    def _row(self) -> dict[str, object]:
        sets = {"set_a": self.sets[0], "set_b": self.sets[1], "n": len(self.lines)}
        return sets | super()._row()


def intersections_of_planes(poles_a: ArrayLike, poles_b: ArrayLike) -> Array:
    """Lines in which pairs of planes meet, row by row (one row is set against all of the other).

    Parameters
    ----------
    poles_a, poles_b : array_like, shape (n, 3) or (3,)
        Poles of the planes, either end.

    Returns
    -------
    ndarray, shape (n, 3)
        Unit vectors on the lower hemisphere: n_a × n_b, the line square to both poles.

    Raises
    ------
    InputError
        If the numbers of rows differ and neither is one, or two planes are parallel.

    Examples
    --------
    A plane that dips 45° north and a vertical plane that strikes north meet in 000/45:

    >>> from jointstats import poles_from_dip
    >>> line = intersections_of_planes(poles_from_dip(45, 0), poles_from_dip(90, 90))
    >>> [float(angle[0].round(6)) for angle in trend_from_lines(line)]
    [0.0, 45.0]
    """
    first, second = as_axes(poles_a, "poles_a"), as_axes(poles_b, "poles_b")
    check_lengths(first, second, "poles_a and poles_b")
    lines = np.cross(first, second)
    parallel = np.linalg.norm(lines, axis=1) < _SMALLEST_SINE
    if parallel.any():
        at = int(np.flatnonzero(parallel)[0])
        raise InputError(f"the planes of row {at} are parallel, so they meet in no line")
    return lower_hemisphere(lines)


def _mean_of(one: DrawnSet) -> Array:
    if one.density.mean is None:
        raise InputError(f"{one.name} is a girdle: it has no mean plane to meet another")
    return one.density.mean


def intersection_lines(
    set_a: DrawnSet,
    set_b: DrawnSet,
    n: int = 2000,
    random_state: RandomState = 0,
    *,
    uncertain: bool = False,
) -> IntersectionLines:
    """The line in which two sets meet, and its scatter by Monte Carlo.

    Parameters
    ----------
    set_a, set_b : JointSet
        Two sets.
    n : int
        Number of pairs of planes drawn, one or more.
    random_state : int, Generator or None
        Seed or source of random numbers.
    uncertain : bool
        Whether the means and concentrations are drawn from their intervals too, as in
        `JointSet.sample`.

    Returns
    -------
    IntersectionLines

    Raises
    ------
    InputError
        If a set is a girdle, which has no mean plane, the mean planes are parallel, or `n` is
        below one.

    Notes
    -----
    The planes of a pair are drawn independently of each other: any pair of fractures may meet.
    Whether real fractures reach each other depends on their size, which a hole does not show.

    Examples
    --------
    A set that dips 45° north and an upright set that strikes north, both tight:

    >>> from types import SimpleNamespace as Set
    >>> import jointstats as js
    >>> tight = js.sphere.RoundDensity.about
    >>> a = Set(name="A", density=tight(js.poles_from_dip(45, 0)[0], 1e6), p32_per_m=1.0)
    >>> b = Set(name="B", density=tight(js.poles_from_dip(90, 90)[0], 1e6), p32_per_m=1.0)
    >>> intersection_lines(a, b, n=100, random_state=0)
    IntersectionLines(A x B: trend 0°, plunge 45°, 95 % of 100 drawn lines within 0°)
    """
    generator = as_generator(random_state)
    first, second = _mean_of(set_a), _mean_of(set_b)
    try:
        mean = intersections_of_planes(first, second)
    except InputError:
        raise InputError(
            f"the mean planes of {set_a.name} and {set_b.name} are parallel, so they meet in no "
            "line; give two different sets"
        ) from None
    poles = [
        Fractures(draw_set(one, n, generator, uncertain=uncertain)).poles for one in (set_a, set_b)
    ]
    if not len(poles[0]):
        raise InputError(f"n must be one or more; got {n}")
    lines = intersections_of_planes(*poles)
    half, most = np.quantile(axis_angles_deg(lines, mean), [0.5, 0.95])
    tensor = orientation_tensor(lines)
    trend, plunge = trend_from_lines(np.vstack([mean, lower_hemisphere(tensor.axes[:1])]))
    return IntersectionLines(
        sets=(set_a.name, set_b.name),
        trend_deg=float(trend[0]),
        plunge_deg=float(plunge[0]),
        planes_angle_deg=float(axis_angles_deg(first, second)[0]),
        half_angle_50_deg=float(half),
        half_angle_95_deg=float(most),
        principal_trend_deg=float(trend[1]),
        principal_plunge_deg=float(plunge[1]),
        eigenvalues=tensor.eigenvalues,
        lines=lines,
        uncertain=uncertain,
    )
