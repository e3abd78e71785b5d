"""Pictures by direction: the rose of strikes, and the frequency that a new line would meet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.fractures import UNASSIGNED
from jointstats.design.frequency import frequency_along
from jointstats.errors import InputError
from jointstats.intervals import poisson_interval
from jointstats.plots.net import Net, net_axes
from jointstats.plots.orientations import draw_set_marks
from jointstats.plots.palette import INK, set_style, style_settings

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.sets.result import SiteAnalysis

__all__ = ["frequency_net", "strike_rose"]

Array = NDArray[np.float64]

#: Flatter planes have no strike worth drawing.
LEAST_DIP_DEG = 20.0


def strike_rose(
    result: SiteAnalysis,
    ax: Axes | None = None,
    *,
    sector_deg: float = 10.0,
    least_dip_deg: float = LEAST_DIP_DEG,
) -> Axes:
    """Rose of strikes as logged, by set, with the interval of each sector's count.

    The area of a sector goes with its count; both ends of a strike are drawn. The whisker, at one
    end, is the Poisson interval of the count at the confidence of the analysis.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    ax : matplotlib polar Axes or None
        A new figure if None.
    sector_deg : float
        Width of a sector, a divisor of 180.
    least_dip_deg : float
        Planes that dip less are left out.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        If `ax` is not polar or the sectors do not fill 180°.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.new_figure().add_subplot(projection="polar")
    >>> plots.strike_rose(result, ax).name
    'polar'
    """
    import matplotlib

    sectors = round(180.0 / sector_deg) if sector_deg > 0 else 0
    if not sectors or abs(sectors * sector_deg - 180.0) > 1e-9:
        raise InputError(f"sector_deg must divide 180 without a rest; got {sector_deg}")
    if ax is not None and ax.name != "polar":
        raise InputError('ax must be polar; make it with figure.add_subplot(projection="polar")')
    with matplotlib.rc_context(style_settings()):
        if ax is None:
            from matplotlib import pyplot

            ax = pyplot.figure(figsize=(4.4, 4.4)).add_subplot(projection="polar")
        counts = _strikes(result, sectors, least_dip_deg)
        _draw_sectors(ax, result, counts, sector_deg)
        _draw_rose_frame(ax, counts.sum(axis=0).max(initial=1.0))
    return ax


def _strikes(result: SiteAnalysis, sectors: int, least_dip_deg: float) -> Array:
    """Counts by set (the unassigned last) and sector, of every oriented fracture."""
    fractures = result.fractures
    dip = fractures["true_dip_deg"].to_numpy(float)
    strike = (fractures["true_dip_direction_deg"].to_numpy(float) - 90.0) % 180.0
    counts = []
    for name in [*(one.name for one in result.sets), UNASSIGNED]:
        mine = (fractures["set"] == name).to_numpy() & (dip >= least_dip_deg)
        counts.append(np.histogram(strike[mine] % 180.0, sectors, (0.0, 180.0))[0])
    return np.array(counts, dtype=float)


def _draw_sectors(ax: Axes, result: SiteAnalysis, counts: Array, sector_deg: float) -> None:
    width = np.radians(sector_deg)
    middle = np.radians((np.arange(counts.shape[1]) + 0.5) * sector_deg)
    both = np.concatenate([middle, middle + np.pi])
    inner = np.zeros(counts.shape[1])
    for position, row in enumerate(counts):
        last = position == len(counts) - 1
        colour = INK.unassigned if last else set_style(position).colour
        # Equal areas for equal counts: the radius goes with the root of the count within.
        low, high = np.sqrt(inner), np.sqrt(inner + row)
        ax.bar(
            both,
            np.tile(high - low, 2),
            width,
            np.tile(low, 2),
            color=colour,
            edgecolor=INK.paper,
            linewidth=0.5,
            zorder=2,
        )
        inner = inner + row
    level = float(result.settings["confidence"])
    for angle, total in zip(middle, inner, strict=True):
        if total:
            low, high = poisson_interval(int(total), level)
            # At one end only, so that the bars of the other can be read without them.
            ax.plot(
                [angle + np.pi] * 2,
                [np.sqrt(low), np.sqrt(high)],
                color=INK.ink,
                linewidth=0.8,
                zorder=3,
            )


def _draw_rose_frame(ax: Axes, largest: float) -> None:
    ax.set_theta_zero_location("N")
    ax.set_theta_direction(-1)
    ax.set_thetagrids(
        range(0, 360, 30),
        ["N", "030", "060", "E", "120", "150", "S", "210", "240", "W", "300", "330"],
        fontsize=9.0,
    )
    top = largest + 2.0 * np.sqrt(largest) + 1.0
    step = next(n for n in (1, 2, 5, 10, 20, 50, 100, 500, 1000, 10000) if top / n <= 4 or n == 1e4)
    marks = np.arange(step, top, step)
    ax.set_rgrids(
        np.sqrt(marks), [f"{mark:g}" for mark in marks], angle=7.0, fontsize=8.5, color=INK.quiet
    )
    ax.set_ylim(0.0, np.sqrt(top))
    ax.grid(color=INK.faint)
    ax.spines["polar"].set_color(INK.quiet)


def frequency_net(
    result: SiteAnalysis, ax: Axes | None = None, *, hemisphere: str = "lower"
) -> Axes:
    """Fractures a metre that a line of each direction would meet, by the fitted sets.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    ax : matplotlib Axes or None
        A net from `net_axes`; a new figure if None.
    hemisphere : {"lower", "upper"}
        Which end of each line is drawn.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        If `ax` is not a net.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> plots.frequency_net(result, plots.net_axes(plots.new_figure())).name
    'equal_area_stereonet'
    """
    import matplotlib

    with matplotlib.rc_context(style_settings()):
        net = Net(net_axes() if ax is None else ax, hemisphere)
        net.field(
            lambda lines: rate_along(result, lines),
            frequency_levels(result),
            colors=list(INK.density),
            zorder=0.5,
            extend="neither",
            cells=60,
        )
        draw_set_marks(net, result)
    return net.ax


def rate_along(result: SiteAnalysis, lines: Array) -> Array:
    """Fractures per metre along lines, background included.

    Parameters
    ----------
    result : SiteAnalysis
    lines : ndarray, shape (m, 3)
        Directions, either end.

    Returns
    -------
    ndarray, shape (m,)
        1/m.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> bool((rate_along(result, np.eye(3)) > 0.5).all())
    True
    """
    return frequency_along(result, lines)


def rate_interval(result: SiteAnalysis, line: Array) -> tuple[float, float]:
    """Interval of the frequency along one line, from those of P32 of the sets and the background.

    Each part's distance from its ends is added in quadrature, the parts being taken as
    independent and the directions as known (the method of variance estimates recovery: Zou & Donner
    2008, Stat. Med. 27: 1693-1702; from memory).

    Parameters
    ----------
    result : SiteAnalysis
    line : ndarray, shape (3,)
        Direction, either end.

    Returns
    -------
    low, high : float
        1/m, at the confidence of the analysis.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> low, high = rate_interval(result, np.array([0, 0, -1.0]))
    >>> bool(low < rate_along(result, np.array([[0, 0, -1.0]]))[0] < high)
    True
    """
    lines = np.reshape(line, (1, 3))
    parts = [
        (one.p32_per_m * one.density.mean_cosines(lines)[0], one.p32_per_m, one.p32_interval)
        for one in result.sets
        if one.p32_per_m > 0
    ]
    # A uniform background of P32 λ crosses any line λ/2 times a metre.
    background = 0.5 * result.background_per_m
    below, above = (
        0.5 * abs(end - result.background_per_m) for end in result.background_interval
    )
    squares = np.array([below**2, above**2])
    for rate, p32, ends in parts:
        squares += (rate * (np.array(ends) / p32 - 1.0)) ** 2
    total = background + sum(rate for rate, _, _ in parts)
    low, high = total + np.array([-1.0, 1.0]) * np.sqrt(squares)
    return max(0.0, float(low)), float(high)


def frequency_levels(result: SiteAnalysis) -> Array:
    """Limits of the tones of `frequency_net`: five equal steps from the least to the most.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    ndarray, shape (6,)
        1/m.

    Examples
    --------
    >>> import jointstats as js
    >>> len(frequency_levels(js.analyse(js.simulate_site(random_state=1), n_sets=3)))
    6
    """
    from jointstats.sphere.axes import hemisphere_grid

    rate = rate_along(result, hemisphere_grid(2000))
    low, high = float(rate.min()), float(rate.max())
    if high - low < 1e-9:
        low, high = 0.5 * low, high + 1e-9
    return np.linspace(0.999 * low, 1.001 * high, 6)
