"""Every picture draws on the axes it is given, with much data, little, and none."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import replace

import matplotlib
import numpy as np
import pandas as pd
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from scipy.stats import CensoredData, ecdf, weibull_min

import jointstats as js
from jointstats import plots
from jointstats.plots.directions import rate_along, rate_interval
from jointstats.plots.downhole import step_frequency
from jointstats.plots.fit_checks import expected_in_rings
from jointstats.plots.views import DISC_PART, MOST_DISCS, placed_holes, screen_axes
from jointstats.sets.result import SiteAnalysis

SITE_PICTURES = {
    "stereonet": (plots.stereonet, "net"),
    "exposure_net": (plots.exposure_net, "net"),
    "frequency_net": (plots.frequency_net, "net"),
    "strike_rose": (plots.strike_rose, "polar"),
    "site_view": (plots.site_view, "plain"),
    "membership_bars": (plots.membership_bars, "plain"),
    "set_forest": (lambda result, ax: plots.set_forest(result, "spacing", ax), "plain"),
}
SET_PICTURES = {
    "spacing_histogram": plots.spacing_histogram,
    "spacing_survival": plots.spacing_survival,
    "density_profile": plots.density_profile,
    "colatitude_plot": plots.colatitude_plot,
    "longitude_plot": plots.longitude_plot,
    "hole_forest": plots.hole_forest,
}
HOLE_PICTURES = {"hole_log": plots.hole_log, "hole_view": plots.hole_view}


def _axes(kind: str) -> Axes:
    figure = plots.new_figure(4, 4)
    if kind == "net":
        return plots.net_axes(figure)
    return figure.add_subplot(projection="polar" if kind == "polar" else None)


def _drawn(ax: Axes) -> str:
    page = io.StringIO()
    ax.figure.savefig(page, format="svg", metadata={"Date": None})
    return page.getvalue()


@pytest.mark.parametrize("site", ["result", "scant", "empty"])
@pytest.mark.parametrize("name", sorted(SITE_PICTURES))
def test_pictures_of_a_site_return_their_axes(
    name: str, site: str, request: pytest.FixtureRequest
) -> None:
    """A picture of a whole site draws on `ax`, returns it, and renders without a warning."""
    draw, kind = SITE_PICTURES[name]
    ax = _axes(kind)
    assert draw(request.getfixturevalue(site), ax=ax) is ax
    assert _drawn(ax)


@pytest.mark.parametrize("name", sorted(SET_PICTURES))
def test_pictures_of_a_set_return_their_axes(name: str, result: SiteAnalysis) -> None:
    """A picture of one set draws on `ax`, and names the sets there are if asked for another."""
    ax = _axes("plain")
    assert SET_PICTURES[name](result, "J2", ax) is ax
    assert _drawn(ax)
    with pytest.raises(js.InputError, match=r"set must be one of those found \(J1, J2, J3\)"):
        SET_PICTURES[name](result, "J9", ax)


@pytest.mark.parametrize("site", ["result", "scant", "empty"])
@pytest.mark.parametrize("name", sorted(HOLE_PICTURES))
def test_pictures_of_a_hole_return_their_axes(
    name: str, site: str, request: pytest.FixtureRequest
) -> None:
    """A picture of one hole draws on `ax`, and names the holes there are if asked for another."""
    found = request.getfixturevalue(site)
    ax = _axes("plain")
    assert HOLE_PICTURES[name](found, "H2", ax) is ax
    assert _drawn(ax)
    with pytest.raises(js.InputError, match="'nowhere'; .* are "):
        HOLE_PICTURES[name](found, "nowhere", ax)


def test_pictures_open_their_own_figure(result: SiteAnalysis) -> None:
    """Without `ax` a picture makes a figure, and leaves the settings of matplotlib as they were."""
    from matplotlib import pyplot

    before = dict(matplotlib.rcParams)
    for draw in (plots.stereonet, plots.strike_rose, plots.set_forest):
        assert draw(result).figure is not None
    assert plots.hole_log(result, "H2").figure is not None
    assert plots.hole_view(result, "H2").figure is not None
    for picture in SET_PICTURES.values():
        assert picture(result, "J1").figure is not None
    assert dict(matplotlib.rcParams) == before
    pyplot.close("all")


def test_hole_names_are_drawn_as_they_are(svg: str) -> None:
    """A hole called <script> is text in the drawing, never a tag."""
    assert "<script" not in svg
    assert "&lt;script" in svg


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda r: plots.strike_rose(r, _axes("polar"), sector_deg=7), "must divide 180"),
        (lambda r: plots.strike_rose(r, _axes("plain")), "ax must be polar"),
        (lambda r: plots.set_forest(r, "rqd"), "figure must be one of p32, kappa, spacing"),
        (lambda r: plots.hole_view(r, "H2", elevation_deg=91), "elevation_deg must lie between"),
        (lambda r: plots.site_view(r, elevation_deg=-91), "elevation_deg must lie between"),
        (lambda r: plots.stereonet(r, _axes("plain")), "ax must be the axes of a net"),
    ],
)
def test_bad_requests_are_named(
    result: SiteAnalysis, call: Callable[[SiteAnalysis], object], words: str
) -> None:
    """A wrong argument gets an error that says the rule."""
    with pytest.raises(js.InputError, match=words):
        call(result)


def test_clouds_become_images_when_large(result: SiteAnalysis, svg: str) -> None:
    """Thousands of poles are drawn as one image, so the file does not grow with them."""
    many = pd.concat([result.fractures] * 8, ignore_index=True)
    lots = _drawn(plots.stereonet(replace(result, fractures=many), _axes("net")))
    assert "<image" not in svg
    assert "<image" in lots
    assert len(lots) < 3 * len(svg)


def test_view_of_a_site_thins_what_it_draws(result: SiteAnalysis) -> None:
    """Of thousands of fractures an even part is drawn as discs, and the title says so."""
    many = pd.concat([result.fractures] * 8, ignore_index=True)
    ax = plots.site_view(replace(result, fractures=many), _axes("plain"))
    oriented = int(many["pole_up"].notna().sum())
    assert len(ax.collections[0].get_paths()) == MOST_DISCS
    assert f"{MOST_DISCS} of {oriented} fractures drawn" in ax.get_title(loc="left")


def test_discs_are_circles_square_to_their_poles() -> None:
    """Every disc of the view is the outline of a circle about the fracture's place on its hole."""
    site = js.simulate_site(holes=[(40.0, 50.0, 30.0)], random_state=2)
    result = js.analyse(site, n_sets=1, random_state=0)
    ax = plots.site_view(result, _axes("plain"), from_azimuth_deg=200.0, elevation_deg=25.0)
    fractures = result.fractures[result.fractures["pole_up"].notna()]
    poles = fractures[["pole_east", "pole_north", "pole_up"]].to_numpy()
    screen = screen_axes(200.0, 25.0)
    along = site.holes[0].path.position(fractures["depth_m"].to_numpy())
    order = np.argsort(along @ screen[2], kind="stable")
    for path, pole in zip(ax.collections[0].get_paths(), poles[order], strict=True):
        ends = path.vertices[[0, 3, 6, 9]]
        # Half the area of an ellipse through conjugate radii: a circle seen at an angle.
        a, b = (ends[0] - ends[2]) / 2, (ends[1] - ends[3]) / 2
        area = abs(a[0] * b[1] - a[1] * b[0])
        assert area == pytest.approx((30.0 / DISC_PART) ** 2 * abs(pole @ screen[2]), rel=1e-6)


def test_holes_without_collars_stand_side_by_side() -> None:
    """Where one collar is not known the holes keep clear of each other, as the viewer sees them."""
    holes = js.simulate_site(random_state=1).holes
    apart = placed_holes([replace(hole, collar=None) for hole in holes], 180.0)
    longest = max(hole.length_m for hole in holes)
    assert (np.diff(apart[:, 0]) > longest).all()
    known = [replace(hole, collar=(5.0 * i, 0.0, 9.0)) for i, hole in enumerate(holes)]
    np.testing.assert_allclose(np.diff(placed_holes(known), axis=0), [[5.0, 0, 0]] * 2)


def test_step_frequency_counts_logged_metres_only(result: SiteAnalysis) -> None:
    """Rate times logged length of each step adds up to the fractures in the logged lengths."""
    hole = result.sampling.lines[0]
    depth = np.sort(np.random.default_rng(1).uniform(0, hole.length_m, 300))
    edges, rate = step_frequency(depth, hole)
    inside = ((depth >= 3) & (depth <= 40)) | (depth >= 45)
    logged = [
        max(0, min(b, 40) - max(a, 3)) + max(0, min(b, hole.length_m) - max(a, 45))
        for a, b in zip(edges[:-1], edges[1:], strict=True)
    ]
    assert np.nansum(rate * logged) == pytest.approx(inside.sum())
    assert np.isnan(rate[(edges[:-1] >= 40) & (edges[1:] <= 45)]).all()


def test_rings_hold_all_that_is_expected(result: SiteAnalysis) -> None:
    """Summed over all rings, the expected count is that of the closed form of the exposure."""
    alone, whole = expected_in_rings(result, result.sets[0], np.linspace(0, 90, 19))
    first = result.sets[0]
    exact = first.p32_per_m * result.exposure.of_set(first.mean, first.kappa)
    assert alone.sum() == pytest.approx(exact, rel=2e-3)
    background = result.background_per_m * result.exposure.of_uniform()
    everything = background + sum(
        one.p32_per_m * result.exposure.of_set(one.mean, one.kappa) for one in result.sets
    )
    assert whole.sum() == pytest.approx(everything, rel=2e-3)


def test_frequency_of_the_net_is_that_met_by_simulated_lines(result: SiteAnalysis) -> None:
    """Along a line, the rate equals the mean of |n · d| over draws of each set, times its P32."""
    line = js.lines_from_trend(77, 13)
    from jointstats.sphere.axial_fisher import sample

    rate = 0.5 * result.background_per_m
    for one in result.sets:
        poles = sample(one.mean, one.kappa, 40_000, random_state=4)
        rate += one.p32_per_m * np.abs(poles @ line[0]).mean()
    assert rate_along(result, line)[0] == pytest.approx(rate, rel=0.01)


def test_survival_steps_are_the_kaplan_meier_estimate(result: SiteAnalysis) -> None:
    """The steps drawn are those of scipy's estimate, where a cut piece counts half."""
    one = result.sets[0]
    ax = plots.spacing_survival(result, one.name, _axes("plain"))
    steps = next(line for line in ax.lines if line.get_label() == "seen")
    seen, cut = np.repeat(one.spacing.spacings_m, 2), one.spacing.cut_m
    data = CensoredData.right_censored(
        np.concatenate([seen, cut]),
        np.concatenate([np.zeros(len(seen), bool), np.ones(len(cut), bool)]),
    )
    expected = ecdf(data).sf.evaluate(steps.get_xdata()[1:])
    np.testing.assert_allclose(steps.get_ydata()[1:], expected, atol=1e-12)


def test_survival_curve_is_the_weibull_law_of_the_fit(result: SiteAnalysis) -> None:
    """The curve drawn is scipy's Weibull distribution of the parameters that the sets' fit gives."""
    one = result.sets[0]
    ax = plots.spacing_survival(result, one.name, _axes("plain"))
    curve = next(line for line in ax.lines if line.get_label().startswith("Weibull"))
    law = js.line.fit_spacings(one.spacing, ["Weibull"], n_bootstrap=0).best.parameters
    expected = weibull_min.sf(curve.get_xdata(), law["shape"], scale=law["scale_m"])
    np.testing.assert_allclose(curve.get_ydata(), expected, atol=1e-12)
    assert curve.get_label() == f"Weibull, shape {law['shape']:.2f}"


@pytest.mark.parametrize(("azimuth", "elevation"), [(0, 0), (123, 30), (270, -80), (45, 90)])
def test_screen_is_a_right_handed_frame(azimuth: float, elevation: float) -> None:
    """Right, up and toward the viewer are unit, square, and right-handed; up looks up."""
    frame = screen_axes(azimuth, elevation)
    np.testing.assert_allclose(frame @ frame.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(frame) == pytest.approx(1.0)
    assert frame[1, 2] >= -1e-12


def test_bedding_is_drawn_where_the_site_has_one(result: SiteAnalysis, svg: str) -> None:
    """A site with bedding shows it, named; one without does not."""
    settings = replace(result.site.settings, bedding=(20.0, 90.0))
    bedded = replace(result, site=replace(result.site, settings=settings))
    named = [text.get_text() for text in plots.stereonet(bedded, _axes("net")).texts]
    assert "bedding" in named
    assert "bedding" not in svg
    ax = _axes("net")
    assert plots.tilted_stereonet(bedded, ax) is ax
    assert _drawn(ax)
    with pytest.raises(js.InputError, match="has no bedding"):
        plots.tilted_stereonet(result, ax)


def test_tilted_net_levels_the_bedding(result: SiteAnalysis) -> None:
    """A set parallel to the bedding plots its mean pole at the centre of the tilted net."""
    first = result.sets[0]
    settings = replace(result.site.settings, bedding=(first.dip_deg, first.dip_direction_deg))
    bedded = replace(result, site=replace(result.site, settings=settings))
    ax = plots.tilted_stereonet(bedded, _axes("net"))
    name = next(text for text in ax.texts if text.get_text() == "J1")
    np.testing.assert_allclose(name.xy, (0.0, 0.0), atol=1e-9)


@pytest.mark.usefixtures("words_only")
def test_page_tells_the_sets_with_bedding_level(result: SiteAnalysis) -> None:
    """With a bedding the page has a net of the tilted poles beside the true one."""
    from jointstats.report.sections import direction_pictures

    settings = replace(result.site.settings, bedding=(20.0, 90.0))
    bedded = replace(result, site=replace(result.site, settings=settings))
    pictures = direction_pictures(bedded)
    assert len(pictures) == 3
    assert pictures[-1].finding.startswith("With the bedding brought to level: J1 dip")


@pytest.mark.usefixtures("words_only")
def test_page_and_tables_level_the_same_bedding() -> None:
    """With bedding from magnetic north, the page's level set is the mean of the level table."""
    from jointstats.report.sections import direction_pictures

    site = js.simulate_site(random_state=1)
    settings = replace(site.settings, bedding=(30.0, 90.0), north="magnetic", declination_deg=20.0)
    result = js.analyse(replace(site, settings=settings), n_sets=3)
    table = js.orient_fractures(result.site, level_bedding=True)
    first = result.sets[0]
    own = table[(result.fractures["set"] == first.name).to_numpy()]
    poles = js.poles_from_dip(own["level_dip_deg"], own["level_dip_direction_deg"])
    mean = js.fisher_statistics(poles).mean
    told = direction_pictures(result)[-1].finding
    dip, direction = map(float, re.findall(r"J1 dip (\d+)° toward (\d+)°", told)[0])
    apart = js.axis_angles_deg(js.poles_from_dip(dip, direction), mean)[0]
    # The mean is fitted with weights, and the page rounds to a degree; 20° of north are far more.
    assert apart < 3.0


def test_labels_of_close_marks_keep_apart() -> None:
    """Names beside marks a few degrees apart cover neither each other nor the marks."""
    from jointstats.plots.net import Net

    net = Net(plots.net_axes(plots.new_figure(5, 5)))
    marks = js.lines_from_trend([317, 320, 322, 335], [32, 44, 32, 25])
    names = ["FBS1", "PRP1", "PRP2", "PRP3"]
    net.labels(marks, names, [{"fontsize": 9.0}] * 4)
    renderer = FigureCanvasAgg(net.ax.figure).get_renderer()
    boxes = [
        text.get_tightbbox(renderer).extents for text in net.ax.texts if text.get_text() in names
    ]
    assert len(boxes) == 4
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            sides = np.minimum(a[2:], b[2:]) - np.maximum(a[:2], b[:2])
            assert (sides <= 3.0).any(), "two labels cover each other"


def test_oxidation_and_zones_are_drawn(result: SiteAnalysis) -> None:
    """A log with oxidation has a strip for it, and the frequency strip a line for each zone."""
    words = ["strong", "slight", "odd word"] + [""] * (len(result.fractures) - 3)
    noted = replace(result, fractures=result.fractures.assign(oxidation=words))
    name = result.site.holes[0].name
    plain, stained = (plots.hole_log(one, name, _axes("plain")) for one in (result, noted))
    assert len(stained.child_axes) == len(plain.child_axes) + 1
    assert plain.child_axes[0].lines


def test_no_rate_is_drawn_where_nothing_was_logged(result: SiteAnalysis) -> None:
    """A bar of frequency ends where the logged length ends, though its step goes on."""
    hole = result.sampling.lines[0]
    edges, rate = step_frequency(np.array([4.5, 39.9, 46.0]), hole)
    middle = 0.5 * (edges[1:] + edges[:-1])
    gap = (middle < 3.0) | ((middle > 40.0) & (middle < 45.0))
    assert {3.0, 40.0, 45.0} <= set(edges.tolist())
    assert np.isnan(rate[gap]).all()
    assert np.isfinite(rate[~gap]).all()


def test_level_view_has_elevations_and_a_bar_to_scale(result: SiteAnalysis) -> None:
    """From level ground heights are true: ticks stand at elevations, and the bar at its length."""
    collars = [(0.0, 0.0, 300.0), (30.0, 0.0, 310.0), (60.0, 0.0, 320.0)]
    holes = [replace(h, collar=c) for h, c in zip(result.site.holes, collars, strict=True)]
    placed = replace(result, site=replace(result.site, holes=tuple(holes)))
    ax = plots.site_view(placed, _axes("plain"), from_azimuth_deg=180.0)
    ticks = zip(ax.get_yticks(), ax.get_yticklabels(), strict=True)
    assert all(at + 310.0 == pytest.approx(float(label.get_text())) for at, label in ticks)
    assert ax.get_ylabel() == "elevation, m"
    bar = next(line for line in ax.lines if len(set(line.get_ydata())) == 1 < len(line.get_ydata()))
    told = next(text.get_text() for text in ax.texts if text.get_text().endswith(" m"))
    assert np.ptp(bar.get_xdata()) == pytest.approx(float(told.removesuffix(" m")))


def test_rising_hole_rises_in_the_view() -> None:
    """A hole of negative plunge ends above its collar, and its name says so."""
    site = js.simulate_site(holes=[(90.0, -20.0, 30.0)], random_state=2)
    ax = plots.site_view(js.analyse(site, n_sets=1, random_state=0), _axes("plain"))
    path = max(ax.lines, key=lambda line: len(line.get_ydata()))
    assert path.get_ydata()[-1] - path.get_ydata()[0] == pytest.approx(30.0 * np.sin(np.radians(20)))
    assert f"{site.holes[0].name}, rising" in [text.get_text() for text in ax.texts]


def test_interval_of_a_rate_is_that_of_draws_of_its_parts(result: SiteAnalysis) -> None:
    """Added in quadrature, the ends are near those of independent lognormal draws of each P32."""
    line = js.lines_from_trend(77, 13)
    rng = np.random.default_rng(4)
    drawn = np.zeros(20_000)
    for one in result.sets:
        share = rate_along(replace(result, sets=(one,), background_per_m=0.0), line)[0]
        low, high = one.p32_interval
        drawn += share * np.exp(rng.normal(0, np.log(high / low) / 3.92, len(drawn)))
    low, high = result.background_interval
    drawn += 0.5 * np.exp(
        rng.normal(np.log(result.background_per_m), np.log(high / low) / 3.92, len(drawn))
    )
    found = rate_interval(result, line[0])
    np.testing.assert_allclose(found, np.quantile(drawn, [0.025, 0.975]), rtol=0.04)


def test_planes_are_named_apart_from_mean_poles(result: SiteAnalysis) -> None:
    """Each set's name stands once at its mean pole, and its plane is called a plane."""
    ax = plots.stereonet(result, _axes("net"))
    words = [text.get_text() for text in ax.texts]
    for one in result.sets:
        assert words.count(one.name) == words.count(f"plane {one.name}") == 1
    key = [text.get_text() for text in ax.get_legend().get_texts()]
    assert ("blind to all holes" in key) == (result.sampling.blind_share > 0)
