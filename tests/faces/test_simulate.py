"""Discs thrown at a face: the traces lie where the planes cut it."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.errors import InputError
from jointstats.faces.face import Face
from jointstats.sphere.axial_fisher import AxialFisher


def test_traces_lie_in_their_planes_and_in_the_window() -> None:
    """Each trace runs along its plane's line on the face, inside; an end not seen is on the outline."""
    face = Face("F", 70.0, 30.0, [[0, 0], [8, 0], [6, 3], [1, 3]])
    density = AxialFisher(js.poles_from_dip(60.0, 100.0)[0], 10.0)
    traces = js.faces.simulate_face_traces(face, [(density, 4.0)], [0.5, 2.0], background_per_m=0.5)
    ends = traces[["from_across_m", "from_up_m", "to_across_m", "to_up_m"]].to_numpy().reshape(-1, 2, 2)
    along = ends[:, 1] - ends[:, 0]
    np.testing.assert_allclose(np.linalg.norm(along, axis=1), traces["length_m"])
    poles = js.poles_from_dip(traces["dip_deg"], traces["dip_direction_deg"])
    np.testing.assert_allclose(((along @ face.axes) * poles).sum(axis=1), 0.0, atol=1e-6)
    away = face.outline_distances_m(ends.reshape(-1, 2)).reshape(-1, 2)
    assert away.min() > -1e-9
    words = np.array(["none", "one", "both"])[(away > 1e-9).sum(axis=1)]
    assert (words == traces["ends_seen"]).all()
    assert {0, 1} == set(traces["true_set"])
    assert (traces["whole_m"] >= traces["length_m"] - 1e-9).all()


def test_a_window_with_a_notch_is_refused() -> None:
    """A chord could come in two pieces there."""
    notched = Face("F", 90.0, 0.0, [[0, 0], [4, 0], [4, 4], [2, 1], [0, 4]])
    with pytest.raises(InputError, match="must be convex"):
        js.faces.simulate_face_traces(notched, [], [1.0])
