"""Fractures known in part: in the fit with every plane that is left open."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import jointstats as js
from jointstats.borehole.fractures import Fractures, Status
from jointstats.borehole.orient import orient_fractures
from jointstats.borehole.site import Site
from jointstats.fit.partly_fit import _joined
from jointstats.fit.rock import Rock
from jointstats.fit.shaped import (
    _gradient,
    moved_rock,
    observed_information,
    shaped_value,
)
from jointstats.observed.observe import observe
from jointstats.observed.partly import HalfRead, circles, seen_places
from jointstats.sets.result import SiteAnalysis
from jointstats.sphere.set_chart import SetChart

#: Three holes at 45° to the planes of one set, and 120° apart.
HOLES = ((0.0, 45.0, 50.0), (120.0, 45.0, 50.0), (240.0, 45.0, 50.0))
SET = ((8.0, 30.0, 40.0, 2.0),)


def _spun(site: Site, seed: int) -> Site:
    """Half of the fractures by α alone."""
    table = site.fractures.copy()
    lost = np.random.default_rng(seed).random(len(table)) < 0.5
    alpha = orient_fractures(site)["hole_angle_deg"]
    table["alpha_deg"] = np.where(lost, alpha, np.nan)
    table.loc[lost, ["dip_deg", "dip_direction_deg"]] = np.nan
    return replace(site, fractures=table)


def _found(site: Site) -> SiteAnalysis:
    return js.analyse(site, n_sets=1, shape="round", domains="none")


@pytest.fixture(scope="module")
def whole() -> Site:
    """One set, all oriented."""
    return js.simulate_site(SET, HOLES, random_state=1)


@pytest.fixture(scope="module")
def half(whole: Site) -> SiteAnalysis:
    """The same with half by α alone."""
    return _found(_spun(whole, 1))


def test_places_lie_at_alpha_round_the_hole() -> None:
    """Every place makes α with its hole, and the mean of a Fisher density over them is its integral."""
    lines = js.lines_from_trend([10.0, 200.0], [50.0, 80.0])
    poles = circles(np.array([30.0, 75.0]), lines)
    along = np.abs((poles * lines[:, np.newaxis]).sum(axis=2))
    np.testing.assert_allclose(np.degrees(np.arcsin(along)), np.array([[30.0], [75.0]]) + 0 * along)
    density = js.sphere.AxialFisher(poles[0, 5], 200.0)
    means = density.pdf(poles.reshape(-1, 3)).reshape(2, -1).mean(axis=1)
    fine = np.linspace(0, 2 * np.pi, 20001)[:-1]
    u, v = np.linalg.svd(lines[:1])[2][1:]
    a = np.radians(30.0)
    round_it = np.cos(fine)[:, np.newaxis] * u + np.sin(fine)[:, np.newaxis] * v
    circle = np.sin(a) * lines[0] + np.cos(a) * round_it
    assert means[0] == pytest.approx(density.pdf(circle).mean(), rel=0.01)


@pytest.mark.parametrize("known", ["dip_deg", "azimuth_deg"])
def test_places_are_weighed_as_the_hole_meets_them(known: str) -> None:
    """Planes of one dip, or one dip direction, among all those that an inclined hole meets and shows."""
    line, rng = js.lines_from_trend([30.0], [55.0]), np.random.default_rng(2)
    drawn = js.sphere.AxialFisher([0, 0, 1], 0.0).rvs(2_000_000, random_state=1)
    cosine = np.abs(drawn @ line[0])
    met = rng.random(len(drawn)) < cosine
    dip, azimuth = js.dip_from_poles(drawn)
    near = met & (np.abs((dip - 50.0) if known == "dip_deg" else (azimuth - 100.0)) < 2.0)
    shown = near & (cosine >= np.sin(np.radians(20.0)))
    empty = np.array([np.nan])
    half = HalfRead(**{"angle_deg": empty, "dip_deg": empty, "azimuth_deg": empty} | {known: np.array(
        [50.0 if known == "dip_deg" else 100.0])})
    poles, likely = half.places(line)
    weights = seen_places(poles, likely, line, np.zeros(1), 20.0)[0]
    assert weights.sum() == pytest.approx(shown.sum() / near.sum(), abs=0.02)
    open_dip, open_azimuth = js.dip_from_poles(poles[0])
    place, value = (open_azimuth, azimuth) if known == "dip_deg" else (open_dip, dip)
    edges = np.linspace(0, 360 if known == "dip_deg" else 90, 7)
    expected = np.histogram(place, edges, weights=weights)[0] / weights.sum()
    found = np.histogram(value[shown], edges)[0] / shown.sum()
    # A place stands for 5°, or 1.25°, to either side of an edge.
    np.testing.assert_allclose(found, expected, atol=0.03)


@pytest.mark.parametrize(("lost", "most"), [("dip_direction_deg", 1.42), ("dip_deg", 1.3)])
def test_a_dip_or_a_strike_alone_tells_of_its_set(whole: Site, lost: str, most: float) -> None:
    """P32 stays, and the cone is narrower than the √2 of half of the fractures."""
    rows = np.random.default_rng(3).random(len(whole.fractures)) < 0.5
    table = whole.fractures.copy()
    table.loc[rows, lost] = np.nan
    found, full = _found(replace(whole, fractures=table)), _found(whole)
    assert found.counts.partly_oriented == rows.sum()
    assert found.sets[0].p32_per_m == pytest.approx(full.sets[0].p32_per_m, rel=0.06)
    assert 1.0 < found.sets[0].cone_deg / full.sets[0].cone_deg < most


def test_slopes_are_those_of_the_likelihood(whole: Site) -> None:
    """The gradient with fractures known in part is the difference quotient of the likelihood."""
    observed = observe(_spun(whole, 1))
    assert observed.partly is not None
    poles = Fractures(observed.fractures).fitted.poles
    model = js.JointSetMixture(1, random_state=0).fit(poles, exposure=observed.sampling.exposure)
    data = _joined(model.data_, observed.partly, None)
    rock = Rock.of_round(js.poles_from_dip(14.0, 60.0), [30.0], [1.5], 0.3)
    charts = [SetChart(one, (1e-6, 1e6)) for one in rock.densities]
    slope = _gradient(data, shaped_value(data, rock), charts, np.zeros(7))
    for i in (0, 1, 2, 5, 6):
        step = np.eye(7)[i] * 1e-5
        ends = [shaped_value(data, moved_rock(charts, rock, s * step)).value for s in (1, -1)]
        assert slope[i] == pytest.approx((ends[0] - ends[1]) / 2e-5, rel=1e-4, abs=1e-3)
    assert data.total == pytest.approx(len(poles) + len(observed.partly.number))
    assert np.linalg.eigvalsh(observed_information(data, model.rock_)[:3, :3]).min() > 0


def test_alpha_tells_half_of_what_an_orientation_does(whole: Site, half: SiteAnalysis) -> None:
    """In three holes well apart the cone is √(4/3) that of all oriented, where half alone give √2."""
    full = _found(whole)
    # α is one of the two directions of a pole, and the holes share the directions evenly.
    ratio = half.sets[0].cone_deg / full.sets[0].cone_deg
    assert ratio == pytest.approx(np.sqrt(4 / 3), abs=0.06)
    assert half.sets[0].p32_per_m == pytest.approx(full.sets[0].p32_per_m, rel=0.05)


def test_nothing_is_lost_when_beta_is_given_back(whole: Site, half: SiteAnalysis) -> None:
    """With the orientations back the answer is that of the whole log to the last digit."""
    assert half.counts.partly_oriented > 100
    back = half.site.fractures.assign(
        dip_deg=whole.fractures["dip_deg"],
        dip_direction_deg=whole.fractures["dip_direction_deg"],
    )
    again = _found(replace(whole, fractures=back))
    assert again.sets[0].p32_per_m == _found(whole).sets[0].p32_per_m
    assert again.counts.partly_oriented == 0


def test_each_has_a_set_a_plane_and_an_error(whole: Site, half: SiteAnalysis) -> None:
    """Memberships are calibrated, the probable plane keeps α, and its error is as large as said."""
    table = half.fractures[half.fractures["status"] == Status.PARTLY_ORIENTED]
    truth = whole.fractures.loc[table.index]
    right = np.where(truth["true_set"] == 1, "J1", "unassigned") == table["set"]
    assert right.mean() == pytest.approx(table["membership"].mean(), abs=0.08)
    probable = js.poles_from_dip(table["probable_dip_deg"], table["probable_dip_direction_deg"])
    true = js.poles_from_dip(truth["dip_deg"], truth["dip_direction_deg"])
    error = js.axis_angles_deg(probable, true)
    said = table["probable_error_deg"].to_numpy()
    assert np.sqrt((error**2).mean() / (said**2).mean()) == pytest.approx(1.0, abs=0.2)
    assert table[["pole_up"]].isna().all(axis=None)
    counts = half.counts
    assert counts.total == counts.in_a_set + counts.unassigned + counts.below_blind_angle + (
        counts.partly_oriented
    )


def test_alpha_below_the_blind_angle_stays_out(whole: Site) -> None:
    """A fracture whose α is below the blind angle is not in the fit, as if it were oriented."""
    table = whole.fractures.assign(alpha_deg=np.nan)
    table.loc[:1, ["dip_deg", "dip_direction_deg", "alpha_deg"]] = [np.nan, np.nan, 4.0]
    found = observe(replace(whole, fractures=table))
    assert (found.fractures["status"].iloc[:2] == "below blind angle").all()
    assert found.partly is None


def test_a_given_set_takes_only_those_that_may_join(whole: Site) -> None:
    """Fractures known by α alone of another type do not join a set that is open to one type."""
    site = _spun(whole, 1)
    kind = np.where(np.arange(len(site.fractures)) % 2, "joint", "vein")
    site = replace(site, fractures=site.fractures.assign(type=kind))
    given = [js.GivenSet(8.0, 30.0, name="A", only={"type": ["joint"]})]
    found = js.analyse(site, n_sets=1, given=given, shape="round", domains="none")
    own = found.fractures[found.fractures["status"] == "partly oriented"]
    assert set(own.loc[own["type"] == "vein", "set"]) == {"unassigned"}
    assert "A" in set(own.loc[own["type"] == "joint", "set"])
