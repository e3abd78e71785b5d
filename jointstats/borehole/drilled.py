"""The logged lengths of each hole as straight pieces: directions, gaps, what was blind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from jointstats.sphere.axes import as_axes, hemisphere_grid

if TYPE_CHECKING:
    from jointstats.borehole.exposure import LineExposure
    from jointstats.borehole.site import Hole, Site

__all__ = ["HoleLine", "blind_share", "gaps_of", "hole_lines", "logged_spans"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class HoleLine:
    """Directions of the logged lengths of one hole.

    Attributes
    ----------
    name : str
    directions : ndarray, shape (m, 3)
        One straight piece a row.
    middle : ndarray, shape (3,)
        Direction at the middle of the logged length.
    """

    name: str
    directions: Array
    middle: Array

    def largest_cosine(self, poles: ArrayLike) -> Array:
        """Largest |n · d| over the pieces: below the sine of the blind angle the hole is blind.

        Parameters
        ----------
        poles : array_like, shape (n, 3)
            Axes, either end.

        Returns
        -------
        ndarray, shape (n,)
            0 to 1.

        Examples
        --------
        >>> down = np.array([[0, 0, -1.0]])
        >>> HoleLine("B1", down, down[0]).largest_cosine([[1.0, 0, 0], [0, 0, 1.0]])
        array([0., 1.])
        """
        return np.abs(as_axes(poles) @ self.directions.T).max(axis=1)


def logged_spans(hole: Hole) -> list[tuple[float, float]]:
    """Depths that were logged by any method, joined where they touch or overlap.

    Parameters
    ----------
    hole : Hole

    Returns
    -------
    list of (float, float)
        From and to, metres along the hole, in order.

    Examples
    --------
    >>> from types import SimpleNamespace as Plain
    >>> both = [Plain(from_m=0.0, to_m=6.0), Plain(from_m=5.0, to_m=9.0)]
    >>> logged_spans(Plain(logged=both))
    [(0.0, 9.0)]
    """
    spans: list[tuple[float, float]] = []
    for span in sorted((float(one.from_m), float(one.to_m)) for one in hole.logged):
        if spans and span[0] <= spans[-1][1] + 1e-9:
            spans[-1] = (spans[-1][0], max(spans[-1][1], span[1]))
        else:
            spans.append(span)
    return spans


def gaps_of(hole: Hole) -> list[tuple[float, float]]:
    """Depths of a hole that nobody logged.

    Parameters
    ----------
    hole : Hole

    Returns
    -------
    list of (float, float)
        From and to, metres along the hole, in order.

    Examples
    --------
    >>> from types import SimpleNamespace as Plain
    >>> gaps_of(Plain(length_m=10.0, logged=[Plain(from_m=2.0, to_m=9.0)]))
    [(0.0, 2.0), (9.0, 10.0)]
    """
    gaps, reached = [], 0.0
    for start, end in [*logged_spans(hole), (float(hole.length_m), float(hole.length_m))]:
        if start - reached > 1e-6:
            gaps.append((reached, start))
        reached = max(reached, end)
    return gaps


def hole_lines(site: Site) -> list[HoleLine]:
    """The logged lengths of every hole of a site as straight pieces.

    Parameters
    ----------
    site : Site

    Returns
    -------
    list of HoleLine
        One a hole, in the order of the site; holes without a logged length are left out.

    Examples
    --------
    >>> import jointstats as js
    >>> site = js.simulate_site(random_state=1)
    >>> len(hole_lines(site)) == len(site.holes)
    True
    """
    lines = []
    for hole in site.holes:
        spans = logged_spans(hole)
        if not spans:
            continue
        pieces = [hole.path.segments(start, end)[0] for start, end in spans]
        middle = 0.5 * (spans[0][0] + spans[-1][1])
        direction = np.asarray(hole.path.direction(middle), dtype=float).reshape(-1, 3)[0]
        lines.append(HoleLine(hole.name, np.vstack(pieces), direction))
    return lines


def blind_share(exposure: LineExposure, points: int = 20_000) -> float:
    """Share of all orientations that no logged length could see.

    Parameters
    ----------
    exposure : LineExposure
    points : int
        Number of evenly spread orientations that are tried; the error is a few parts in 10,000.

    Returns
    -------
    float
        0 to 1.

    Examples
    --------
    One straight hole is blind to a band about it, of a share sin ψ of the sphere:

    >>> import jointstats as js
    >>> round(blind_share(js.LineExposure([[0, 0, -1]], [10.0], blind_angle_deg=10.0)), 3)
    0.174
    """
    return float((exposure.merged().at(hemisphere_grid(points)) <= 0).mean())
