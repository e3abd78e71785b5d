"""Mapped faces beside holes: P32 of each set from traces, whether it agrees, every trace counted once."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.simulate import SETS
from jointstats.export.json_rules import broken_rules
from jointstats.export.load import schema
from jointstats.report import predicted
from jointstats.report.page import SECTIONS
from jointstats.sets.on_faces import adjusted, differing
from jointstats.sets.record import face_entry, plain
from jointstats.sets.result import SiteAnalysis
from jointstats.sphere.axial_fisher import AxialFisher

ATTITUDE = (85.0, 60.0)


def with_face(site: js.Site, times: float, seed: int) -> js.Site:
    """The site with a face of 10 m by 5 m in rock of its sets, J1 being so many times as dense there."""
    face = js.faces.Face.rectangle("A", *ATTITUDE, 10.0, 5.0)
    rock = [
        (AxialFisher(js.poles_from_dip(dip, direction)[0], kappa), p32 * (times if k == 0 else 1.0))
        for k, (dip, direction, kappa, p32) in enumerate(SETS)
    ]
    traces = js.faces.simulate_face_traces(face, rock, [0.6, 1.2], random_state=seed)
    traces = traces.drop(columns=["true_set", "whole_m"]).assign(face="A")
    traces.loc[::15, ["dip_deg", "dip_direction_deg"]] = np.nan
    faces = pd.DataFrame({"face": ["A"], "dip_deg": ATTITUDE[0], "dip_direction_deg": ATTITUDE[1]})
    faces = faces.assign(width_m=10.0, height_m=5.0)
    return replace(site, tables={"faces": faces, "face_traces": traces})


@pytest.fixture(scope="module")
def beside() -> SiteAnalysis:
    """Three holes and a face in the same rock."""
    return js.analyse(with_face(js.simulate_site(random_state=1), 1.0, 5), 3, domains="none")


def test_every_trace_is_counted_once(beside: SiteAnalysis) -> None:
    """In a set, unassigned, below the blind angle or not oriented: all of them, in the JSON too."""
    (face,) = beside.faces
    total = len(beside.site.tables["face_traces"])
    lacking = total - face.n_oriented
    assert lacking > 0
    assert sum(one.n for one in face.sets) + face.n_blind + lacking == total
    entry = plain(face_entry(face))
    assert broken_rules(entry, schema()["properties"]["faces"]["items"], "faces") == []
    parts = sum(one["n"] for one in entry["sets"])
    assert parts + entry["below_blind_angle"] + entry["not_oriented"] == entry["traces"] == total


def test_traces_in_the_rock_of_the_holes_agree_with_it(beside: SiteAnalysis) -> None:
    """P32 of each set on the face is right to three standard errors, and no set differs."""
    (face,) = beside.faces
    for one, truth in zip(face.sets[:3], sorted((one[3] for one in SETS), reverse=True), strict=True):
        away = abs(np.log(one.on_face.p32_per_m / truth))
        assert away < 3 * one.on_face.relative_error
    assert differing(beside.faces) == []
    assert np.isnan(face.sets[-1].pvalue)  # random fractures are not tested
    assert (adjusted(beside.faces)[0][:3] >= [one.pvalue for one in face.sets[:3]]).all()


def test_a_face_in_denser_rock_differs() -> None:
    """Where J1 is four times as dense at the face, that set alone is told, and its P32 is cautioned."""
    site = with_face(js.simulate_site(random_state=1), 4.0, 6)
    result = js.analyse(site, 3, domains="none")
    assert [name for name, _ in differing(result.faces)] == ["J1"]
    told = [one for one in result.cautions if one.about == "J1" and "On face A" in one.text]
    assert [one.quantity for one in told] == ["P32"]
    section = predicted.faces(result)
    assert section is not None and section.text[0].startswith("On face A P32 of J1 is")


def test_the_page_shows_faces_only_where_there_are_some(beside: SiteAnalysis) -> None:
    """A row a set and one for random fractures, with intervals, ratio and p; no section without a face."""
    section = predicted.faces(beside)
    assert section is not None and predicted.faces in SECTIONS
    (table,) = section.tables
    assert [row[1] for row in table.rows] == [one.name for one in beside.faces[0].sets]
    assert "No set has another P32 on a face" in section.text[0]
    assert "Mean trace length" in section.items[0][1] and "without orientation" in section.items[0][1]
    bare = replace(beside, site=replace(beside.site, tables={}))
    assert bare.faces == () and predicted.faces(bare) is None


def test_few_traces_are_shown_and_not_tested(beside: SiteAnalysis) -> None:
    """With three traces there is P32 with a wide interval, and no ratio, p-value or picture of agreement."""
    traces = beside.site.tables["face_traces"].iloc[1:4].reset_index(drop=True)
    faces = beside.site.tables["faces"]
    few = replace(beside, site=replace(beside.site, tables={"faces": faces, "face_traces": traces}))
    assert all(np.isnan(one.pvalue) for one in few.faces[0].sets)
    section = predicted.faces(few)
    assert section is not None and section.text[0].startswith("Too few traces")
    none = replace(beside, site=replace(beside.site, tables={"faces": faces}))
    empty = predicted.faces(none)
    assert empty is not None and empty.items[0][1] == "50.0 m², 0 traces."
