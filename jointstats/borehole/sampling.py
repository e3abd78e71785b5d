"""What each hole sampled: the logged lengths that count, and the exposure they give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.exposure import LineExposure

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.site import Hole, Site

__all__ = [
    "SampledLength",
    "sampled_lengths",
    "site_exposure",
    "unlogged_lengths",
    "was_sampled",
]

Array = NDArray[np.float64]

#: Where two methods saw the same length, the first of these is used: a photograph orients every
#: fracture it shows, core loses some.
PREFERENCE = ("image", "core")


@dataclass(frozen=True)
class SampledLength:
    """A length of one hole that one method saw, and that no preferred method saw.

    Examples
    --------
    >>> SampledLength("B1", 3.0, 12.5, "image").length_m
    9.5
    """

    hole: str
    from_m: float
    to_m: float
    method: str

    @property
    def length_m(self) -> float:
        """Length in metres."""
        return self.to_m - self.from_m


def _less(
    interval: tuple[float, float], taken: list[tuple[float, float]]
) -> list[tuple[float, float]]:
    """The parts of an interval that none of the others covers."""
    parts = [interval]
    for low, high in taken:
        parts = [
            piece
            for start, end in parts
            for piece in ((start, min(end, low)), (max(start, high), end))
            if piece[1] > piece[0]
        ]
    return parts


def _of_hole(hole: Hole) -> list[SampledLength]:
    methods = list(PREFERENCE) + sorted({one.method for one in hole.logged} - set(PREFERENCE))
    lengths: list[SampledLength] = []
    taken: list[tuple[float, float]] = []
    for method in methods:
        own = [(one.from_m, one.to_m) for one in hole.logged if one.method == method]
        for interval in own:
            lengths += [SampledLength(hole.name, *part, method) for part in _less(interval, taken)]
        taken += own
    return sorted(lengths, key=lambda one: one.from_m)


def sampled_lengths(site: Site) -> tuple[SampledLength, ...]:
    """The logged lengths that count in the exposure, each metre of hole once.

    Parameters
    ----------
    site : Site

    Returns
    -------
    tuple of SampledLength
        By hole and depth. Where image and core saw the same length, the image counts.

    Examples
    --------
    >>> from types import SimpleNamespace as _
    >>> hole = _(name="B1", logged=(_(from_m=0, to_m=30, method="core"),
    ...                             _(from_m=10, to_m=20, method="image")))
    >>> [(one.method, one.from_m, one.to_m) for one in sampled_lengths(_(holes=[hole]))]
    [('core', 0, 10), ('image', 10, 20), ('core', 20, 30)]
    """
    return tuple(length for hole in site.holes for length in _of_hole(hole))


def unlogged_lengths(site: Site, lengths: tuple[SampledLength, ...]) -> tuple[SampledLength, ...]:
    """The drilled lengths that no method saw.

    Parameters
    ----------
    site : Site
    lengths : tuple of SampledLength
        From `sampled_lengths`.

    Returns
    -------
    tuple of SampledLength
        By hole and depth, with the method "none".

    Examples
    --------
    >>> from types import SimpleNamespace as _
    >>> site = _(holes=[_(name="B1", length_m=30.0)])
    >>> [(one.from_m, one.to_m)
    ...  for one in unlogged_lengths(site, (SampledLength("B1", 2.0, 25.0, "image"),))]
    [(0.0, 2.0), (25.0, 30.0)]
    """
    missed = []
    for hole in site.holes:
        seen = [(one.from_m, one.to_m) for one in lengths if one.hole == hole.name]
        parts = _less((0.0, hole.length_m), seen)
        missed += [SampledLength(hole.name, *part, "none") for part in parts]
    return tuple(missed)


def was_sampled(fractures: pd.DataFrame, lengths: tuple[SampledLength, ...]) -> NDArray[np.bool_]:
    """Whether each fracture lies in a sampled length of its own hole and method.

    Parameters
    ----------
    fractures : pandas.DataFrame
        With columns hole, depth_m and method (empty: any method).
    lengths : tuple of SampledLength

    Returns
    -------
    ndarray of bool, shape (n,)

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame({"hole": ["B1", "B1"], "depth_m": [5.0, 15.0], "method": "core"})
    >>> was_sampled(table, (SampledLength("B1", 0, 10, "core"),))
    array([ True, False])
    """
    depth = fractures["depth_m"].to_numpy(float)
    hole = fractures["hole"].to_numpy()
    method = fractures["method"].fillna("").to_numpy() if "method" in fractures else None
    sampled = np.zeros(len(fractures), bool)
    for one in lengths:
        inside = (hole == one.hole) & (depth >= one.from_m) & (depth <= one.to_m)
        if method is not None:
            inside &= (method == one.method) | (method == "")
        sampled |= inside
    return sampled


def site_exposure(
    site: Site, lengths: tuple[SampledLength, ...], *, blind_angle_deg: float
) -> LineExposure:
    """Exposure of the sampled lengths of all holes, along their curved paths.

    Parameters
    ----------
    site : Site
    lengths : tuple of SampledLength
        At least one.
    blind_angle_deg : float
        Degrees.

    Returns
    -------
    LineExposure
        Pieces within half a degree of one another are gathered.

    Raises
    ------
    InputError
        If `blind_angle_deg` is out of range, or there is no length.

    Examples
    --------
    >>> from types import SimpleNamespace as _
    >>> import jointstats as js
    >>> hole = _(name="B1", path=js.HolePath([0.0], [0.0], [90.0]))
    >>> site_exposure(_(hole=lambda name: hole), (SampledLength("B1", 5, 15, "core"),),
    ...               blind_angle_deg=10)
    LineExposure(1 pieces, 10 m, blind angle 10°)
    """
    directions, metres = [np.empty((0, 3))], [np.empty(0)]
    for one in lengths:
        pieces = site.hole(one.hole).path.segments(one.from_m, one.to_m)
        directions.append(pieces[0])
        metres.append(pieces[1])
    whole = LineExposure(
        np.vstack(directions), np.concatenate(metres), blind_angle_deg=blind_angle_deg
    )
    return whole.merged()
