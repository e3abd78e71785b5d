"""The faces of a site from its tables, each with its traces."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.site import Site
from jointstats.faces.face import ON_OUTLINE_M, Face, outline_rule
from jointstats.results import Result
from jointstats.sphere.angles import as_azimuth, poles_from_dip
from jointstats.types import Array

ENDS_AT = ("from_across_m", "from_up_m", "to_across_m", "to_up_m")


class MappedFace(Result):
    """A face with the traces mapped on it.

    Attributes
    ----------
    face : Face
    length_m : ndarray, shape (n,)
        Of each trace in the window, metres.
    ends_seen : tuple of str
        "both", "one" or "none".
    poles : ndarray, shape (n, 3)
        Of the fractures; nan where a trace has no orientation.

    Examples
    --------
    >>> face = Face.rectangle("F1", 90, 0, 10, 5)
    >>> MappedFace(face, np.array([2.0]), ("both",), np.full((1, 3), np.nan)).is_oriented
    array([False])
    """

    face: Face
    length_m: Array
    ends_seen: tuple[str, ...]
    poles: Array

    @property
    def is_oriented(self) -> NDArray[np.bool_]:
        """Which traces have an orientation, (n,)."""
        return np.asarray(np.isfinite(self.poles).all(axis=1))

    def __repr__(self) -> str:
        return f"MappedFace({self.face.name}, {len(self.length_m)} traces)"


def text_corners(value: object) -> str:
    """The cell of an outline as text; empty where there is none."""
    return "" if value is None or value != value else str(value).strip()


def corners_of(text: str) -> Array | None:
    """Corners (m, 2) of an outline written as "0 0; 6 0; 6 3"; None if it can't be read."""
    try:
        return np.array([[float(one) for one in pair.split()] for pair in text.split(";")])
    except ValueError:
        return None


def face_rule(outline: str, width_m: float, height_m: float) -> str | None:
    """What is wrong with the window of a face, in words; None if nothing is."""
    if not outline:
        whole = np.isfinite([width_m, height_m]).all()
        return None if whole else "a face needs width_m and height_m, or an outline"
    corners = corners_of(outline)
    if corners is None:
        return "an outline is corners with ; between them, each across and up: 0 0; 6 0; 5.5 3; 0 3"
    return outline_rule(corners)


def faces_of(table: pd.DataFrame, north_deg: float = 0.0) -> list[Face]:
    """Faces of a checked table; `north_deg` is added to its azimuths."""
    found = []
    for row in table.to_dict("records"):
        attitude = (float(row["dip_deg"]), float(as_azimuth(row["dip_direction_deg"] + north_deg)))
        outline = text_corners(row.get("outline"))
        corners = corners_of(outline) if outline else None
        if corners is None:
            face = Face.rectangle(row["face"], *attitude, row["width_m"], row["height_m"])
            corners = face.outline_m
        place = [float(row.get(name, np.nan)) for name in ("easting_m", "northing_m", "elevation_m")]
        origin = (place[0], place[1], place[2]) if np.isfinite(place).all() else None
        found.append(Face(row["face"], *attitude, corners, origin))
    return found


def mapped_faces(site: Site) -> list[MappedFace]:
    """Every face of a site with its traces, from true north.

    Parameters
    ----------
    site : Site

    Returns
    -------
    list of MappedFace
        Nothing where none was mapped.

    Examples
    --------
    >>> import jointstats as js
    >>> mapped_faces(js.simulate_site(random_state=1))
    []
    """
    table, traces = site.tables.get("faces"), site.tables.get("face_traces")
    if table is None:
        return []
    north = site.settings.bearing_of("fractures")
    found = []
    for face in faces_of(table, north):
        own = pd.DataFrame({"face": []}) if traces is None else traces
        found.append(_mapped(face, own[own["face"] == face.name], north))
    return found


def _mapped(face: Face, traces: pd.DataFrame, north_deg: float) -> MappedFace:
    """The traces of one face: lengths and ends seen from the ends where these are given."""

    def numbers(name: str) -> Array:
        return traces[name].to_numpy(float) if name in traces else np.full(len(traces), np.nan)

    ends = np.column_stack([numbers(name) for name in ENDS_AT]).reshape(-1, 2, 2)
    length = np.where(
        np.isnan(ends).any(axis=(1, 2)),
        numbers("length_m"),
        np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1),
    )
    away = face.outline_distances_m(ends.reshape(-1, 2)).reshape(-1, 2)
    seen = np.array(["none", "one", "both"], dtype=object)[(away > ON_OUTLINE_M).sum(axis=1)]
    if "ends_seen" in traces:
        told = traces["ends_seen"].fillna("").to_numpy(object)
        seen = np.where(told == "", seen, told)
    dip, direction = numbers("dip_deg"), numbers("dip_direction_deg") + north_deg
    direction = np.where(dip == 0, 0.0, direction)
    poles, oriented = np.full((len(traces), 3), np.nan), np.isfinite(dip)
    if oriented.any():
        poles[oriented] = poles_from_dip(dip[oriented], as_azimuth(direction[oriented]))
    return MappedFace(face, length, tuple(seen.tolist()), poles)
