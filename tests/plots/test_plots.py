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
from jointstats.plots.map import MOST_TRACES, placed_holes
from jointstats.sets.result import SiteAnalysis

SITE_PICTURES = {
    "stereonet": (plots.stereonet, "net"),
    "exposure_net": (plots.exposure_net, "net"),
    "frequency_net": (plots.frequency_net, "net"),
    "site_plan": (plots.site_plan, "plain"),
    "site_section": (lambda result, ax: plots.site_section(result, 40.0, ax), "plain"),
    "hole_forest": (lambda result, ax: plots.hole_forest(result, "angle", ax), "plain"),
    "membership_bars": (plots.membership_bars, "plain"),
    "set_forest": (lambda result, ax: plots.set_forest(result, "spacing", ax), "plain"),
}
SET_PICTURES = {
    "spacing_histogram": plots.spacing_histogram,
    "spacing_survival": plots.spacing_survival,
    "density_profile": plots.density_profile,
    "colatitude_plot": plots.colatitude_plot,
    "longitude_plot": plots.longitude_plot,
}
HOLE_PICTURES = {"hole_log": plots.hole_log}


def _axes(kind: str) -> Axes:
    figure = plots.new_figure(4, 4)
    if kind == "net":
        return plots.net_axes(figure)
    return figure.add_subplot()


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
    found = draw(request.getfixturevalue(site), ax=ax)
    assert found.ax is ax and len(set(found.artists)) == len(found.artists)
    assert _drawn(ax)


@pytest.mark.parametrize("name", sorted(SET_PICTURES))
def test_pictures_of_a_set_return_their_axes(name: str, result: SiteAnalysis) -> None:
    """A picture of one set draws on `ax`, and names the sets there are if asked for another."""
    ax = _axes("plain")
    assert SET_PICTURES[name](result, "J2", ax).ax is ax
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
    assert HOLE_PICTURES[name](found, "H2", ax).ax is ax
    assert _drawn(ax)
    with pytest.raises(js.InputError, match="'nowhere'; .* are "):
        HOLE_PICTURES[name](found, "nowhere", ax)


def test_pictures_open_their_own_figure(result: SiteAnalysis) -> None:
    """Without `ax` a picture makes a figure, and leaves the settings of matplotlib as they were."""
    from matplotlib import pyplot

    before = dict(matplotlib.rcParams)
    for draw in (plots.stereonet, plots.site_plan, plots.set_forest):
        assert draw(result).ax.figure is not None
    assert plots.hole_log(result, "H2").ax.figure is not None
    for picture in SET_PICTURES.values():
        assert picture(result, "J1").ax.figure is not None
    assert dict(matplotlib.rcParams) == before
    pyplot.close("all")


def test_the_settings_of_the_caller_go_before_ours(result: SiteAnalysis) -> None:
    """A size of text, and a cycle of colours as the palette of the sets; what was not touched is ours."""
    from matplotlib import pyplot

    mine = {"font.size": 14.0, "axes.prop_cycle": matplotlib.cycler(color=["#112233", "#445566"])}
    plain = plots.set_forest(result, "kappa").ax
    with matplotlib.rc_context(mine):
        own = plots.set_forest(result, "kappa").ax
    assert (plain.xaxis.label.get_fontsize(), own.xaxis.label.get_fontsize()) == (9.5, 14.0)
    first, second = ({one.get_color() for one in ax.lines} for ax in (plain, own))
    assert {"#112233", "#445566"} <= second and not first & {"#112233", "#445566"}
    assert own.xaxis.label.get_color() == plain.xaxis.label.get_color() == plots.palette.INK.ink
    pyplot.close("all")


def test_artists_are_those_that_were_drawn(result: SiteAnalysis) -> None:
    """What lay on the axes before is not among them; taken away, they leave the axes as they were."""
    ax = _axes("plain")
    (line,) = ax.plot([0, 1], [0, 1])
    found = plots.membership_bars(result, ax)
    assert line not in found.artists
    for one in found.artists:
        one.remove()
    assert list(ax.lines) == [line] and not ax.patches


def test_hole_names_are_drawn_as_they_are(svg: str) -> None:
    """A hole called <script> is text in the drawing, never a tag."""
    assert "<script" not in svg
    assert "&lt;script" in svg


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda r: plots.set_forest(r, "rqd"), "figure must be one of p32, kappa, spacing"),
        (lambda r: plots.hole_forest(r, "rqd"), "figure must be one of p32, angle"),
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
    lots = _drawn(plots.stereonet(replace(result, fractures=many), _axes("net")).ax)
    assert "<image" not in svg
    assert "<image" in lots
    assert len(lots) < 3 * len(svg)


def test_survival_steps_are_the_kaplan_meier_estimate(result: SiteAnalysis) -> None:
    """The steps drawn are those of scipy's estimate, where a cut piece counts half."""
    one = result.sets[0]
    ax = plots.spacing_survival(result, one.name, _axes("plain")).ax
    steps = next(line for line in ax.lines if line.get_label() == "observed")
    seen, cut = np.repeat(one.spacing.spacings_m, 2), one.spacing.censored_m
    data = CensoredData.right_censored(
        np.concatenate([seen, cut]),
        np.concatenate([np.zeros(len(seen), bool), np.ones(len(cut), bool)]),
    )
    expected = ecdf(data).sf.evaluate(steps.get_xdata()[1:])
    np.testing.assert_allclose(steps.get_ydata()[1:], expected, atol=1e-12)


def test_survival_curve_is_the_weibull_law_of_the_fit(result: SiteAnalysis) -> None:
    """The curve drawn is scipy's Weibull distribution of the parameters that the sets' fit gives."""
    one = result.sets[0]
    ax = plots.spacing_survival(result, one.name, _axes("plain")).ax
    curve = next(line for line in ax.lines if line.get_label().startswith("Weibull"))
    law = js.line.fit_spacings(one.spacing, ["Weibull"], n_bootstrap=0).best.parameters
    expected = weibull_min.sf(curve.get_xdata(), law["shape"], scale=law["scale_m"])
    np.testing.assert_allclose(curve.get_ydata(), expected, atol=1e-12)
    assert curve.get_label() == f"Weibull, shape {law['shape']:.2f}"


def test_bedding_is_drawn_where_the_site_has_one(result: SiteAnalysis, svg: str) -> None:
    """A site with bedding shows it, named; one without does not."""
    settings = replace(result.site.settings, bedding=(20.0, 90.0))
    bedded = replace(result, site=replace(result.site, settings=settings))
    named = [text.get_text() for text in plots.stereonet(bedded, _axes("net")).ax.texts]
    assert "bedding" in named
    assert "bedding" not in svg
    ax = _axes("net")
    assert plots.tilted_stereonet(bedded, ax).ax is ax
    assert _drawn(ax)
    with pytest.raises(js.InputError, match="has no bedding"):
        plots.tilted_stereonet(result, ax)


def test_tilted_net_levels_the_bedding(result: SiteAnalysis) -> None:
    """A set parallel to the bedding plots its mean pole at the centre of the tilted net."""
    first = result.sets[0]
    settings = replace(result.site.settings, bedding=(first.dip_deg, first.dip_direction_deg))
    bedded = replace(result, site=replace(result.site, settings=settings))
    ax = plots.tilted_stereonet(bedded, _axes("net")).ax
    name = next(text for text in ax.texts if text.get_text() == "J1")
    np.testing.assert_allclose(name.xy, (0.0, 0.0), atol=1e-9)


@pytest.mark.usefixtures("words_only")
def test_page_tells_the_sets_with_bedding_level(result: SiteAnalysis) -> None:
    """With a bedding the page has a net of the tilted poles beside the true one."""
    from jointstats.report.directions import section

    settings = replace(result.site.settings, bedding=(20.0, 90.0))
    bedded = replace(result, site=replace(result.site, settings=settings))
    pictures = section(bedded).pictures
    assert len(pictures) == 2
    assert pictures[-1].finding.startswith("With the bedding brought to level: J1 dip")


@pytest.mark.usefixtures("words_only")
def test_page_and_tables_level_the_same_bedding() -> None:
    """With bedding from magnetic north, the page's level set is the mean of the level table."""
    from jointstats.report.directions import section

    site = js.simulate_site(random_state=1)
    settings = replace(site.settings, bedding=(30.0, 90.0), north="magnetic", declination_deg=20.0)
    result = js.analyse(replace(site, settings=settings), n_sets=3)
    table = js.orient_fractures(result.site, level_bedding=True)
    first = result.sets[0]
    own = table[(result.fractures["set"] == first.name).to_numpy()]
    poles = js.poles_from_dip(own["level_dip_deg"], own["level_dip_direction_deg"])
    mean = js.fisher_statistics(poles).mean
    told = section(result).pictures[-1].finding
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


def test_planes_are_named_apart_from_mean_poles(result: SiteAnalysis) -> None:
    """Each set's name stands once at its mean pole, and its plane is called a plane."""
    ax = plots.stereonet(result, _axes("net")).ax
    words = [text.get_text() for text in ax.texts]
    for one in result.sets:
        assert words.count(one.name) == words.count(f"plane {one.name}") == 1
    key = [text.get_text() for text in ax.get_legend().get_texts()]
    assert ("blind to all holes" in key) == (result.sampling.blind_share > 0)


def test_sections_thin_what_they_draw(result: SiteAnalysis) -> None:
    """Of thousands of fractures an even part is drawn as traces."""
    many = pd.concat([result.fractures] * 8, ignore_index=True)
    ax = plots.site_section(replace(result, fractures=many), 90.0, _axes("plain")).ax
    broken = [line.get_xdata() for line in ax.lines if np.isnan(line.get_xdata()).any()]
    assert sum(np.isnan(one).sum() for one in broken) == MOST_TRACES


def test_traces_stand_at_the_apparent_dip() -> None:
    """On a section square to strike a trace has the true dip; along strike it is level.

    tan(apparent dip) = tan(dip) · cos(angle between section and dip direction).
    """
    site = js.simulate_site(holes=[(0.0, 90.0, 30.0)], random_state=2)
    result = js.analyse(site, n_sets=1, random_state=0)
    pole = js.poles_from_dip(50.0, 90.0)[0]
    columns = dict(zip(("pole_east", "pole_north", "pole_up"), pole, strict=True))
    tilted = replace(result, fractures=result.fractures.assign(**columns))
    for azimuth in (90.0, 30.0, 0.0):
        ax = plots.site_section(tilted, azimuth, _axes("plain")).ax
        line = next(one for one in ax.lines if np.isnan(one.get_xdata()).any())
        across, up = np.diff(line.get_xdata()[:2])[0], np.diff(line.get_ydata()[:2])[0]
        expected = np.tan(np.radians(50.0)) * np.cos(np.radians(azimuth - 90.0))
        assert -up / across == pytest.approx(expected, abs=1e-9)


def test_holes_without_collars_stand_side_by_side() -> None:
    """Where one collar is not known the holes keep clear of each other."""
    holes = js.simulate_site(random_state=1).holes
    apart = placed_holes([replace(hole, collar=None) for hole in holes])
    assert (np.diff(apart[:, 0]) > 0.5 * max(hole.length_m for hole in holes)).all()
    known = [replace(hole, collar=(5.0 * i, 0.0, 9.0)) for i, hole in enumerate(holes)]
    np.testing.assert_allclose(placed_holes(known)[:, 0], [0.0, 5.0, 10.0])


def test_elevations_and_coordinates_are_true(result: SiteAnalysis) -> None:
    """A collar stands at its easting and northing, or by its distance from the first; the bar is true."""
    collars = [(1000.0, 50.0, 300.0), (1030.0, 50.0, 310.0), (1060.0, 90.0, 320.0)]
    holes = [replace(h, collar=c) for h, c in zip(result.site.holes, collars, strict=True)]
    placed = replace(result, site=replace(result.site, holes=tuple(holes)))
    first = min(one.path.position(d)[0][0] + c[0] for one, c in zip(holes, collars, strict=True)
                for d in (0.0, one.length_m))
    for ax, wanted in (
        (plots.site_plan(placed, _axes("plain")).ax, [(e, n) for e, n, _ in collars]),
        (plots.site_section(placed, 90.0, _axes("plain")).ax, [(e - first, u) for e, _, u in collars]),
    ):
        squares = [line for line in ax.lines if line.get_marker() == "s"]
        found = [(one.get_xdata()[0], one.get_ydata()[0]) for one in squares]
        np.testing.assert_allclose(found, wanted, atol=1e-9)
        told = next(text.get_text() for text in ax.texts if text.get_text().endswith(" m"))
        bar = ax.lines[-1].get_xdata()
        assert np.ptp(bar) == pytest.approx(float(told.removesuffix(" m")))


def test_a_wide_cone_is_not_drawn_as_a_plane(result: SiteAnalysis) -> None:
    """A cone of 80° would pass for a mean plane; one of 5° is drawn."""
    first, *others = result.sets
    drawn = []
    for cone in (5.0, 80.0):
        one = replace(result, sets=(replace(first, cone_deg=cone), *others))
        drawn.append(len(plots.stereonet(one, _axes("net")).ax.lines))
    assert drawn[1] == drawn[0] - 2
