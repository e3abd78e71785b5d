"""What was sampled: the lengths of each line that some method logged, and what could be seen there.

Every question about logged length, or about what the lines could and could not see, is asked of
`Sampling`; it is made once for a site and a blind angle. A length may have the share of its fractures
that the log has (`observed/` finds it): exposures count it, logged lengths do not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.exposure import LineExposure
from jointstats.borehole.path import HolePath
from jointstats.borehole.site import check_site
from jointstats.borehole.spans import Spans
from jointstats.errors import InputError
from jointstats.types import Array

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.hole import Hole
    from jointstats.borehole.site import Site

#: Where two methods saw the same length, the first of these is used: a photograph orients every
#: fracture it shows, core loses some.
PREFERENCE = ("image", "core")
#: The method of a length whose image and core were paired and count as one log.
BOTH = "image and core"
_LEAST_SEEN = 1e-9  # so that a line whose fractures all lack an orientation still has a direction


@dataclass(frozen=True)
class SampledLength:
    """A length of one line that one method saw, and that no preferred method saw; or both at once.

    Parameters
    ----------
    line : str
        Name of the line.
    from_m, to_m : float
        Its ends, metres along the line.
    method : str
        "image", "core", …, or "image and core" where the two were paired.
    detected : float
        Share of its fractures that were logged, 0 to 1.
    oriented : float
        Share of those logged whose orientation is known, 0 to 1.

    Examples
    --------
    >>> SampledLength("B1", 3.0, 12.5, "image").length_m
    9.5
    """

    line: str
    from_m: float
    to_m: float
    method: str
    detected: float = 1.0
    oriented: float = 1.0

    @property
    def length_m(self) -> float:
        """Length in metres."""
        return self.to_m - self.from_m

    @property
    def seen(self) -> float:
        """Share of its fractures that a fit can use, more than 0 up to 1."""
        return max(self.detected * self.oriented, _LEAST_SEEN)

    def clip(self, low_m: float, high_m: float) -> SampledLength:
        """The part of it between two depths; of no length where there is none."""
        low = min(max(self.from_m, low_m), self.to_m)
        return replace(self, from_m=low, to_m=max(min(self.to_m, high_m), low))

    def holds(self, depth_m: Array) -> NDArray[np.bool_]:
        """Whether each depth lies in it."""
        return (depth_m >= self.from_m) & (depth_m <= self.to_m)


@dataclass(frozen=True, eq=False)
class SampledLine:
    """One line along which fractures were sampled, or a length of one.

    Parameters
    ----------
    name : str
    path : HolePath
        Where it goes.
    from_m, to_m : float
        Its ends, metres along it.
    logged_by : mapping of str to Spans
        What each method logged of it.
    blind_angle_deg : float
        Angle to the line below which picks are not trusted, degrees.
    parts : tuple of SampledLength
        The lengths that count, with the shares seen of them; empty: those of `logged_by`, all seen.
    diameter_mm : float or None
        Of the hole.
    girth : float
        Radius of the hole over that of the fractures; 0 for a line.

    Examples
    --------
    >>> import jointstats as js
    >>> line = Sampling.of(js.simulate_site(random_state=1)).line("H1").clip(30, 50)
    >>> line.spans.pairs, line.gaps.pairs
    (((30.0, 50.0),), ())
    """

    name: str
    path: HolePath
    from_m: float
    to_m: float
    logged_by: Mapping[str, Spans]
    blind_angle_deg: float
    parts: tuple[SampledLength, ...] = ()
    diameter_mm: float | None = None
    girth: float = 0.0

    @property
    def length_m(self) -> float:
        """Length in metres, logged or not."""
        return self.to_m - self.from_m

    @property
    def methods(self) -> tuple[str, ...]:
        """Methods that logged some of it, the preferred ones first."""
        # Methods without a rank come last, in an order that does not hang on that of the tables.
        others = sorted(set(self.logged_by) - set(PREFERENCE))
        return tuple(one for one in (*PREFERENCE, *others) if self.logged_by.get(one))

    @cached_property
    def lengths(self) -> tuple[SampledLength, ...]:
        """The lengths that count, by depth, each metre once: of two methods the preferred."""
        if self.parts:
            return self.parts
        found: list[SampledLength] = []
        taken = Spans()
        for method in self.methods:
            own = self.logged_by[method]
            found += [SampledLength(self.name, *part, method) for part in own.minus(taken)]
            taken = taken.union(own)
        return tuple(sorted(found, key=lambda one: one.from_m))

    @cached_property
    def spans(self) -> Spans:
        """What any method logged."""
        return Spans([(one.from_m, one.to_m) for one in self.lengths])

    @property
    def logged_m(self) -> float:
        """Length that any method logged, metres."""
        return self.spans.total_m

    @property
    def detected(self) -> float:
        """Share of the fractures of the logged length that were logged, 0 to 1."""
        of = sum(one.detected * one.length_m for one in self.lengths)
        return of / self.logged_m if self.lengths else 1.0

    @cached_property
    def gaps(self) -> Spans:
        """What no method logged."""
        return Spans([(self.from_m, self.to_m)]).minus(self.spans)

    @property
    def middle(self) -> Array:
        """Direction at the middle of what was logged, shape (3,); at the start if nothing was."""
        pairs = self.spans.pairs
        depth = 0.5 * (pairs[0][0] + pairs[-1][1]) if pairs else self.from_m
        return np.asarray(self.path.direction(depth), dtype=np.float64).reshape(3)

    @cached_property
    def exposure(self) -> LineExposure:
        """Exposure of what was logged; an InputError if nothing was."""
        return _exposure([self], self.blind_angle_deg)

    def clip(self, low_m: float, high_m: float) -> SampledLine:
        """The part of it between two depths."""
        low, high = max(self.from_m, low_m), min(self.to_m, high_m)
        kept = {method: spans.clip(low, high) for method, spans in self.logged_by.items()}
        parts = tuple(part for one in self.parts if (part := one.clip(low, high)).length_m > 0)
        return replace(self, from_m=low, to_m=high, logged_by=kept, parts=parts)


@dataclass(frozen=True, eq=False)
class Sampling:
    """What was sampled at a site.

    Parameters
    ----------
    lines : tuple of SampledLine
        Every line of the site, those that nobody logged too.
    blind_angle_deg : float
    log_error : float
        Standard error of the log of the shares detected, common to all lengths.

    Examples
    --------
    >>> import jointstats as js
    >>> sampling = Sampling.of(js.simulate_site(random_state=1), blind_angle_deg=10)
    >>> sampling.exposure.total_m, len(sampling.logged)
    (220.0, 3)
    """

    lines: tuple[SampledLine, ...]
    blind_angle_deg: float
    log_error: float = 0.0

    @classmethod
    def of(cls, site: Site, *, blind_angle_deg: float | None = None) -> Sampling:
        """The sampling of a site; None takes the site's own blind angle, degrees."""
        check_site(site)
        blind = site.settings.blind_angle_deg if blind_angle_deg is None else blind_angle_deg
        lines = [
            _recovered(
                hole,
                SampledLine(
                    *(hole.name, hole.path, 0.0, hole.length_m, _logged_by(hole), blind),
                    diameter_mm=hole.diameter_mm if hole.kind == "borehole" else None,
                ),
            )
            for hole in site.holes
        ]
        return cls(tuple(lines), float(blind))

    @property
    def logged(self) -> tuple[SampledLine, ...]:
        """The lines of which something was logged."""
        return tuple(one for one in self.lines if one.lengths)

    @property
    def lengths(self) -> tuple[SampledLength, ...]:
        """The lengths of all lines, by line and depth, each metre once."""
        return tuple(length for one in self.lines for length in one.lengths)

    @property
    def logged_m(self) -> float:
        """Length that any method logged, metres."""
        return sum(one.logged_m for one in self.lines)

    def with_lengths(self, lengths: Sequence[SampledLength], log_error: float = 0.0) -> Sampling:
        """The same with these lengths in place of its own, by line and depth."""
        parts = {one.name: tuple(a for a in lengths if a.line == one.name) for one in self.lines}
        lines = tuple(replace(one, parts=parts[one.name]) for one in self.lines)
        return replace(self, lines=lines, log_error=log_error)

    def with_fractures_of(self, radius_m: float, log_error: float = 0.0) -> Sampling:
        """The same for fractures that are discs of a radius: holes meet them by their thickness.

        `log_error`: standard error of the log of the radius. A hole of no known diameter stays a line.
        """
        lines = tuple(
            replace(one, girth=0.5e-3 * (one.diameter_mm or 0.0) / radius_m) for one in self.lines
        )
        thick = replace(self, lines=lines)
        if log_error > 0:
            # How far the exposure moves with the radius, taken over all orientations.
            # By both ends of the error of the radius: the exposure is no straight line in it.
            factor = float(np.exp(log_error))
            met = [thick.with_fractures_of(radius_m * f).exposure.of_uniform() for f in (factor, 1 / factor)]
            own = 0.5 * abs(float(np.log(met[1] / met[0])))
            thick = replace(thick, log_error=float(np.hypot(self.log_error, own)))
        return thick

    def line(self, name: str) -> SampledLine:
        """The line of this name; an InputError if there is none."""
        for one in self.lines:
            if one.name == name:
                return one
        known = ", ".join(one.name for one in self.lines)
        raise InputError(f"no hole or other line is called {name!r}; there are {known}")

    @cached_property
    def exposure(self) -> LineExposure:
        """Exposure of all that was logged; an InputError if nothing was."""
        return _exposure(self.logged, self.blind_angle_deg, self.log_error)

    @cached_property
    def unlogged(self) -> LineExposure | None:
        """Exposure that the lengths not logged would have given; None if all were logged.

        Without a blind angle: it counts what is there, not what a log would trust.
        """
        missed = [
            replace(one, logged_by={"none": one.gaps}, parts=())
            for one in self.lines
            if one.gaps
        ]
        return _exposure(missed, 0.0) if missed else None

    @cached_property
    def blind_share(self) -> float:
        """Share of all orientations that no logged length could see, 0 to 1."""
        return self.exposure.blind_share()

    def covers(self, fractures: pd.DataFrame) -> NDArray[np.bool_]:
        """Whether each fracture lies in a length logged by its own method.

        `fractures` has columns hole, depth_m and perhaps method (empty: any); shape (n,).
        """
        depth = fractures["depth_m"].to_numpy(dtype=np.float64)
        name = fractures["hole"].to_numpy()
        method = fractures["method"].fillna("").to_numpy() if "method" in fractures else None
        covered = np.zeros(len(fractures), dtype=bool)
        for one in self.lengths:
            inside = (name == one.line) & one.holds(depth)
            if method is not None:
                # An empty cell may be of any method that logged there.
                inside &= np.isin(method, [*one.method.split(" and "), ""])
            covered |= inside
        return covered


def _logged_by(hole: Hole) -> dict[str, Spans]:
    """What each method logged of a hole."""
    methods = {one.method for one in hole.logged}
    return {
        method: Spans([(one.from_m, one.to_m) for one in hole.logged if one.method == method])
        for method in methods
    }


def _recovered(hole: Hole, line: SampledLine) -> SampledLine:
    """The line; where core came out in part, its log has that share of the fractures."""
    partly = [one for one in hole.logged if one.recovered < 1.0]
    if not partly:
        return line
    zones = Spans([(one.from_m, one.to_m) for one in partly])
    parts = []
    for length in line.lengths:
        own = Spans([(length.from_m, length.to_m)])
        if length.method != "core":
            parts.append(length)
            continue
        parts += [length.clip(*ends) for ends in own.minus(zones)]
        for one in partly:
            inside = own.both(Spans([(one.from_m, one.to_m)]))
            parts += [replace(length.clip(*ends), detected=one.recovered) for ends in inside]
    return replace(line, parts=tuple(sorted(parts, key=lambda one: one.from_m)))


def _exposure(
    lines: Sequence[SampledLine], blind_angle_deg: float, log_error: float = 0.0
) -> LineExposure:
    """Exposure of the logged lengths of some lines, each metre by the share seen of it.

    Pieces within half a degree are gathered.
    """
    pieces = []
    for one in lines:
        for part in one.lengths:
            directions, metres = one.path.segments(part.from_m, part.to_m)
            pieces.append((directions, metres * part.seen, np.full(len(metres), one.girth)))
    if not pieces:
        raise InputError("nothing was logged, so nothing was sampled")
    directions, metres, girths = (np.concatenate(part) for part in zip(*pieces, strict=True))
    whole = LineExposure(
        directions, metres, blind_angle_deg=blind_angle_deg, log_error=log_error, girths=girths
    )
    return whole.merged()
