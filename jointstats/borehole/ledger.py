"""How each fracture came by its orientation: what was written, and what each correction did to it.

Corrections are made in one order: ties of depth, rotation of the tool, sense in which β was read, line of
the run, direction of the hole at the depth, north, bedding. What one of them turned a pole by is the
angle between the pole and what it would be without that correction and with all the others.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.fractures import Status
from jointstats.borehole.orient import Readings, orient_fractures, readings_of
from jointstats.borehole.rotation import run_lines
from jointstats.borehole.settings import ReadingErrors, SiteSettings
from jointstats.borehole.wall_points import roll_of
from jointstats.errors import InputError
from jointstats.sphere.angles import trend_from_lines
from jointstats.types import Array

if TYPE_CHECKING:
    from jointstats.borehole.site import Site

_WRITTEN = ("alpha_deg", "beta_deg", "image_dip_deg", "image_azimuth_deg", "fracture")
_WRITTEN_TRUE = ("dip_deg", "dip_direction_deg", "looking", "end_for_end", "run")


def ledger_of(site: Site) -> pd.DataFrame:
    """Every fracture with its reading as written, each correction, and the orientation it ends in.

    Parameters
    ----------
    site : Site
        From `read_site`.

    Returns
    -------
    pandas.DataFrame
        One row a fracture: row (of its table, as the file counts), hole, logged_depth_m as
        written and depth_m after ties; what was read; oriented_from; reference; roll_deg,
        beta_offset_deg; alpha_used_deg and beta_used_deg, from the reference line after all
        corrections; hole_trend_deg, hole_plunge_deg at the depth; north_deg, the bearing of the
        north of the fractures from true north; true_dip_deg, true_dip_direction_deg and, with a
        bedding, level_dip_deg and level_dip_direction_deg; what each correction turned the pole
        by (ties_turned_deg, roll_turned_deg, sense_turned_deg, run_turned_deg, north_turned_deg);
        angular_error_deg, and error_line_deg and error_survey_deg, the parts of it that the
        reference line and the survey bring (squares add up).

    Examples
    --------
    >>> import jointstats as js
    >>> table = ledger_of(js.simulate_site(random_state=1))
    >>> bool((table["north_turned_deg"] == 0).all())
    True
    """
    read, table = readings_of(site), site.fractures
    level = site.settings.true_bedding is not None or "bedding" in site.tables
    frame = orient_fractures(site, level_bedding=level)
    trend, plunge = trend_from_lines(read.directions)
    given = [name for name in (*_WRITTEN, *_WRITTEN_TRUE) if name in table]
    logged = table["logged_depth_m" if "logged_depth_m" in table else "depth_m"]
    dips = ("true_dip_deg", "true_dip_direction_deg", "level_dip_deg", "level_dip_direction_deg")
    oriented = [name for name in dips if name in frame]
    # What a correction did is the angle to the pole without it, all others left as they are: corrections do not add up,
    # but each figure can be had again by leaving one table out.
    lost = _without(site, read)
    parts: dict[str, Any] = {
        "row": site.rows if len(site.rows) == len(table) else range(len(table)),
        "hole": table["hole"],
        "logged_depth_m": logged,
        "depth_m": table["depth_m"],
        **{name: table[name] for name in given},
        "oriented_from": frame["oriented_from"],
        "reference": site.references(table),
        "roll_deg": roll_of(site, table),
        "beta_offset_deg": run_lines(site.tables.get("runs"), table).offset_deg,
        "alpha_used_deg": read.round[:, 0],
        "beta_used_deg": read.round[:, 1],
        "hole_trend_deg": trend,
        "hole_plunge_deg": plunge,
        "north_deg": site.settings.bearing_of("fractures"),
        **{name: frame[name] for name in oriented},
        **{f"{name}_turned_deg": _turned(read.poles, poles) for name, poles in lost.items()},
        "angular_error_deg": frame["angular_error_deg"],
        "error_line_deg": _part(site, read, roll_deg=None),
        "error_survey_deg": _part(site, read, survey_deg=None),
    }
    return pd.DataFrame(parts)


def explain_fracture(site: Site, row: int) -> str:
    """One fracture's way from reading to orientation, in sentences.

    Parameters
    ----------
    site : Site
    row : int
        Place among the fractures of the site, from 0.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If there is no such fracture.

    Examples
    --------
    >>> import jointstats as js
    >>> explain_fracture(js.simulate_site(random_state=1), 0).splitlines()[0]
    'Row 0, hole H1, 0.4421 m: read from dip and dip direction.'
    """
    if not 0 <= row < len(site.fractures):
        raise InputError(f"row must lie between 0 and {len(site.fractures) - 1}; got {row}")
    one = ledger_of(replace(site, fractures=site.fractures.iloc[[row]], rows=site.rows[row : row + 1]))
    told = one.iloc[0]
    number = told["row"] if site.rows else row
    source = told["oriented_from"]
    read = source if source == Status.NOT_ORIENTED else f"read from {source}"
    lines = [f"Row {number}, hole {told['hole']}, {told['logged_depth_m']:.4g} m: {read}."]
    for name, words in _STEPS.items():
        if told[f"{name}_turned_deg"] > 0:
            lines.append(f"{words(told)}; turned the pole by {told[f'{name}_turned_deg']:.2f}°.")
    if np.isfinite(told["true_dip_deg"]):
        lines.append(
            f"The hole points {told['hole_trend_deg']:05.1f}/{told['hole_plunge_deg']:.1f} there; "
            f"the plane is {told['true_dip_deg']:.1f}/{told['true_dip_direction_deg']:05.1f}."
        )
    if np.isfinite(told["angular_error_deg"]):
        lines.append(f"Its angular error is {told['angular_error_deg']:.1f}°.")
    return "\n".join(lines)


_STEPS: dict[str, Callable[[pd.Series], str]] = {
    "ties": lambda one: f"Ties moved its depth to {one['depth_m']:.4g} m",
    "roll": lambda one: f"The rotation of the tool, {one['roll_deg']:.1f}°, was added",
    "sense": lambda one: "Beta was turned to the sense of looking down the hole",
    "run": lambda one: f"The line of its run, {one['beta_offset_deg']:.1f}°, was added",
    "north": lambda one: f"Azimuths were turned by {one['north_deg']:.2f}° to true north",
}


def corrections_of(site: Site) -> pd.DataFrame:
    """What each correction was, over all fractures that it was applied to, and how far it turned them.

    Parameters
    ----------
    site : Site

    Returns
    -------
    pandas.DataFrame
        One row for each correction that was applied: correction, n (fractures), low, high (of
        what was added, by `unit`: "m" or "°"; both NaN where it is no number), unit,
        turned_low_deg, turned_high_deg (angle between the pole and what it would be without it).

    Examples
    --------
    >>> import jointstats as js
    >>> len(corrections_of(js.simulate_site(random_state=1)))
    0
    """
    table = ledger_of(site)
    core = (table["oriented_from"] == "alpha and beta").to_numpy()
    wall = table["oriented_from"].isin(["image dip and azimuth", "trace"]).to_numpy()
    oriented = table["true_dip_deg"].notna().to_numpy()
    senses = [name for name in ("looking", "end_for_end") if name in table]
    changed = table[senses].isin(["up", "yes"]).any(axis=1).to_numpy()
    shift = (table["depth_m"] - table["logged_depth_m"]).to_numpy(float)
    found: list[tuple[str, NDArray[np.bool_], Array, str]] = [
        ("ties", np.abs(shift) > 0, shift, "m"),
        ("roll", wall, _short_way(table["roll_deg"]), "°"),
        ("sense", core & changed, np.full(len(table), np.nan), ""),
        ("run", core, _short_way(table["beta_offset_deg"]), "°"),
        ("north", oriented, table["north_turned_deg"].to_numpy(float), "°"),
    ]
    rows = []
    for name, applies, value, unit in found:
        own = applies & (value != 0)
        turned = np.nan_to_num(table[f"{name}_turned_deg"].to_numpy(float)[own])
        if name == "north":
            value = np.full(len(table), site.settings.bearing_of("fractures"))
        if own.any():
            rows.append((name, int(own.sum()), value[own].min(), value[own].max(), unit)
                        + (turned.min(), turned.max()))
    return pd.DataFrame(rows, columns=_CORRECTION)


_CORRECTION = ["correction", "n", "low", "high", "unit", "turned_low_deg", "turned_high_deg"]


def _short_way(angle_deg: pd.Series) -> Array:
    """Angles as turns of less than half a circle, either way."""
    return (angle_deg.to_numpy(float) + 180.0) % 360.0 - 180.0


def applied(found: pd.DataFrame) -> list[str]:
    """Sentences on what each correction was, and to how many fractures: of `corrections_of`."""
    told = []
    for row in found.to_dict("records"):
        what, of = _KINDS[row["correction"]]
        low, high = (f"{row[end]:.3g}".replace("-", "−") for end in ("low", "high"))
        size = f" of {low if low == high else f'{low} to {high}'}{_space(row['unit'])}" if row["unit"] else ""
        turned = ""
        if row["turned_high_deg"] >= _TELLING_DEG:
            turned = f", turning their poles by {row['turned_low_deg']:.1f} to {row['turned_high_deg']:.1f}°"
        told.append(f"{what}{size} applied to {row['n']} {of}{turned}")
    return told


#: A turn below this is not told, degrees.
_TELLING_DEG = 0.05


def _space(unit: str) -> str:
    return unit if unit == "°" else f" {unit}"


_KINDS = {
    "ties": ("ties of depth", "fractures"),
    "roll": ("tool rotations", "picks on the wall"),
    "sense": ("the sense of looking down the hole", "readings of core"),
    "run": ("orientation lines", "readings of core"),
    "north": ("bearings of their north", "fractures"),
}


def station_residuals(site: Site) -> pd.DataFrame:
    """How far each tie of depth and each tool rotation lies from what its neighbours would give.

    Parameters
    ----------
    site : Site

    Returns
    -------
    pandas.DataFrame
        kind ("ties", in m, or "rolls", in degrees), hole, depth_m, value (image less core depth;
        the rotation), residual: value less that interpolated between the stations before and
        after it; NaN at the ends of a hole, where nothing checks it.

    Examples
    --------
    >>> import jointstats as js
    >>> station_residuals(js.simulate_site(random_state=1)).columns.tolist()
    ['kind', 'hole', 'depth_m', 'value', 'residual']
    """
    rows: list[tuple[str, str, float, float, float]] = []
    for kind, columns in (("ties", ("core_depth_m", "image_depth_m")), ("rolls", ("depth_m", "roll_deg"))):
        table = site.tables.get(kind)
        if table is None or not set(columns) <= set(table):
            continue
        known = table.dropna(subset=list(columns)).sort_values(["hole", columns[0]], kind="stable")
        for hole, own in known.groupby("hole", sort=False):
            depth, value = own[list(columns)].to_numpy(float).T
            value = np.unwrap(value, period=360.0) if kind == "rolls" else value - depth
            rest = np.full(len(depth), np.nan)
            for at in range(1, len(depth) - 1):
                ends = [at - 1, at + 1]
                # A station held against the line through its neighbours: a slip stands out, a steady trend does not.
                rest[at] = value[at] - np.interp(depth[at], depth[ends], value[ends])
            rows += [(kind, str(hole), *one) for one in zip(depth, value, rest, strict=True)]
    return pd.DataFrame(rows, columns=["kind", "hole", "depth_m", "value", "residual"])


@dataclass(frozen=True)
class Fracture:
    """One fracture of a site.

    Parameters
    ----------
    site : Site
    row : int
        Place among the fractures of the site, from 0.

    Examples
    --------
    >>> import jointstats as js
    >>> Fracture(js.simulate_site(random_state=1), 0).explain().splitlines()[0]
    'Row 0, hole H1, 0.4421 m: read from dip and dip direction.'
    """

    site: Site
    row: int

    def explain(self) -> str:
        """Its way from reading to orientation, in sentences, as `explain_fracture` tells it."""
        return explain_fracture(self.site, self.row)


def _without(site: Site, read: Readings) -> dict[str, Array]:
    """Poles without each correction in turn, and with all the others."""
    table = site.fractures
    back = table.assign(depth_m=table["logged_depth_m"]) if "logged_depth_m" in table else table
    senses = [name for name in ("looking", "end_for_end") if name in table]

    def less(key: str) -> Site:
        return replace(site, tables={k: one for k, one in site.tables.items() if k != key})

    return {
        "ties": readings_of(replace(site, fractures=back)).poles,
        "roll": readings_of(less("rolls")).poles,
        "sense": readings_of(replace(site, fractures=table.drop(columns=senses))).poles,
        "run": readings_of(less("runs")).poles,
        "north": _unturned(site, read),
    }


def _unturned(site: Site, read: Readings) -> Array:
    """Poles turned back by the bearing of the north that their reading rests on.

    A plane given as it lies rests on the north of the fractures, one read in the hole on that of the
    survey, and one read from north on the wall on both, which are then taken for one.
    """
    settings = site.settings
    surveyed = "surveys" if "surveys" in site.tables else "holes"
    # A true dip was read against the north of the fractures, all else against that of the survey of the hole.
    own = read.source == "dip and dip direction"
    turn = np.radians(
        np.where(own, settings.bearing_of("fractures"), settings.bearing_of(surveyed))
    )
    east, north, up = read.poles.T
    cosine, sine = np.cos(turn), np.sin(turn)
    return np.column_stack([cosine * east - sine * north, sine * east + cosine * north, up])


def _turned(poles: Array, other: Array) -> Array:
    """Angle between poles, degrees; NaN where either is missing."""
    # By the arc tangent of both products: exact for small angles, and an axis has no sign.
    across = np.linalg.norm(np.cross(poles, other), axis=1)
    return np.degrees(np.arctan2(across, np.abs((poles * other).sum(axis=1))))


def _part(site: Site, read: Readings, **none: None) -> Array:
    """What an error brings to the whole, degrees: the root of what its square adds."""
    errors: ReadingErrors = replace(site.settings.errors, **none)
    settings: SiteSettings = replace(site.settings, errors=errors)
    rest = readings_of(replace(site, settings=settings)).error
    # Independent errors add up as squares, so the share of one is what is missing without it.
    return np.degrees(np.sqrt(np.maximum(read.error**2 - rest**2, 0.0)))
