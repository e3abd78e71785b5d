"""The stereonet: poles by set, their density, mean planes with cones, holes and blind zones."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.fractures import UNASSIGNED, Fractures, Status
from jointstats.borehole.tilt import tilt_correct
from jointstats.errors import InputError
from jointstats.plots.drawn import drawn
from jointstats.plots.marks import draw_blind, draw_holes, name_look, name_marks
from jointstats.plots.net import Net, net_axes
from jointstats.plots.palette import INK, set_style, styled
from jointstats.plots.spread_contour import spread_contours
from jointstats.sphere.angles import (
    as_azimuth,
    dip_from_poles,
    lines_from_trend,
    poles_from_dip,
)
from jointstats.sphere.density import pole_density
from jointstats.types import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.sets.fitted import HasSets
    from jointstats.sets.result import SiteAnalysis

#: Above this number of points a cloud is drawn as an image inside the vector picture.
RASTERISE_ABOVE = 600
#: Contours of density, in multiples of a uniform one.
DENSITY_LEVELS = (1.5, 3.0, 6.0, 12.0, 24.0)
#: A wider cone would look like a mean plane, and says that the mean is not known.
WIDEST_CONE_DEG = 45.0
_HIGH = 1.0e9


@drawn
def stereonet(
    result: HasSets,
    ax: Axes | None = None,
    *,
    projection: str = "equal area",
    hemisphere: str = "lower",
    density: bool = True,
    blind: bool = True,
    key: bool = True,
) -> Axes:
    """Poles by set, their density, mean planes with confidence cones, and the blind zones.

    Parameters
    ----------
    result : SiteAnalysis or PolesAnalysis
        What `analyse` or `analyse_poles` gave.
    ax : matplotlib Axes or None
        A net from `net_axes`; a new figure if None.
    projection : {"equal area", "equal angle"}
        Of a new net.
    hemisphere : {"lower", "upper"}
        Which end of each pole is drawn.
    density : bool
        Whether to fill contours of the density of the poles as logged.
    blind : bool
        Whether to draw the blind zone of each hole, and the zone blind to all of them.
    key : bool
        Whether to explain the signs under the net.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If `result` is no result, `ax` is not a net, or the projection or hemisphere is not one of those
        named.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.stereonet(result, plots.net_axes(plots.new_figure())).ax
    >>> ax.name
    'equal_area_stereonet'
    """
    if not (hasattr(result, "fractures") and hasattr(result, "sets")):
        raise InputError(
            f"stereonet draws what analyse or analyse_poles gave; got {type(result).__name__}: of poles "
            "draw stereonet(analyse_poles(poles))"
        )
    with styled():
        net = Net(net_axes(projection=projection) if ax is None else ax, hemisphere)
        oriented = Fractures(result.fractures).oriented
        if density and len(oriented) > 2:
            _draw_density(net, oriented.poles)
        if blind:
            draw_blind(net, result)
        _draw_dip_circles(net)
        _draw_poles(net, oriented, [one.name for one in result.sets])
        _draw_sets(net, result)
        _draw_bedding(net, result)
        draw_holes(net, result)
        _write_names(net, result)
        if key:
            _draw_key(net, result, oriented)
    return net.ax


@drawn
def tilted_stereonet(
    result: SiteAnalysis, ax: Axes | None = None, *, hemisphere: str = "lower"
) -> Axes:
    """Poles and mean planes of the sets with the bedding brought back to level.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave, of a site with a bedding.
    ax : matplotlib Axes or None
        A net from `net_axes`; a new figure if None.
    hemisphere : {"lower", "upper"}
        Which end of each pole is drawn.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If `ax` is not a net, or the site has no bedding.

    Examples
    --------
    >>> from dataclasses import replace
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> settings = replace(result.site.settings, bedding=(20.0, 90.0))
    >>> tilted = replace(result, site=replace(result.site, settings=settings))
    >>> plots.tilted_stereonet(tilted, plots.net_axes(plots.new_figure())).ax.name
    'equal_area_stereonet'
    """
    bedding = result.bedding
    if bedding is None:
        raise InputError(
            f"site {result.site.name} has no bedding; give dip_deg and dip_direction_deg of it in "
            "site.toml"
        )
    with styled():
        net = Net(net_axes() if ax is None else ax, hemisphere)
        turned = Fractures(result.fractures).oriented
        if len(turned):
            turned = turned.with_poles(tilt_correct(turned.poles, *bedding))
        level = replace(
            result,
            sets=tuple(
                replace(s, density=s.density.with_frame(tilt_correct(s.density.frame, *bedding)))
                for s in result.sets
            ),
        )
        _draw_dip_circles(net)
        _draw_poles(net, turned, [one.name for one in result.sets])
        _draw_sets(net, level)
        for one in level.sets:
            net.label(one.density.frame[0], one.name, xytext=(0, 14), **name_look(12.0))
    return net.ax


def _draw_density(net: Net, poles: Array) -> None:
    estimate = pole_density(poles)
    levels = [*DENSITY_LEVELS, _HIGH]
    net.field(estimate.at, levels, colors=list(INK.density), zorder=0.5, cells=72)


def _draw_dip_circles(net: Net) -> None:
    """Poles of planes that dip 30° and 60°, so that a dip can be read off the net."""
    for dip in (30.0, 60.0):
        net.cone([0, 0, -1.0], dip, color=INK.faint, linewidth=0.7, zorder=1.2)
    for azimuth in (0.0, 90.0):
        ends = lines_from_trend([azimuth], [0.0])[0]
        net.plane(np.cross(ends, [0, 0, 1.0]), color=INK.faint, linewidth=0.7, zorder=1.2)


def _dip_labels(names: Array, poles: Array) -> list[Array]:
    """Where to write the two dips: on each circle, clear of names, over the fewest poles."""
    places = []
    for plunge in (60.0, 30.0):
        at = lines_from_trend(as_azimuth(np.arange(180.0, 540.0, 15.0)), np.full(24, plunge))
        places.append(at[int(np.argmin(_covered(at, names, poles)))])
    return places


def _covered(spots: Array, names: Array, poles: Array) -> NDArray[np.intp]:
    """What a name at each spot would cover: poles within 14°; another name counts as fifty."""
    count = (_gaps_deg(spots, poles) < 14.0).sum(axis=1)
    return count + 50 * (_gaps_deg(spots, names) < 20.0).sum(axis=1)


def _draw_poles(net: Net, oriented: Fractures, names: list[str]) -> None:
    counts, poles = len(oriented), oriented.poles
    size = float(np.clip(26.0 - 4.5 * np.log10(max(counts, 10)) * 1.3, 5.0, 20.0))
    look = {"rasterized": counts > RASTERISE_ABOVE, "linewidths": 0.8}
    used, sets = oriented.is_fitted, oriented.table["set"]
    membership = oriented.table["membership"].to_numpy(float)
    for position, name in enumerate([*names, UNASSIGNED]):
        style = set_style(position)
        is_set = name != UNASSIGNED
        colour, marker = (style.colour, style.marker) if is_set else (INK.unassigned, "x")
        mine = (sets == name).to_numpy()
        full = mine & used
        opacity = _opacity(membership[full]) if is_set else 0.9
        fill = {"edgecolors": INK.paper, "linewidths": 0.3} if is_set else {}
        net.points(
            poles[full],
            c=colour,
            marker=marker,
            s=size * (1.0 if is_set else 0.7),
            alpha=opacity,
            zorder=2.5 if is_set else 2.0,
            **(look | fill),
        )
        hollow = mine & ~full
        net.points(
            poles[hollow],
            facecolors=INK.paper,
            edgecolors=colour,
            marker=marker if is_set else "o",
            s=size,
            zorder=2.2,
            **look,
        )


def _opacity(membership: Array) -> Array:
    """Half-way fractures are drawn at half strength, certain ones in full."""
    return np.clip(0.25 + 0.75 * np.nan_to_num(membership, nan=1.0), 0.25, 1.0)


def _draw_sets(net: Net, result: HasSets) -> None:
    """Mean plane and cone of each set, the great circle and axis of a girdle, with their spread."""
    halo = {"color": INK.paper, "linewidth": 3.2, "zorder": 2.9, "alpha": 0.8}
    for position, one in enumerate(result.sets):
        style, pole = set_style(position), one.density.frame[0]
        net.plane(pole, **halo)
        net.plane(pole, color=style.colour, linestyle=style.dashes, linewidth=1.7, zorder=3.0)
        if not one.density.round_about_mean:
            for edge in spread_contours(one.density):
                net.line(edge, color=style.colour, linewidth=1.0, linestyle=(0, (4, 2)), zorder=3.0)
        if one.cone_deg <= WIDEST_CONE_DEG:
            net.cone(pole, one.cone_deg, **(halo | {"linewidth": 3.6, "zorder": 3.1}))
            net.cone(pole, one.cone_deg, color=style.colour, linewidth=2.0, zorder=3.2)
        mark = {"marker": "^"} if one.mean is None else {"marker": "+", "linewidths": 1.8}
        net.points(pole, c=style.colour, s=55, zorder=3.3, **mark)


def _draw_bedding(net: Net, result: HasSets) -> None:
    bedding = result.bedding
    if bedding is None:
        return
    pole = poles_from_dip(*bedding)[0]
    net.plane(pole, color=INK.ink, linestyle=(0, (1, 1.6)), linewidth=1.3, zorder=2.8)
    net.points(pole, marker="*", s=70, c=INK.ink, zorder=3.3)
    net.label(pole, "bedding", xytext=(0, -11), fontsize=8.5, zorder=3.9)


def _write_names(net: Net, result: HasSets) -> None:
    """Names beside the mean poles and the holes, then at the ends of the planes, then the dips."""
    taken = name_marks(net, result, 12.0)
    poles = Fractures(result.fractures).oriented.poles
    for one in result.sets:
        at = _near_the_rim(one.density.frame[0], np.array(taken), poles)
        taken = [*taken, at]
        kind = "girdle" if one.mean is None else "plane"
        net.label(at, f"{kind} {one.name}", **name_look(9.5))
    # Lines of the planes are better not written over either: they count as poles do.
    turns = np.arange(0.0, 180.0, 7.5)
    curves = [_on_plane(one.density.frame[0], turn) for one in result.sets for turn in turns]
    names = np.array(taken).reshape(-1, 3)
    for at, dip in zip(_dip_labels(names, np.vstack([poles, *curves])), (30, 60), strict=True):
        net.label(at, f"poles: dip {dip}°", fontsize=9.0, color=INK.quiet, zorder=1.3)


def _near_the_rim(pole: Array, taken: Array, poles: Array) -> Array:
    """Where to name a plane: near an end of its trace, clear of names, over the fewest poles."""
    trend = float(dip_from_poles(pole)[1][0])
    down = _on_plane(pole, trend)
    down = -down if down[2] > 0 else down
    spots = []
    for rake in np.radians([16.0, 22.0, 28.0, 34.0, 42.0]):
        for end in (trend - 90.0, trend + 90.0):
            strike = lines_from_trend([as_azimuth(end)], [0.0])[0]
            spots.append(np.cos(rake) * strike + np.sin(rake) * down)
    return spots[int(np.argmin(_covered(np.array(spots), taken, poles)))]


def _gaps_deg(axes: Array, others: Array) -> Array:
    """Angles between axes and other axes, a row an axis."""
    return np.degrees(np.arccos(np.clip(np.abs(axes @ others.T), 0.0, 1.0)))


def _on_plane(pole: Array, azimuth_deg: float) -> Array:
    """The line of a plane that plunges toward an azimuth."""
    toward = np.array([np.sin(np.radians(azimuth_deg)), np.cos(np.radians(azimuth_deg)), 0.0])
    upright = np.cross(toward, [0.0, 0.0, 1.0])
    line = np.cross(pole, upright)
    length = float(np.linalg.norm(line))
    return line / length if length > 1e-9 else toward


def _draw_key(net: Net, result: HasSets, fractures: Fractures) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    plain: dict[str, Any] = {"linestyle": "none", "markersize": 6}
    entries: list[Any] = []
    for position, one in enumerate(result.sets):
        style = set_style(position)
        entries.append(Line2D([], [], color=style.colour, marker=style.marker, markersize=6,
                              linestyle=style.dashes, linewidth=1.6, label=f"{one.name}, {one.n}"))
    count = fractures.counts()[Status.UNASSIGNED]
    entries.append(
        Line2D([], [], color=INK.unassigned, marker="x", label=f"unassigned, {count}", **plain)
    )
    if fractures.has(Status.BELOW_BLIND_ANGLE).any():
        entries.append(Line2D([], [], color=INK.quiet, marker="o", markerfacecolor=INK.paper,
                              label="below the blind angle", **plain))
    if result.sampling is not None:
        ring = Line2D([], [], color=INK.ink, marker="o", markerfacecolor=INK.paper, **plain)
        cross = Line2D([], [], color=INK.ink, marker="x", **(plain | {"markersize": 4}))
        bare: dict[str, Any] = {"facecolor": "none", "edgecolor": INK.blind, "linewidth": 0.0}
        entries += [(ring, cross), Patch(hatch="//", label="blind zone of a hole", **bare)]
        if result.sampling.blind_share > 0:
            entries.append(Patch(hatch="xxxx", label="blind to all holes", **bare))
    labels = ["hole" if isinstance(one, tuple) else one.get_label() for one in entries]
    net.ax.legend(entries, labels, loc="upper center", bbox_to_anchor=(0.5, -0.07), ncols=3,
                  fontsize=9.5, handletextpad=0.6, columnspacing=1.0, borderpad=0.0)
