"""Points picked on ring-shaped pictures, as a table, and what is wrong with them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.errors import SiteError

HOLES = pd.DataFrame(
    {"hole": ["B"], "trend_deg": 75, "plunge_deg": 50, "length_m": 60, "diameter_mm": 90}
)
FRACTURES = pd.DataFrame({"hole": "B", "depth_m": [20.0], "fracture": ["F"], "method": ["image"]})
MIRRORS = pd.DataFrame(
    {"mirror": "M", "radius": [100.0, 150, 200], "offset_m": [0.1, 0.04, 0.0], "counted": "x"}
)
DIP, DIRECTION = 64.0, 210.0


def wall(angle_deg: np.ndarray) -> np.ndarray:
    """Depth below 20 m of the plane where the wall has these angles, metres: by vectors alone."""
    axis = js.lines_from_trend(75, 50)[0]
    low = np.array([0, 0, -1.0]) - axis * (np.array([0, 0, -1.0]) @ axis)
    low /= np.linalg.norm(low)
    across = np.cross(axis, low)
    normal = js.poles_from_dip(DIP, DIRECTION)[0]
    turn = np.radians(angle_deg)[:, np.newaxis]
    radial = 0.045 * (np.cos(turn) * low + np.sin(turn) * across)
    return -(radial @ normal) / (axis @ normal)


def rings(counted: str, roll: float) -> pd.DataFrame:
    """Twelve picks of the plane as a ring shows them: radius by the mirror's table, angle turned."""
    angle = np.arange(0, 360, 30.0)
    below = wall(angle) + 0.05
    radius = np.interp(below, [0.0, 0.04, 0.1], [200.0, 150, 100])
    shown = (angle - roll) % 360
    shown = shown if counted == "clockwise" else (-(shown)) % 360
    return pd.DataFrame(
        {"hole": "B", "fracture": "F", "depth_m": 19.95, "radius": radius, "angle_deg": shown}
    )


@pytest.mark.parametrize("counted", ["clockwise", "anticlockwise"])
@pytest.mark.parametrize("roll", [0.0, 25.0])
def test_a_plane_on_ring_pictures_is_found(counted: str, roll: float) -> None:
    """Picks made from a plane give it back, whichever way the mirror turns and the tool rotates."""
    rolls = pd.DataFrame({"hole": ["B"], "depth_m": [0.0], "roll_deg": [roll]})
    picks = rings(counted, roll if counted == "clockwise" else roll)
    site = js.Site.from_frames(
        HOLES,
        FRACTURES,
        rings=picks,
        mirrors=MIRRORS.assign(counted=counted),
        rolls=rolls,
        settings=js.SiteSettings(reference="low side"),
    )
    table = js.orient_fractures(site)
    assert table["oriented_from"][0] == "trace"
    pole = table[["pole_east", "pole_north", "pole_up"]].to_numpy()
    assert js.axis_angles_deg(pole, js.poles_from_dip(DIP, DIRECTION))[0] < 1e-6


def test_rings_without_a_mirror_and_picks_outside_it_are_faults() -> None:
    """A ring needs its mirror, two radii at least, and lies within what the mirror shows."""
    picks, settings = rings("clockwise", 0.0), js.SiteSettings(reference="low side")
    mirrors = MIRRORS.assign(counted="clockwise")

    def told(**tables: pd.DataFrame) -> str:
        with pytest.raises(SiteError) as caught:
            js.Site.from_frames(HOLES, FRACTURES, settings=settings, **tables)
        return str(caught.value)

    assert "mirrors: is needed beside rings: the radii that a mirror shows" in told(rings=picks)
    wide = picks.assign(radius=picks["radius"].where(picks.index > 0, 300.0))
    assert "rings, row 0, column radius: '300': mirror 'M' shows radii from 100 to 200" in told(
        rings=wide, mirrors=mirrors
    )
    assert "mirror 'M' needs two different radii or more" in told(
        rings=picks, mirrors=mirrors.head(1)
    )
    other = picks.assign(mirror="N")
    assert "column mirror: 'N': mirrors has no such mirror; it has M" in told(
        rings=other, mirrors=mirrors
    )
    lost = picks.assign(fracture="G")
    assert "no fracture of this name in hole 'B' of fractures" in told(rings=lost, mirrors=mirrors)
