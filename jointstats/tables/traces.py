"""Checks of traces: points picked on the wall of a hole, and lines mapped on a face."""

from __future__ import annotations

import numpy as np

from jointstats.borehole.rows import grouped_rows
from jointstats.errors import Fault
from jointstats.faces.face import ON_OUTLINE_M, Face
from jointstats.faces.site_faces import ENDS_AT, face_rule, faces_of, text_corners
from jointstats.sphere.angles import as_azimuth
from jointstats.tables.names import HoleNames
from jointstats.tables.raw_table import RawTable


def trace_faults(tables: dict[str, RawTable], names: HoleNames) -> list[Fault]:
    """Traces without a fracture, with too few points, or in a hole of unknown diameter.

    So for points on ring-shaped pictures, which must lie in what their mirror shows too.
    """
    fractures = tables.get("fractures")
    if fractures is None or not fractures.has("hole"):
        return []
    faults: list[Fault] = []
    there = [tables[key] for key in ("traces", "rings") if key in tables]
    if there and not fractures.has("fracture"):
        files = " and ".join(picks.file for picks in there)
        rule = f"the column is missing, and {files} name fractures; give each its name"
        return [Fault(fractures.file, fractures.header_line, "fracture", "", rule)]
    for key in ("traces", "rings"):
        picks = tables.get(key)
        if picks is not None and picks.has("hole", "fracture", "angle_deg", "depth_m"):
            faults += _picked_faults(key, picks, fractures, names)
            faults += _no_diameter(picks, tables["holes"], names)
    if faults or ("traces" in tables or "rings" in tables):
        faults += _named_twice(fractures)
    return faults + _mirror_faults(tables.get("rings"), tables.get("mirrors"))


def _picked_faults(
    key: str, traces: RawTable, fractures: RawTable, names: HoleNames
) -> list[Fault]:
    wrong = traces.wrong()
    faults = []
    listed = set(zip(fractures.words("hole"), fractures.words("fracture"), strict=True))
    unsure = fractures.wrong("hole", "fracture").any() or "fractures" in names.unknown_in
    for (hole, fracture), rows in grouped_rows(
        traces.words("hole"), traces.words("fracture")
    ).items():
        if hole not in names.row or not fracture or wrong[rows].any():
            continue
        first = int(rows[0])
        if (hole, fracture) not in listed and not unsure:
            rule = f"no fracture of this name in hole {hole!r} of {fractures.file}"
            faults.append(traces.fault(first, "fracture", fracture, rule))
            continue
        angles = np.unique(np.round(as_azimuth(traces.numbers("angle_deg")[rows]), 6))
        if len(angles) < 3 and key not in names.unknown_in and not traces.wrong().any():
            rule = (
                f"its trace has {len(rows)} points at {len(angles)} angles; "
                "a plane needs three at different angles"
            )
            faults.append(traces.fault(first, "fracture", fracture, rule))
    return faults


def _mirror_faults(rings: RawTable | None, mirrors: RawTable | None) -> list[Fault]:
    """Rings without a mirror, mirrors that give no depth, and picks outside what one shows."""
    if rings is None or not rings.has("radius"):
        return []
    if mirrors is None:
        rule = "is needed beside rings: the radii that a mirror shows, and the depth of each"
        return [Fault("mirrors", None, None, "", rule)]
    if mirrors.wrong().any() or not mirrors.has("mirror", "radius", "offset_m"):
        return []
    faults, radius = [], mirrors.numbers("radius")
    shown = {}
    for name in dict.fromkeys(mirrors.words("mirror")):
        own = radius[mirrors.words("mirror") == name]
        shown[name] = (own.min(), own.max())
        if len(np.unique(own)) < max(len(own), 2):
            rule = f"mirror {name!r} needs two different radii or more, each once"
            first = int(np.flatnonzero(mirrors.words("mirror") == name)[0])
            faults.append(mirrors.fault(first, "mirror", name, rule))
    named = rings.words("mirror")
    for row in np.flatnonzero(~rings.wrong("radius")):
        name = named[row] or (next(iter(shown)) if len(shown) == 1 else "")
        if name not in shown:
            rule = f"{mirrors.file} has no such mirror; it has {', '.join(shown)}"
            faults.append(rings.fault(int(row), "mirror", name, rule))
        elif not shown[name][0] <= rings.numbers("radius")[row] <= shown[name][1]:
            low, high = shown[name]
            rule = f"mirror {name!r} shows radii from {low:g} to {high:g}"
            value = float(rings.numbers("radius")[row])
            faults.append(rings.fault(int(row), "radius", value, rule))
    return faults


def _named_twice(fractures: RawTable) -> list[Fault]:
    faults = []
    for (hole, fracture), rows in grouped_rows(
        fractures.words("hole"), fractures.words("fracture")
    ).items():
        if fracture and hole and len(rows) > 1:
            rule = f"hole {hole!r} has this name in row {fractures.lines[rows[0]]} too"
            faults.append(fractures.fault(int(rows[1]), "fracture", fracture, rule))
    return faults


def _no_diameter(traces: RawTable, holes: RawTable, names: HoleNames) -> list[Fault]:
    diameter, wrong = traces.numbers("diameter_mm"), traces.wrong("diameter_mm")
    faults = []
    for (hole, at), rows in zip(names.row.items(), traces.rows_of(list(names.row)), strict=True):
        known = not np.isnan(holes.numbers("diameter_mm")[at]) or holes.wrong("diameter_mm")[at]
        if len(rows) and not known and (np.isnan(diameter[rows]) & ~wrong[rows]).any():
            rule = f"hole {hole!r} has traces in {traces.file}, which need its diameter"
            faults.append(holes.fault(at, "diameter_mm", "", rule))
    return faults


def face_faults(tables: dict[str, RawTable]) -> list[Fault]:
    """Windows that enclose nothing, faces named twice or not known, and traces without a length or outside."""
    faces, traces = tables.get("faces"), tables.get("face_traces")
    if faces is None:
        rule = "is needed beside face_traces: the attitude and window of each face"
        return [] if traces is None else [Fault("faces", None, None, "", rule)]
    if not faces.has("face", "dip_deg", "dip_direction_deg") or faces.wrong().any():
        return []
    faults, known = _window_faults(faces)
    if traces is None or not traces.has("face") or faults:
        return faults
    wrong = traces.wrong()
    for row, name in enumerate(traces.words("face")):
        if wrong[row]:
            continue
        if name not in known:
            rule = f"no face of this name in {faces.file}; it has {', '.join(known)}"
            faults.append(traces.fault(row, "face", name, rule))
        else:
            faults += _mapped_faults(traces, row, known[name])
    return faults


def _window_faults(faces: RawTable) -> tuple[list[Fault], dict[str, Face]]:
    """Faults of the faces themselves; else every face by its name."""
    faults = []
    names = faces.words("face").tolist()
    for row, name in enumerate(names):
        if name in names[:row]:
            rule = f"this face stands in row {faces.lines[names.index(name)]} too"
            faults.append(faces.fault(row, "face", name, rule))
        outline = _outline_of(faces, row)
        size = (float(faces.numbers("width_m")[row]), float(faces.numbers("height_m")[row]))
        wrong = face_rule(outline, *size)
        if wrong is not None:
            column = "outline" if outline else "width_m"
            faults.append(faces.fault(row, column, outline, wrong))
    if faults:
        return faults, {}
    if faces.has("outline") and faces.decimal == ",":
        faces.replace({"outline": [_outline_of(faces, row) for row in range(len(faces))]})
    return [], {face.name: face for face in faces_of(faces.cells)}


def _outline_of(faces: RawTable, row: int) -> str:
    """Corners of a window as text with decimal points."""
    text = text_corners(faces.words("outline")[row])
    return text.replace(",", ".") if faces.decimal == "," else text


def _mapped_faults(traces: RawTable, row: int, face: Face) -> list[Fault]:
    """What is wrong with one trace on its face."""
    ends = np.array([float(traces.numbers(name)[row]) for name in ENDS_AT])
    dips = [float(traces.numbers(name)[row]) for name in ("dip_deg", "dip_direction_deg")]
    if np.isnan(ends).any() and not np.isnan(ends).all():
        at = ENDS_AT[int(np.flatnonzero(np.isnan(ends))[0])]
        return [traces.fault(row, at, "", f"give all of {', '.join(ENDS_AT)}, or none")]
    if np.isnan(dips[0]) != np.isnan(dips[1]) and dips[0] != 0:
        at = "dip_direction_deg" if np.isnan(dips[1]) else "dip_deg"
        return [traces.fault(row, at, "", "is empty beside the other; give both or neither")]
    if np.isnan(ends).all():
        if np.isnan(traces.numbers("length_m")[row]):
            rule = f"a trace needs its length in the window, or {', '.join(ENDS_AT)}"
            return [traces.fault(row, "length_m", "", rule)]
        if not traces.words("ends_seen")[row]:
            rule = "a trace without its ends needs how many of them are seen: both, one or none"
            return [traces.fault(row, "ends_seen", "", rule)]
        return []
    away = face.outline_distances_m(ends.reshape(2, 2))
    if (away < -ON_OUTLINE_M).any():
        at = ENDS_AT[2 * int(np.argmin(away))]
        rule = f"this end lies {-away.min():.2f} m outside the window of face {face.name!r}"
        return [traces.fault(row, at, float(ends[2 * int(np.argmin(away))]), rule)]
    if np.array_equal(ends[:2], ends[2:]):
        return [traces.fault(row, "to_across_m", float(ends[2]), "the trace ends where it starts")]
    return []
