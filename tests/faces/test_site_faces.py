"""Faces among the tables of a site: read, checked, and written back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.settings import SiteSettings
from jointstats.errors import SiteError

HOLES = pd.DataFrame({"hole": ["B1"], "length_m": [30.0], "trend_deg": [0.0], "plunge_deg": [90.0]})
FRACTURES = pd.DataFrame(
    {"hole": ["B1"], "depth_m": [4.0], "dip_deg": [30.0], "dip_direction_deg": [10.0]}
)
FACES = pd.DataFrame(
    {
        "face": ["N", "W"],
        "dip_deg": [80.0, 90.0],
        "dip_direction_deg": [10.0, 270.0],
        "width_m": [6.0, np.nan],
        "height_m": [2.5, np.nan],
        "outline": ["", "0 0; 4 0; 4 3"],
        "easting_m": [100.0, np.nan],
        "northing_m": [50.0, np.nan],
        "elevation_m": [10.0, np.nan],
    }
)
TRACES = pd.DataFrame(
    {
        "face": ["N", "N", "W"],
        "from_across_m": [1.0, 0.0, np.nan],
        "from_up_m": [0.5, 1.0, np.nan],
        "to_across_m": [1.0, 3.0, np.nan],
        "to_up_m": [2.0, 1.0, np.nan],
        "length_m": [np.nan, np.nan, 1.2],
        "dip_deg": [80.0, 0.0, np.nan],
        "dip_direction_deg": [95.0, np.nan, np.nan],
        "ends_seen": ["", "", "one"],
    }
)


def _site(faces: pd.DataFrame = FACES, traces: pd.DataFrame = TRACES, **more: object) -> js.Site:
    return js.Site.from_frames(HOLES, FRACTURES, faces=faces, face_traces=traces, **more)


def test_faces_come_with_their_traces() -> None:
    """Lengths and ends seen come from the ends, or as they are told; azimuths from true north."""
    settings = SiteSettings(north="magnetic", declination_deg=5.0)
    first, second = js.faces.mapped_faces(_site(settings=settings))
    assert (first.face.name, first.face.dip_direction_deg, first.face.origin) == ("N", 15.0, (100, 50, 10))
    np.testing.assert_allclose(first.length_m, [1.5, 3.0])
    assert first.ends_seen == ("both", "one")
    np.testing.assert_allclose(first.poles[0], js.poles_from_dip(80.0, 100.0)[0])
    assert second.face.area_m2 == pytest.approx(6.0)
    assert (second.ends_seen, second.is_oriented.tolist()) == (("one",), [False])


@pytest.mark.parametrize(
    ("table", "column", "row", "value", "rule"),
    [
        ("faces", "face", 1, "N", "this face stands in row 0 too"),
        ("faces", "width_m", 0, np.nan, "needs width_m and height_m, or an outline"),
        ("faces", "outline", 1, "4 by 3", "corners with ; between them"),
        ("faces", "outline", 1, "0 0; 2 2; 2 0; 0 2", "crosses itself"),
        ("face_traces", "face", 0, "E", "no face of this name in faces; it has N, W"),
        ("face_traces", "to_up_m", 0, np.nan, "give all of from_across_m"),
        ("face_traces", "to_up_m", 0, 2.6, "this end lies 0.10 m outside the window of face 'N'"),
        ("face_traces", "dip_deg", 0, np.nan, "give both or neither"),
        ("face_traces", "length_m", 2, np.nan, "a trace needs its length in the window"),
        ("face_traces", "ends_seen", 2, "", "needs how many of them are seen"),
        ("face_traces", "ends_seen", 2, "two", "is both, one or none"),
    ],
)
def test_a_wrong_cell_is_told(table: str, column: str, row: int, value: object, rule: str) -> None:
    """Each rule of a face or a trace is told by its table, column and row."""
    tables = {"faces": FACES.copy(), "face_traces": TRACES.copy()}
    tables[table].loc[row, column] = value
    with pytest.raises(SiteError) as raised:
        _site(tables["faces"], tables["face_traces"])
    (fault,) = raised.value.faults
    assert (fault.file, fault.row) == (table, row)
    assert rule in fault.rule


def test_traces_need_their_faces() -> None:
    """face_traces without faces is a fault; faces without traces are not."""
    with pytest.raises(SiteError, match="is needed beside face_traces"):
        js.Site.from_frames(HOLES, FRACTURES, face_traces=TRACES)
    (first, _) = js.faces.mapped_faces(js.Site.from_frames(HOLES, FRACTURES, faces=FACES))
    assert len(first.length_m) == 0


def test_faces_are_written_and_read_again(tmp_path: Path) -> None:
    """What is written gives the same site; with decimal commas an outline reads the same."""
    site = _site()
    js.write_site(site, tmp_path / "a")
    assert js.read_site(tmp_path / "a") == site
    folder = tmp_path / "b"
    folder.mkdir()
    (folder / "site.toml").write_text('north = "true"\n')
    texts = {
        "holes": "hole;length_m;trend_deg;plunge_deg\nB1;30,5;0;90\n",
        "fractures": "hole;depth_m;dip_deg;dip_direction_deg\nB1;4,5;30;10\n",
        "faces": 'face;dip_deg;dip_direction_deg;outline\nN;80,5;10;"0 0; 4,5 0; 4,5 3"\n',
    }
    for key, text in texts.items():
        (folder / f"{key}.csv").write_text(text)
    (face,) = js.faces.mapped_faces(js.read_site(folder))
    assert face.face.area_m2 == pytest.approx(6.75)
