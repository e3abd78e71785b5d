"""From what was read on core and wall to true orientations, with their errors."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.bedding import level_poles
from jointstats.borehole.fractures import Fractures, Status, pole_columns
from jointstats.borehole.frame import poles_in_hole, reference_lines
from jointstats.borehole.hole import places_in_holes
from jointstats.borehole.rotation import run_lines
from jointstats.borehole.rows import rows_of_holes
from jointstats.borehole.wall import fit_wall, normal_and_error
from jointstats.borehole.wall_points import roll_of, trace_points, wall_points
from jointstats.checks import as_numbers, real_array
from jointstats.errors import InputError
from jointstats.sphere.angles import (
    as_azimuth,
    dip_from_poles,
    lines_from_trend,
    poles_from_dip,
)
from jointstats.sphere.axes import frame_about
from jointstats.types import Array, ArrayLike

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.settings import ReadingErrors
    from jointstats.borehole.site import Site


#: Step of the differences that carry errors through, degrees.
STEP_DEG = 1e-3


def _as_long(values: ArrayLike, n: int, name: str) -> Array:
    array = np.atleast_1d(real_array(values, name))
    if len(array) not in (1, n):
        raise InputError(f"{name} must have {n} values, or one; got {len(array)}")
    return np.broadcast_to(array, (n,))


def beta_as_drilled(beta_deg: Array, *, looking_up: ArrayLike, end_for_end: ArrayLike) -> Array:
    """β as it would have been read looking down the hole, the right end of the core first.

    `beta_deg` (n,): as read; `looking_up`: the angle was counted clockwise looking up the hole;
    `end_for_end`: the core lay the wrong way round. Gives (n,): 0 up to 360.
    """
    # Laid end for end, core is turned about an axis across it: the line keeps its side, and β runs backwards.
    turned = np.where(end_for_end, 180.0 - beta_deg, beta_deg)
    return as_azimuth(np.where(looking_up, -turned, turned))


def orient_core(
    alpha_deg: ArrayLike,
    beta_deg: ArrayLike,
    trend_deg: ArrayLike,
    plunge_deg: ArrayLike,
    reference: str = "low side",
    *,
    looking: str = "down",
    end_for_end: bool = False,
) -> Array:
    """Poles of planes from the angles α and β measured on oriented core.

    Parameters
    ----------
    alpha_deg : array_like, shape (n,)
        Acute angle between core axis and plane, degrees, 0 to 90 (90: square to the core).
    beta_deg : array_like, shape (n,)
        Angle round the core, clockwise looking down the hole, from the reference line to the
        lower (down-hole) end of the long axis of the ellipse that the plane cuts, 0 to 360.
    trend_deg, plunge_deg : array_like, shape (n,)
        Direction of the hole there, degrees; plunge positive downward.
    reference : str
        Where the reference line lies: "low side", "high side", or "north" (holes within 10° of
        vertical). Vertical holes have no low or high side.
    looking : str
        "down", or "up" where β was counted clockwise by someone who looked up the hole.
    end_for_end : bool
        The core lay the wrong way round, so that its upper end was taken for the lower.

    Returns
    -------
    ndarray, shape (n, 3)
        Poles on the lower hemisphere.

    Raises
    ------
    InputError
        If an angle is out of range, lengths differ, or the reference is not defined there.

    Notes
    -----
    Derived from the geometry of the ellipse; checked against ellipses built point by point.

    Examples
    --------
    A vertical hole meets a plane that dips 60° to the east: 30° to the core, its lowest point
    on the east side of the wall. Looking down, east is clockwise of north:

    >>> import jointstats as js
    >>> dip, direction = js.dip_from_poles(js.orient_core(30, 90, 0, 90, "north"))
    >>> dip.round(6), direction.round(6)
    (array([60.]), array([90.]))
    """
    alpha = as_numbers(alpha_deg, "alpha_deg", low=0, high=90)
    beta = as_numbers(beta_deg, "beta_deg", low=0, high=360)
    if looking not in ("down", "up"):
        raise InputError(f'looking must be "down" or "up"; got {looking!r}')
    lines = lines_from_trend(trend_deg, plunge_deg)
    n = max(len(alpha), len(beta), len(lines))
    if len(lines) not in (1, n):
        raise InputError(f"trend_deg and plunge_deg must have {n} values, or one; got {len(lines)}")
    lines = np.broadcast_to(lines, (n, 3))
    turned = beta_as_drilled(beta, looking_up=looking == "up", end_for_end=end_for_end)
    return poles_in_hole(
        _as_long(alpha, n, "alpha_deg"),
        _as_long(turned, n, "beta_deg"),
        lines,
        reference_lines(lines, reference),
    )


def _column(table: pd.DataFrame, name: str) -> Array:
    if name not in table:
        return np.full(len(table), np.nan)
    return table[name].to_numpy(dtype=np.float64)


def _says(table: pd.DataFrame, name: str, word: str) -> NDArray[np.bool_]:
    if name not in table:
        return np.zeros(len(table), dtype=bool)
    return (table[name] == word).to_numpy(dtype=bool)


def hole_directions(site: Site, table: pd.DataFrame) -> Array:
    """Direction of the hole at each row of a table with columns hole and depth_m.

    Gives (n, 3).
    """
    depth = table["depth_m"].to_numpy(dtype=np.float64)
    directions = np.full((len(table), 3), np.nan)
    names = [hole.name for hole in site.holes]
    for hole, own in zip(site.holes, rows_of_holes(table["hole"], names), strict=True):
        directions[own] = hole.path.direction(depth[own])
    return directions


def orient_fractures(site: Site, *, level_bedding: bool = False) -> pd.DataFrame:
    """Every fracture of a site with its true orientation, where it has one.

    Parameters
    ----------
    site : Site
        From `read_site`.
    level_bedding : bool
        Give each plane relative to the bedding of the site too.

    Returns
    -------
    pandas.DataFrame
        The fractures of the site, in their order, and: true_dip_deg, true_dip_direction_deg,
        pole_east, pole_north, pole_up (empty where not oriented); oriented_from ("dip and dip
        direction", "alpha and beta", "image dip and azimuth", "trace", "not oriented"; where a
        row has several, the first of these); hole_angle_deg, the acute angle between hole and
        plane there (90: the plane is square to the hole); angular_error_deg, the root mean
        square angle between the pole and the true one, from the errors that site.toml states
        and the scatter of traces (empty where nothing is known of it); easting_m, northing_m,
        elevation_m, where the hole met it, from its collar and path (empty where the collar is not
        known); with `level_bedding`, level_dip_deg and level_dip_direction_deg.

    Raises
    ------
    InputError
        If readings need a reference line and it is not given, or is not defined in a hole; or
        `level_bedding` is asked for and the site has no bedding.

    Examples
    --------
    >>> import jointstats as js
    >>> table = js.orient_fractures(js.simulate_site(random_state=1))
    >>> bool((table["true_dip_deg"] - table["dip_deg"]).abs().max() < 1e-9)
    True
    """
    frame = readings_of(site).to_frame()
    return _level(frame, site) if level_bedding else frame


def readings_of(site: Site) -> Readings:
    """The fractures of a site oriented, each from the first of its readings that does."""
    result = Readings(site, site.fractures)
    # The first that a row has is used; where two disagree `contradictions` says so.
    result.from_dip()
    result.from_core()
    result.from_image()
    result.from_traces()
    return result


def poles_by_reading(site: Site) -> dict[str, tuple[Array, Array]]:
    """Poles, shape (n, 3), and their errors in radians by each kind of reading on its own."""
    found = {}
    for step in (Readings.from_dip, Readings.from_core, Readings.from_image):
        alone = Readings(site, site.fractures)
        step(alone)
        read = np.isfinite(alone.poles[:, 2])
        if read.any():
            found[str(alone.source[read][0])] = (alone.poles, alone.error)
    return found


def _level(frame: pd.DataFrame, site: Site) -> pd.DataFrame:
    if site.settings.true_bedding is None and "bedding" not in site.tables:
        raise InputError(
            "the site has no bedding; give bedding, its dip_deg and dip_direction_deg, in "
            "site.toml, or a table of bedding by hole and interval"
        )
    # Levelled last, from poles that already stand against true north.
    turned = level_poles(site, frame, Fractures(frame).poles.astype(np.float64))
    known = np.isfinite(turned[:, 2])
    level = np.full((2, len(frame)), np.nan)
    if known.any():
        level[:, known] = dip_from_poles(turned[known])
    return frame.assign(level_dip_deg=level[0], level_dip_direction_deg=level[1])


class Readings:
    """Poles of the fractures of a site, filled in from one kind of reading after the other."""

    def __init__(self, site: Site, table: pd.DataFrame) -> None:
        self.site, self.table = site, table
        self.errors: ReadingErrors = site.settings.errors
        self.directions = hole_directions(site, table)
        self.poles = np.full((len(table), 3), np.nan)
        self.error = np.full(len(table), np.nan)  # radians, root mean square
        self.source = np.full(len(table), Status.NOT_ORIENTED.value, dtype=object)
        self.round = np.full((len(table), 2), np.nan)  # α and β from the reference line, as used

    def _open(self) -> NDArray[np.bool_]:
        return np.isnan(self.poles[:, 2])

    def from_dip(self) -> None:
        """Planes given as they are."""
        dip, azimuth = _column(self.table, "dip_deg"), _column(self.table, "dip_direction_deg")
        rows = ~np.isnan(dip) & (~np.isnan(azimuth) | (dip == 0))
        north = self.site.settings.bearing_of("fractures")
        azimuth = as_azimuth(np.nan_to_num(azimuth) + north)
        self.poles[rows] = poles_from_dip(dip[rows], azimuth[rows])
        self.source[rows] = "dip and dip direction"
        if self.errors.dip_deg is not None and self.errors.dip_direction_deg is not None:
            # A step in azimuth moves the pole by its sine of dip: at dip 10° the azimuth hardly counts.
            sine = np.sin(np.radians(dip[rows]))
            self.error[rows] = np.radians(
                np.hypot(self.errors.dip_deg, sine * self.errors.dip_direction_deg)
            )

    def from_core(self) -> None:
        """Planes read on core by α and β."""
        alpha, beta = _column(self.table, "alpha_deg"), _column(self.table, "beta_deg")
        runs = run_lines(self.site.tables.get("runs"), self.table)
        rows = self._open() & ~np.isnan(alpha)
        # Square to the core the plane is known whatever β is, and so whatever the line is worth.
        rows &= (~np.isnan(beta) & runs.usable) | (alpha == 90)
        beta = beta_as_drilled(
            np.nan_to_num(beta),
            looking_up=_says(self.table, "looking", "up"),
            end_for_end=_says(self.table, "end_for_end", "yes"),
        )
        beta = as_azimuth(beta + runs.offset_deg)
        spread = (self.errors.alpha_deg, self.errors.beta_deg)
        self._from_angles(rows, alpha, beta, spread, "alpha and beta", runs.error_deg)

    def from_image(self) -> None:
        """Planes read on the unrolled wall."""
        dip = _column(self.table, "image_dip_deg")
        azimuth = _column(self.table, "image_azimuth_deg")
        rows = self._open() & ~np.isnan(dip) & (~np.isnan(azimuth) | (dip == 0))
        azimuth = as_azimuth(np.nan_to_num(azimuth) + roll_of(self.site, self.table))
        spread = (self.errors.image_dip_deg, self.errors.image_azimuth_deg)
        # A dip against the hole is counted from square to it, α from the hole itself.
        self._from_angles(rows, 90.0 - dip, azimuth, spread, "image dip and azimuth")

    def _from_angles(
        self,
        rows: NDArray[np.bool_],
        alpha: Array,
        beta: Array,
        spread: tuple[float | None, float | None],
        source: str,
        line_error: Array | None = None,
    ) -> None:
        at = np.flatnonzero(rows)
        if not len(at):
            return
        a, b, lines = alpha[at], beta[at], self.directions[at]
        place = self._placing(at)
        self.poles[at] = poles_in_hole(a, b, lines, place(lines))
        self.source[at] = source
        self.round[at] = np.column_stack([a, b])
        if spread[0] is None or spread[1] is None:
            return
        line = np.full(len(at), np.nan) if line_error is None else line_error[at]
        line = np.where(np.isnan(line), self.errors.roll_deg or 0.0, line)
        # The line of a run is one more error round the hole, where it is stated, else that of the tool.
        round_hole = np.hypot(spread[1], line)
        # Round the hole the pole moves on a circle of radius cos α: near square to the core β hardly matters.
        square = np.radians(spread[0]) ** 2 + (np.cos(np.radians(a)) * np.radians(round_hole)) ** 2
        square += self._survey_square(lambda d: poles_in_hole(a, b, d, place(d)), lines)
        self.error[at] = np.sqrt(square)

    def _survey_square(self, poles_for: Callable[[Array], Array], lines: Array) -> Array:
        """Mean square turn of poles by the error of the survey, by differences."""
        if not self.errors.survey_deg:
            return np.zeros(len(lines))
        step = np.radians(STEP_DEG)
        total = np.zeros(len(lines))
        # By differences, since the reference line turns with the hole: two ways to be off, taken in quadrature.
        frames = np.array([frame_about(line) for line in lines])
        for k in (0, 1):
            moved = lines + step * frames[:, k]
            moved /= np.linalg.norm(moved, axis=1, keepdims=True)
            turn = np.linalg.norm(np.cross(poles_for(moved), poles_for(lines)), axis=1) / step
            total += (turn * np.radians(self.errors.survey_deg)) ** 2
        return total

    def _placing(self, at: NDArray[np.intp]) -> Callable[[Array], Array]:
        """A function that gives the reference line of each row for directions of its hole."""
        references = self.site.references(self.table.iloc[at])
        if (references == "").any():
            raise InputError(
                "readings round the hole are given, but not where their reference line lies; "
                'set reference to "low side", "high side" or "north" in site.toml'
            )
        north = self.site.settings.bearing_of("fractures")

        def place(lines: Array) -> Array:
            radial = np.empty_like(lines)
            for reference in dict.fromkeys(references):
                own = references == reference
                radial[own] = reference_lines(lines[own], reference, north_deg=north)
            return radial

        return place

    def from_traces(self) -> None:
        """Planes fitted to points picked on the wall."""
        if wall_points(self.site) is None or "fracture" not in self.table:
            return
        at = np.flatnonzero(self._open() & (self.table["fracture"] != "").to_numpy(dtype=bool))
        groups = trace_points(self.site, self.table.iloc[at])
        at = at[[points is not None for points in groups]]
        if not len(at):
            return
        lines = self.directions[at]
        fits = [
            fit_wall(
                *points,
                pick_error_mm=self.errors.pick_mm,
                radius_error_mm=(self.errors.diameter_mm or 0.0) / 2.0,
            )
            for points in groups
            if points is not None
        ]
        slopes = np.array([fit.slope for fit in fits])
        alpha = np.degrees(np.arctan2(1.0, np.hypot(*slopes.T)))
        beta = as_azimuth(np.degrees(np.arctan2(slopes[:, 1], slopes[:, 0])))
        place = self._placing(at)
        self.poles[at] = poles_in_hole(alpha, beta, lines, place(lines))
        self.source[at] = "trace"
        self.round[at] = np.column_stack([alpha, beta])
        square = np.array([normal_and_error(f.slope, f.covariance)[1] for f in fits]) ** 2
        square += (np.cos(np.radians(alpha)) * np.radians(self.errors.roll_deg or 0.0)) ** 2
        square += self._survey_square(lambda d: poles_in_hole(alpha, beta, d, place(d)), lines)
        self.error[at] = np.sqrt(square)

    def to_frame(self) -> pd.DataFrame:
        """The table with its orientations."""
        oriented = ~self._open()
        poles, lines = self.poles[oriented], self.directions[oriented]
        dip, direction = np.full((2, len(self.table)), np.nan)
        dip[oriented], direction[oriented] = dip_from_poles(poles)
        angle = _column(self.table, "alpha_deg").copy()
        along = np.abs((poles * lines).sum(axis=1))
        across = np.linalg.norm(np.cross(poles, lines), axis=1)
        angle[oriented] = np.degrees(np.arctan2(along, across))
        return self.table.assign(
            true_dip_deg=dip,
            true_dip_direction_deg=direction,
            **pole_columns(self.poles),
            oriented_from=self.source,
            hole_angle_deg=angle,
            angular_error_deg=np.degrees(self.error),
            **places_in_holes(self.site.holes, self.table, self.site.settings.convergence_deg),
        )
