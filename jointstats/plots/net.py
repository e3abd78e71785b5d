"""The net that orientations are drawn on: projection, rim, and the few things drawn on it.

This is the only module that touches mplstereonet. It draws with that library's axes, and computes
every position itself, from unit vectors.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from jointstats.errors import InputError
from jointstats.plots.palette import INK
from jointstats.sphere.axes import as_axes, frame_about
from jointstats.types import Array, ArrayLike

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


_PROJECTIONS = {"equal area": "equal_area_stereonet", "equal angle": "equal_angle_stereonet"}
_HEMISPHERES = {"lower": -1.0, "upper": 1.0}


def net_axes(
    figure: Figure | None = None, position: Any = 111, *, projection: str = "equal area"
) -> Axes:
    """Empty net, north at the top.

    Parameters
    ----------
    figure : matplotlib Figure or None
        Where to draw; a new figure if None.
    position : int or SubplotSpec
        Place in the figure, as for `Figure.add_subplot`.
    projection : {"equal area", "equal angle"}
        Equal area (Lambert) keeps densities, equal angle (Wulff) keeps angles.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        If the projection is neither of the two.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> ax = net_axes(Figure())
    >>> ax.name
    'equal_area_stereonet'
    """
    if projection not in _PROJECTIONS:
        raise InputError(
            f"projection must be one of {', '.join(map(repr, _PROJECTIONS))}; got {projection!r}"
        )
    with warnings.catch_warnings():
        # The library asks numpy and matplotlib for names that they are about to drop.
        warnings.simplefilter("ignore")
        import mplstereonet  # noqa: F401  (registers the projections)
    if figure is None:
        from matplotlib import pyplot

        figure = pyplot.figure(figsize=(5.6, 5.6))
    ax = figure.add_subplot(position, projection=_PROJECTIONS[projection])
    ax.grid(False)
    # The library's azimuth labels sit on hidden axes that a layout moves; we draw our own.
    ax._polar.set_visible(False)  # type: ignore[attr-defined]
    _draw_rim(ax)
    return ax


def _draw_rim(ax: Axes) -> None:
    for spine in ax.spines.values():
        spine.set(color=INK.quiet, linewidth=1.0)
    azimuth = np.radians(np.arange(0, 360, 10))
    way = np.column_stack([np.sin(azimuth), np.cos(azimuth)])
    reach = np.where(np.arange(36) % 3 == 0, 0.518, 0.509)
    # One line with gaps: a line for each tick would take most of the time of drawing a net.
    ticks = np.stack([0.5 * way, reach[:, np.newaxis] * way, np.full_like(way, np.nan)], axis=1)
    ax.plot(
        *(0.5 + ticks.reshape(-1, 2).T),
        transform=ax.transAxes,
        color=INK.quiet,
        linewidth=0.8,
        clip_on=False,
    )
    for degrees, (east, north) in zip(range(0, 360, 30), way[::3], strict=True):
        main = degrees % 90 == 0
        ax.text(
            0.5 + 0.552 * east,
            0.5 + 0.548 * north,
            {0: "N", 90: "E", 180: "S", 270: "W"}.get(degrees, f"{degrees:03d}"),
            transform=ax.transAxes,
            ha="center",
            va="center",
            color=INK.ink if main else INK.quiet,
            fontweight="bold" if main else "normal",
            fontsize=11.0 if main else 9.0,
        )


def on_net(axes: ArrayLike, hemisphere: str = "lower") -> tuple[Array, Array]:
    """Data coordinates of axes on the net.

    `axes` (n, 3): axes, either end; `hemisphere`: which end is drawn. Gives `longitude, latitude`
    (n,): radians from the centre of the net, toward east and toward north.
    """
    if hemisphere not in _HEMISPHERES:
        raise InputError(f"hemisphere must be 'lower' or 'upper'; got {hemisphere!r}")
    rows = as_axes(axes, "axes")
    side = _HEMISPHERES[hemisphere]
    rows = rows * np.where(rows[:, 2] * side < 0, -1.0, 1.0)[:, np.newaxis]
    inward = np.maximum(rows[:, 2] * side, 0.0)
    return np.arctan2(rows[:, 0], inward), np.arcsin(np.clip(rows[:, 1], -1.0, 1.0))


@dataclass(frozen=True)
class Net:
    """Draws orientations on the axes of a net.

    Parameters
    ----------
    ax : matplotlib Axes
        Made by `net_axes`.
    hemisphere : {"lower", "upper"}
        Which end of each axis is drawn.

    Raises
    ------
    InputError
        If `ax` is not a net.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> net = Net(net_axes(Figure()))
    >>> net.plane([0, 0.5, -1.0], color="black").get_color()
    'black'
    """

    ax: Axes
    hemisphere: str = "lower"

    def __post_init__(self) -> None:
        if getattr(self.ax, "name", "") not in _PROJECTIONS.values():
            raise InputError(
                "ax must be the axes of a net; make it with jointstats.plots.net_axes()"
            )
        on_net(np.empty((0, 3)), self.hemisphere)

    def points(self, axes: ArrayLike, **look: Any) -> None:
        """Draw axes as points; `look` goes to matplotlib's `scatter`."""
        longitude, latitude = on_net(axes, self.hemisphere)
        self.ax.scatter(longitude, latitude, **look)

    def plane(self, pole: ArrayLike, **look: Any) -> Any:
        """Draw the great circle of a plane, given its pole, and return the line.

        Only the half below the horizon is drawn: the other half falls on the same places, and two
        strokes would fill each other's dashes.
        """
        normal = as_axes(pole)[0]
        strike = np.cross([0.0, 0.0, 1.0], normal)
        size = float(np.linalg.norm(strike))
        if size < 1e-9:
            return self.cone(pole, 90.0, **look)
        strike /= size
        down = np.cross(normal, strike)
        down *= -1.0 if down[2] > 0 else 1.0
        turn = np.linspace(0.0, np.pi, 181)
        line = np.outer(np.cos(turn), strike) + np.outer(np.sin(turn), down)
        line[:, 2] = np.minimum(line[:, 2], 0.0)
        return self.ax.plot(*self._broken(line), **look)[0]

    def cone(self, axis: ArrayLike, angle_deg: float, **look: Any) -> Any:
        """Draw the cone of a half-angle about an axis (both ends of it), and return the line."""
        turn = np.linspace(0.0, 2.0 * np.pi, 361)
        angle = np.radians(angle_deg)
        circle = np.column_stack([np.cos(turn), np.sin(turn)]) * np.sin(angle)
        u, v, w = frame_about(axis)
        return self.line(circle @ np.array([u, v]) + np.cos(angle) * w, **look)

    def line(self, line: Array, **look: Any) -> Any:
        """Draw a line through unit vectors (n, 3), either end of each, and return it."""
        return self.ax.plot(*self._broken(line), **look)[0]

    def field(
        self,
        values: Callable[[Array], Array],
        levels: ArrayLike,
        *,
        cells: int = 120,
        **look: Any,
    ) -> Any:
        """Fill the net between levels of a function of orientation, and return the contours.

        `values` takes axes, shape (n, 3), and gives one number each.
        """
        edge = np.linspace(-0.5 * np.pi, 0.5 * np.pi, cells + 1)
        longitude, latitude = np.meshgrid(edge, edge)
        inward = np.cos(longitude) * np.cos(latitude) * _HEMISPHERES[self.hemisphere]
        east = np.sin(longitude) * np.cos(latitude)
        grid = np.stack([east, np.sin(latitude), inward], axis=-1)
        numbers = values(grid.reshape(-1, 3)).reshape(grid.shape[:2])
        return self.ax.contourf(longitude, latitude, numbers, levels=levels, **look)

    def label(self, axis: ArrayLike, text: str, **look: Any) -> Any:
        """Write at an axis, on a patch of paper, and return the annotation."""
        longitude, latitude = on_net(axis, self.hemisphere)
        settings: dict[str, Any] = {
            "textcoords": "offset points",
            "xytext": (0, 0),
            "ha": "center",
            "va": "center",
            "fontsize": 9.5,
            "bbox": {"boxstyle": "round,pad=0.12", "fc": INK.paper, "ec": "none", "alpha": 0.85},
        }
        at = (float(longitude[0]), float(latitude[0]))
        return self.ax.annotate(text, at, **(settings | look))

    def labels(self, marks: ArrayLike, texts: list[str], looks: list[dict[str, Any]]) -> None:
        """Write a text beside each mark, clear of all marks and of one another.

        A label that has to stand off is tied to its mark by a thin line.
        """
        self.ax.apply_aspect()
        scale = 72.0 / self.ax.figure.dpi
        points = self.ax.transData.transform(np.column_stack(on_net(marks, self.hemisphere)))
        points = points * scale
        centre = self.ax.transAxes.transform((0.5, 0.5)) * scale
        taken = [np.concatenate([point - 5.0, point + 5.0]) for point in points]
        for mark, point, text, look in zip(as_axes(marks), points, texts, looks, strict=True):
            size = float(look.get("fontsize", 9.0))
            half = np.array([0.32 * size * len(text) + 1.5, 0.62 * size])
            offset, box = _clear_place(point, half, taken, centre)
            taken.append(box)
            tied = np.hypot(*offset) > 11.0 + half[1] + half[0] * abs(offset[0]) / 22.0
            arrow = {"arrowstyle": "-", "color": INK.quiet, "linewidth": 0.6, "shrinkA": 0}
            self.label(
                mark,
                text,
                xytext=tuple(offset.tolist()),
                **look,
                **({"arrowprops": arrow} if tied else {}),
            )

    def _broken(self, line: Array) -> tuple[Array, Array]:
        """Coordinates of a line of points, broken where it leaves through the rim."""
        longitudes, latitudes = [], []
        for run in _runs(line):
            sign = 1.0 if run[:, 2].sum() * _HEMISPHERES[self.hemisphere] >= 0 else -1.0
            inward = np.abs(run[:, 2])
            longitudes += [np.arctan2(sign * run[:, 0], inward), np.full(1, np.nan)]
            latitudes += [np.arcsin(np.clip(sign * run[:, 1], -1.0, 1.0)), np.full(1, np.nan)]
        return np.concatenate(longitudes), np.concatenate(latitudes)


def _runs(line: Array) -> list[Array]:
    """The pieces of a line above and below the horizon, each ending on it."""
    up = line[:, 2] > 1e-9
    cuts = np.flatnonzero(up[1:] != up[:-1])
    before, after = line[cuts], line[cuts + 1]
    share = before[:, 2] / (before[:, 2] - after[:, 2])
    edges = before + (after - before) * share[:, np.newaxis]
    edges[:, 2] = 0.0
    edges /= np.linalg.norm(edges, axis=1, keepdims=True)
    runs = np.split(line, cuts + 1)
    for i, edge in enumerate(edges):
        runs[i] = np.vstack([runs[i], edge])
        runs[i + 1] = np.vstack([edge, runs[i + 1]])
    return runs


def _clear_place(
    point: Array, half: Array, taken: list[Array], centre: Array
) -> tuple[Array, Array]:
    """Offset of a box from its point, in points, that covers least of what is taken, and the box.

    Near places are tried before far ones, and places toward the centre are preferred, away from
    the azimuths round the rim.
    """
    best: Any = None
    for reach in (4.0, 10.0, 18.0, 28.0):
        for turn in np.radians(np.arange(-90, 270, 30)):
            way = np.array([np.cos(turn), np.sin(turn)])
            offset = way * (half + 5.0 + reach)
            at = point + offset
            box = np.concatenate([at - half, at + half])
            cover = sum(_overlap(box, other) for other in taken)
            cost = cover + 0.02 * np.linalg.norm(at - centre) + 0.3 * reach
            if best is None or cost < best[0] - 1e-9:
                best = (cost, offset, box)
    return best[1], best[2]


def _overlap(a: Array, b: Array) -> float:
    sides = np.minimum(a[2:], b[2:]) - np.maximum(a[:2], b[:2])
    return float(sides[0] * sides[1]) if (sides > 0).all() else 0.0


def new_figure(width_in: float = 5.6, height_in: float = 5.6) -> Figure:
    """An empty figure that no window keeps alive: for scripts that draw many.

    Parameters
    ----------
    width_in, height_in : float
        Size in inches.

    Returns
    -------
    matplotlib Figure

    Examples
    --------
    >>> new_figure(4, 3).get_size_inches()
    array([4., 3.])
    """
    from matplotlib.figure import Figure

    return Figure(figsize=(width_in, height_in))
