"""Lines along which the planes of two sets meet, and how they scatter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from jointstats.checks import as_generator, as_seed, check_count, check_lengths
from jointstats.design.estimates import centre_of, estimate
from jointstats.errors import InputError
from jointstats.fit.rock import Rock
from jointstats.fit.rocks import HasRocks, NamedRock, Rocks
from jointstats.results import Result
from jointstats.sphere.angles import lines_from_trend, trend_from_lines
from jointstats.sphere.axes import as_axes, axis_angles_deg, lower_hemisphere
from jointstats.sphere.set_density import SetDensity
from jointstats.sphere.tensor import orientation_tensor
from jointstats.types import Array, ArrayLike, Interval, RandomState

#: Below this sine of the angle between two planes their line is rounding, not geometry.
_SMALLEST_SINE = 1e-9
_FEWER = 500  # pairs drawn in each of the rocks of a result


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
    line_cone_deg : float or None
        Half-angle of the cone about the line that holds `confidence` of the lines of the mean planes
        of drawn rocks: how far the investigation leaves the line itself open. None of a rock alone.
    half_angle_95_interval : (float, float) or None
        Of `half_angle_95_deg`, over the drawn rocks.
    confidence : float or None

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> found = js.design.intersection_lines(result, "J1", "J2", n=200, random_state=0)
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
    line_cone_deg: float | None = None
    half_angle_95_interval: Interval | None = None
    confidence: float | None = None

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


def intersection_lines(
    rock: Rock | HasRocks | Rocks,
    set_a: str | int,
    set_b: str | int,
    n: int = 2000,
    random_state: RandomState = 0,
) -> IntersectionLines:
    """The line in which two sets meet, and its scatter by Monte Carlo.

    Parameters
    ----------
    rock : Rock, SiteAnalysis or Rocks
    set_a, set_b : str or int
        Names of two sets, or their places, from 0.
    n : int
        Number of pairs of planes drawn, one or more.
    random_state : int, Generator or None
        Seed or source of random numbers.

    Returns
    -------
    IntersectionLines
        Of a result, or rocks: of the rock as estimated, with how far the line and its
        scatter move from one drawn rock to another.

    Raises
    ------
    InputError
        If there is no such set, a set is a girdle, which has no mean plane, the mean planes are
        parallel, or `n` is below one.

    Notes
    -----
    The planes of a pair are drawn independently of each other: any pair of fractures may meet.
    Whether real fractures reach each other depends on their size, which a hole does not show.

    Examples
    --------
    A set that dips 45° north and an upright set that strikes north, both tight:

    >>> import jointstats as js
    >>> tight = Rock.of_round(js.poles_from_dip([45, 90], [0, 90]), [1e6, 1e6], [1.0, 1.0])
    >>> intersection_lines(tight, 0, 1, n=100, random_state=0)
    IntersectionLines(set 0 x set 1: trend 0°, plunge 45°, 95 % of 100 drawn lines within 0°)
    """
    size, centre = check_count(n, "n", 1), centre_of(rock)
    seed = as_seed(random_state)
    pair = (_named(centre, set_a), _named(centre, set_b))
    found = _of_densities(pair, size, as_generator(seed))
    if isinstance(rock, Rock):
        return found
    mean = lines_from_trend(found.trend_deg, found.plunge_deg)[0]

    def moved(one: NamedRock) -> Array:
        """Angle of its line to that of the estimate, and the cone of its drawn lines, degrees."""
        own = [(name, one.find(name)) for name, _ in pair]
        if any(part is None or part.density.mean is None for _, part in own):
            return np.full(2, np.nan)
        densities = tuple((name, part.density) for name, part in own if part is not None)
        lines = _of_densities(densities, _FEWER, as_generator(seed))
        line = lines_from_trend(lines.trend_deg, lines.plunge_deg)
        return np.array([axis_angles_deg(line, mean)[0], lines.half_angle_95_deg])

    spread = estimate(moved, rock)
    away = spread.draws[:, 0]
    return replace(
        found,
        line_cone_deg=float(np.nanquantile(away, spread.confidence)),
        half_angle_95_interval=(float(spread.low[1]), float(spread.high[1])),
        confidence=spread.confidence,
    )


def _named(rock: Rock, which: str | int) -> tuple[str, SetDensity]:
    """The name and density of a set by its name or place."""
    names = rock.names if isinstance(rock, NamedRock) else tuple(
        f"set {k}" for k in range(len(rock.sets))
    )
    if isinstance(which, str) and which in names:
        place = names.index(which)
    elif not isinstance(which, str) and 0 <= which < len(names):
        place = which
    else:
        raise InputError(f"there is no set {which!r}; the sets are {', '.join(names) or 'none'}")
    return names[place], rock.densities[place]


def _of_densities(
    pair: Sequence[tuple[str, SetDensity]], n: int, generator: np.random.Generator
) -> IntersectionLines:
    """Line and scatter of two sets of given densities."""
    (name_a, first), (name_b, second) = pair
    for name, density in pair:
        if density.mean is None:
            raise InputError(f"{name} is a girdle: it has no mean plane to meet another")
    try:
        mean = intersections_of_planes(first.frame[0], second.frame[0])
    except InputError:
        raise InputError(
            f"the mean planes of {name_a} and {name_b} are parallel, so they meet in no "
            "line; give two different sets"
        ) from None
    lines = intersections_of_planes(first.sample(n, generator), second.sample(n, generator))
    half, most = np.quantile(axis_angles_deg(lines, mean), [0.5, 0.95])
    tensor = orientation_tensor(lines)
    trend, plunge = trend_from_lines(np.vstack([mean, lower_hemisphere(tensor.axes[:1])]))
    return IntersectionLines(
        sets=(name_a, name_b),
        trend_deg=float(trend[0]),
        plunge_deg=float(plunge[0]),
        planes_angle_deg=float(axis_angles_deg(first.frame[0], second.frame[0])[0]),
        half_angle_50_deg=float(half),
        half_angle_95_deg=float(most),
        principal_trend_deg=float(trend[1]),
        principal_plunge_deg=float(plunge[1]),
        eigenvalues=tensor.eigenvalues,
        lines=lines,
    )
