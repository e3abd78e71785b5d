"""Pictures that set the fractures of a set beside the model: does the Fisher shape hold?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta

from jointstats.borehole.fractures import Fractures
from jointstats.intervals import poisson_interval
from jointstats.plots.palette import INK, set_style, style_settings
from jointstats.plots.spread import find_set, thinned
from jointstats.sphere.axes import align_axes, axis_angles_deg, frame_about, hemisphere_grid

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = ["colatitude_plot", "density_profile", "longitude_plot"]

Array = NDArray[np.float64]

_GRID = 40_000


def density_profile(
    result: SiteAnalysis,
    name: str,
    ax: Axes | None = None,
    *,
    ring_deg: float = 5.0,
    key: bool = True,
) -> Axes:
    """Fractures counted in rings about a set's mean pole, beside what the whole fit expects there.

    The curve has the exposure in it, and the other sets and the background too, so it should run
    through the points within their intervals wherever the model holds.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    name : str
        Name of the set.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.
    ring_deg : float
        Width of a ring, degrees.
    key : bool
        Whether to explain the signs above.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        If there is no set of this name.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.density_profile(result, "J1", plots.new_figure().add_subplot())
    >>> ax.get_ylabel()
    'fractures in the ring'
    """
    import matplotlib

    position, one = find_set(result, name)
    style = set_style(position)
    with matplotlib.rc_context(style_settings()):
        ax = _plain_axes(ax)
        edges = np.arange(0.0, 90.0 + 0.5 * ring_deg, ring_deg)
        middle = 0.5 * (edges[1:] + edges[:-1])
        alone, whole = expected_in_rings(result, one, edges)
        ax.stairs(whole, edges, color=INK.ink, linewidth=1.2, zorder=2, label="the whole fit")
        ax.stairs(alone, edges, fill=True, color=style.colour, alpha=0.25, zorder=1,
                  label=f"{name} alone")
        poles = Fractures(result.fractures).fitted.poles
        seen = np.histogram(axis_angles_deg(poles, one.mean), edges)[0]
        level = float(result.settings["confidence"])
        limits = np.array([poisson_interval(int(count), level) for count in seen])
        ax.vlines(middle, limits[:, 0], limits[:, 1], color=INK.quiet, linewidth=0.9, zorder=3)
        ax.plot(middle, seen, linestyle="none", marker=style.marker, markersize=4.5,
                color=style.colour, zorder=4, label="counted")
        ax.set(xlim=(0, 90), xlabel=f"angle to the mean pole of {name}, degrees",
               ylabel="fractures in the ring")
        ax.set_ylim(0, None)
        ax.set_xticks(range(0, 91, 15))
        if key:
            ax.legend(fontsize=8.5, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3,
                      handlelength=1.2, columnspacing=1.0, borderaxespad=0.1)
    return ax


def expected_in_rings(
    result: SiteAnalysis, one: JointSet, edges_deg: Array
) -> tuple[Array, Array]:
    """Expected number of fractures in rings about a set's mean: of the set, and of the whole fit.

    Parameters
    ----------
    result : SiteAnalysis
    one : JointSet
    edges_deg : ndarray, shape (m + 1,)
        Limits of the rings.

    Returns
    -------
    alone, whole : ndarray, shape (m,)
        ∫ λ_k f_k(n) E(n) dn over the ring, of the set and summed with the background.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> alone, _ = expected_in_rings(result, result.sets[0], np.array([0.0, 90.0]))
    >>> bool(abs(alone[0] / result.sets[0].n_expected - 1) < 0.02)
    True
    """
    grid = hemisphere_grid(_GRID)
    exposure = result.exposure.merged().at(grid) * (2.0 * np.pi / len(grid))
    rates = {
        other.name: other.p32_per_m * np.exp(other.density.log_density(grid))
        for other in result.sets
    }
    whole = sum(rates.values()) + result.background_per_m / (2.0 * np.pi)
    angle = axis_angles_deg(grid, one.density.frame[0])
    counts = [
        np.histogram(angle, edges_deg, weights=rate * exposure)[0]
        for rate in (rates[one.name], whole)
    ]
    return counts[0], counts[1]


def colatitude_plot(result: SiteAnalysis, name: str, ax: Axes | None = None) -> Axes:
    """Probability plot of the angles to a set's own mean against the Fisher distribution.

    1 − cos of the angle is close to exponential in a Fisher set (Fisher, Lewis & Embleton 1987,
    Statistical Analysis of Spherical Data, section 5.3.2; from memory). Points within the band, at
    the confidence of the analysis for each point alone, are no cause for doubt.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    name : str
        Name of the set.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        If there is no set of this name.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.colatitude_plot(result, "J1", plots.new_figure().add_subplot())
    >>> ax.get_xlabel()
    'expected of a Fisher set, degrees'
    """
    import matplotlib

    position, one = find_set(result, name)
    with matplotlib.rc_context(style_settings()):
        ax = _plain_axes(ax)
        poles = _poles_of(result, name)
        drop = np.sort(1.0 - align_axes(poles, one.statistics.mean) @ one.statistics.mean)
        low, centre, high = _order_limits(len(drop), float(result.settings["confidence"]))
        kept = thinned(len(drop))
        scale = drop.mean() if len(drop) else 1.0
        at = _angle(-np.log1p(-centre) * scale)
        limits = (_angle(-np.log1p(-side[kept]) * scale) for side in (low, high))
        ax.fill_between(at[kept], *limits, color=INK.density[1], linewidth=0, zorder=1)
        _draw_points(ax, at[kept], _angle(drop[kept]), position)
        top = float(max(_angle(drop).max(initial=1.0), at.max(initial=1.0))) * 1.08
        ax.plot([0, top], [0, top], color=INK.quiet, linewidth=0.9, zorder=2)
        ax.set(xlim=(0, top), ylim=(0, top), xlabel="expected of a Fisher set, degrees",
               ylabel="angle to the mean, degrees")
    return ax


def longitude_plot(result: SiteAnalysis, name: str, ax: Axes | None = None) -> Axes:
    """Probability plot of the directions about a set's own mean against an even spread.

    A round set follows the diagonal; a drawn-out one winds about it twice.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    name : str
        Name of the set.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        If there is no set of this name.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.longitude_plot(result, "J1", plots.new_figure().add_subplot())
    >>> ax.get_xlabel()
    'expected of a round set, degrees'
    """
    import matplotlib

    position, one = find_set(result, name)
    with matplotlib.rc_context(style_settings()):
        ax = _plain_axes(ax)
        mean = one.statistics.mean
        frame = frame_about(mean)
        rows = align_axes(_poles_of(result, name), mean)
        turn = np.sort(np.degrees(np.arctan2(rows @ frame[1], rows @ frame[0])) % 360.0)
        low, centre, high = _order_limits(len(turn), float(result.settings["confidence"]))
        kept = thinned(len(turn))
        low, centre, high = (360.0 * side[kept] for side in (low, centre, high))
        ax.fill_between(centre, low, high, color=INK.density[1], linewidth=0, zorder=1)
        _draw_points(ax, centre, turn[kept], position)
        ax.plot([0, 360], [0, 360], color=INK.quiet, linewidth=0.9, zorder=2)
        ax.set(xlim=(0, 360), ylim=(0, 360), xlabel="expected of a round set, degrees",
               ylabel="direction about the mean, degrees")
        ax.set_xticks(range(0, 361, 90))
        ax.set_yticks(range(0, 361, 90))
    return ax


def _plain_axes(ax: Axes | None) -> Axes:
    if ax is not None:
        return ax
    from matplotlib import pyplot

    return pyplot.figure(figsize=(3.8, 3.0)).add_subplot()


def _poles_of(result: SiteAnalysis, name: str) -> Array:
    return Fractures(result.fractures).of_set(name).fitted.poles


def _order_limits(n: int, confidence: float) -> tuple[Array, Array, Array]:
    """Limits and centre of each of n ordered uniform numbers: Beta(i, n + 1 − i)."""
    place = np.arange(1, n + 1)
    tail = 0.5 * (1.0 - confidence)
    low = beta.ppf(tail, place, n + 1 - place)
    high = beta.ppf(1.0 - tail, place, n + 1 - place)
    return low, (place - 0.5) / max(n, 1), high


def _angle(drop: Array) -> Array:
    """Angle in degrees whose 1 − cos is given, at most 90."""
    return np.degrees(np.arccos(1.0 - np.clip(drop, 0.0, 1.0)))


def _draw_points(ax: Axes, x: Array, y: Array, position: int) -> None:
    style = set_style(position)
    ax.plot(x, y, linestyle="none", marker=style.marker, markersize=3.4, color=style.colour,
            markeredgewidth=0, zorder=3)
