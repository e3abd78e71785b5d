"""Discs in space: drilled again they are the rock; the logs are in them where that is asked for."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import lognorm, pareto

import jointstats as js
from jointstats.borehole.fractures import Fractures
from jointstats.design.realised import drill, realise
from jointstats.export.vtk import write_vtk
from jointstats.fit.rock import Rock

SIZES = lognorm(0.5, scale=1.5)
ROCK = Rock.of_round([[0, 0, -1], [1, 0, 0]], [40.0, 20.0], [2.0, 1.0], background=0.5)


@pytest.mark.parametrize("law", [1.0, SIZES, pareto(3.0)])
@pytest.mark.parametrize("line", [(0.0, 0.0, 1.0), (0.6, 0.0, 0.8)])
def test_drilled_again_the_discs_are_the_rock(law: object, line: tuple[float, ...]) -> None:
    """Counts of each set along a line are Poisson of the frequency of the rock, whatever the sizes."""
    way = 12.0 * np.array(line)
    box = [np.minimum(0, way) - 0.01, np.maximum(0, way) + 0.01]
    met = [
        drill(realise(ROCK, box, radius_m=law, random_state=k), [0, 0, 0], way)["set"]
        for k in range(60)
    ]
    by_set = js.design.frequency.frequency_by_set(ROCK, way / 12.0)[:, 0]
    for name, rate in zip(("set 1", "set 2", "random"), (*by_set, 0.25), strict=True):
        number, expected = sum((one == name).sum() for one in met), 60 * 12 * rate
        assert abs(number - expected) < 3.5 * np.sqrt(expected)


def test_the_area_in_the_box_is_p32() -> None:
    """Points spread over level discs lie in the box as often as its volume and P32 ask for."""
    rock = Rock.of_round([[0, 0, -1]], [1e4], [1.5])
    generator = np.random.default_rng(0)
    area = []
    for k in range(20):
        discs = realise(rock, [[0, 0, 0], [6, 6, 6]], radius_m=SIZES, random_state=k)
        radii, at = discs["radius_m"].to_numpy(), discs[["easting_m", "northing_m"]].to_numpy()
        angle = generator.uniform(0, 2 * np.pi, (len(discs), 200))
        away = radii[:, np.newaxis] * np.sqrt(generator.random((len(discs), 200)))
        x, y = at[:, :1] + away * np.cos(angle), at[:, 1:] + away * np.sin(angle)
        level = discs["elevation_m"].between(0, 6).to_numpy()
        inside = ((x >= 0) & (x <= 6) & (y >= 0) & (y <= 6)).mean(axis=1) * level
        area.append(np.pi * radii**2 @ inside)
    error = np.std(area) / np.sqrt(len(area))
    assert abs(np.mean(area) - 1.5 * 6**3) < 3.5 * error


@pytest.fixture(scope="module")
def logged() -> js.SiteAnalysis:
    """A site whose holes have collars, in grid coordinates that are turned against true north."""
    site = js.simulate_site(random_state=1)
    places = ((0.0, 0.0, 0.0), (15.0, 5.0, 1.0), (-10.0, 20.0, 2.0))
    holes = tuple(replace(h, collar=at) for h, at in zip(site.holes, places, strict=True))
    settings = replace(site.settings, convergence_deg=20.0)
    fractures = site.fractures.copy()
    fractures.loc[::30, ["dip_deg", "dip_direction_deg"]] = np.nan
    return js.analyse(replace(site, holes=holes, settings=settings, fractures=fractures), 3)


def test_every_logged_fracture_is_met_again_and_no_other(logged: js.SiteAnalysis) -> None:
    """Along the holes, whose logs show every fracture, a conditioned rock has what was logged."""
    box = [[-120, -120, -90], [120, 120, 10]]
    large = lognorm(0.5, scale=8.0)
    discs = logged.realise(box, radius_m=large, conditioned=True, random_state=2)
    assert discs["logged"].sum() == len(logged.fractures)
    for hole in logged.site.holes:
        ends = hole.position(np.array([0.0, hole.length_m]), 20.0)
        met = drill(discs, *ends)
        own = Fractures(logged.fractures).in_hole(hole.name)
        np.testing.assert_allclose(met["depth_m"], np.sort(own.depth_m), atol=1e-6)
        assert met["logged"].all()
        known = own.is_oriented[np.argsort(own.depth_m, kind="stable")]
        true = own.table.sort_values("depth_m", kind="stable")["true_dip_deg"].to_numpy()
        np.testing.assert_allclose(met["dip_deg"][known], true[known], atol=1e-6)
    free = logged.realise(box, radius_m=large, random_state=2)
    assert not free["logged"].any()


def test_a_log_that_shows_half_leaves_as_many_unseen(logged: js.SiteAnalysis) -> None:
    """Where half of the fractures are detected, others cross the hole beside those that were logged."""
    halves = tuple(replace(one, detected=0.5) for one in logged.sampling.lengths)
    half = replace(logged, sampling=logged.sampling.with_lengths(halves))
    box = [[-5, -5, -85], [5, 5, 1]]
    unseen = []
    for k in range(10):
        discs = half.realise(box, radius_m=1.0, conditioned=True, random_state=k)
        met = drill(discs, [0, 0, 0], logged.site.holes[0].position(np.array([80.0]), 20.0)[0])
        unseen.append((~met["logged"]).sum())
    expected = 0.5 * 80 * float(js.design.frequency_along(logged.rock, [0, 0, 1.0])[0])
    assert abs(np.mean(unseen) - expected) < 3.5 * np.sqrt(expected / 10)


def test_discs_are_written_for_viewing(logged: js.SiteAnalysis, tmp_path: Path) -> None:
    """As many polygons as discs, each corner a radius from its centre; the title says what they are."""
    discs = realise(ROCK, [[0, 0, 0], [3, 3, 3]], radius_m=SIZES)
    text = write_vtk(discs, tmp_path / "a.vtk").read_text().splitlines()
    assert "not measured" in text[1]
    corners = np.array([one.split() for one in text[5 : 5 + 16 * len(discs)]], dtype=float)
    centres = discs[["easting_m", "northing_m", "elevation_m"]].to_numpy()
    away = np.linalg.norm(corners.reshape(-1, 16, 3) - centres[:, np.newaxis], axis=2)
    np.testing.assert_allclose(away, np.tile(discs["radius_m"].to_numpy()[:, np.newaxis], 16), atol=1e-3)
    assert "caution" in discs.attrs


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"box": [[0, 0, 0], [1, 1, 0]]}, "box must be its lowest and then its highest"),
        ({"radius_m": -1.0}, "radius_m"),
        ({"radius_m": lognorm(0.5, loc=-3)}, "a law of radii above 0"),
        ({"radius_m": 1e-3}, "three million|3,000,000 are the most"),
        ({"conditioned": True}, "needs the result of analyse"),
    ],
)
def test_what_can_not_be_realised_is_refused(asked: dict[str, object], told: str) -> None:
    """An empty box, radii that are none, too many discs, and logs that are not there."""
    with pytest.raises(js.InputError, match=told):
        realise(ROCK, **({"box": [[0, 0, 0], [9, 9, 9]], "radius_m": 1.0} | asked))


def test_a_hole_without_a_collar_has_no_place() -> None:
    """Its log can't be honoured in a box."""
    result = js.analyse(js.simulate_site(random_state=1), 3)
    with pytest.raises(js.InputError, match="has no collar"):
        result.realise([[0, 0, 0], [5, 5, 5]], radius_m=1.0, conditioned=True)
