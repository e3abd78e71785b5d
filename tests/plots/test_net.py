"""Positions on the net agree with the textbook formulas of both projections."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.figure import Figure

import jointstats as js
from jointstats.plots.net import Net, net_axes, on_net


def _on_paper(net: Net, axis: np.ndarray) -> np.ndarray:
    """Place on the net, in units of its radius, east and north from the centre."""
    net.ax.apply_aspect()
    at = net.ax.transData.transform(np.column_stack(on_net(axis, net.hemisphere)))[0]
    centre = net.ax.transAxes.transform((0.5, 0.5))
    rim = net.ax.transAxes.transform((1.0, 0.5))[0] - centre[0]
    return (at - centre) / rim


@pytest.mark.parametrize("projection", ["equal area", "equal angle"])
@pytest.mark.parametrize(("trend", "plunge"), [(0, 0), (37, 20), (135, 62), (250, 5), (300, 88)])
def test_places_follow_the_textbook(projection: str, trend: float, plunge: float) -> None:
    """A line plots at its trend, at √2 sin(z/2) or tan(z/2) of the radius, z from the vertical."""
    net = Net(net_axes(Figure(figsize=(4, 4)), projection=projection))
    away = np.radians(90.0 - plunge)
    radius = np.sqrt(2) * np.sin(away / 2) if projection == "equal area" else np.tan(away / 2)
    expected = radius * np.array([np.sin(np.radians(trend)), np.cos(np.radians(trend))])
    place = _on_paper(net, js.lines_from_trend(trend, plunge)[0])
    np.testing.assert_allclose(place, expected, atol=1e-9)


def test_upper_hemisphere_turns_places_about_the_centre() -> None:
    """The upper end of an axis plots opposite the lower end."""
    axis = js.lines_from_trend(70, 30)[0]
    lower = Net(net_axes(Figure(figsize=(4, 4))))
    upper = Net(net_axes(Figure(figsize=(4, 4))), "upper")
    np.testing.assert_allclose(_on_paper(upper, axis), -_on_paper(lower, axis), atol=1e-12)


@pytest.mark.parametrize("pole", [[0, 0, -1.0], [1, 0, 0], [0.3, -0.8, 0.2], [0, 1e-12, 1]])
def test_plane_runs_from_rim_to_rim(pole: list[float]) -> None:
    """A great circle is drawn once, on the hemisphere, square to its pole, from rim to rim."""
    net = Net(net_axes(Figure()))
    longitude, latitude = net.plane(pole).get_data()
    there = np.isfinite(longitude)
    lon, lat = longitude[there], latitude[there]
    points = np.column_stack([np.sin(lon) * np.cos(lat), np.sin(lat), -np.cos(lon) * np.cos(lat)])
    unit = np.array(pole) / np.linalg.norm(pole)
    assert np.abs(points @ unit).max() < 1e-9
    assert points[:, 2].max() <= 1e-9
    if abs(unit[2]) < 0.99:
        assert np.abs(points[:, 2]).min() < 1e-9
        turn = np.degrees(np.arccos(np.clip((points[1:] * points[:-1]).sum(axis=1), -1, 1))).sum()
        assert turn == pytest.approx(180.0, abs=1e-3)


def test_cone_across_the_rim_shows_on_both_sides() -> None:
    """A cone about a level axis is drawn as two arcs, each within its angle of the axis."""
    net = Net(net_axes(Figure()))
    longitude, latitude = net.cone([1.0, 0, 0], 20.0).get_data()
    there = np.isfinite(longitude)
    east = np.sin(longitude[there]) * np.cos(latitude[there])
    np.testing.assert_allclose(np.abs(east), np.cos(np.radians(20.0)), atol=1e-4)
    assert (east > 0).any() and (east < 0).any()


def test_bad_requests_are_named() -> None:
    """Unknown projections and hemispheres, and plain axes, get an error that says what to do."""
    with pytest.raises(js.InputError, match="projection must be one of"):
        net_axes(Figure(), projection="polar")
    with pytest.raises(js.InputError, match="hemisphere must be 'lower' or 'upper'"):
        Net(net_axes(Figure()), "both")
    with pytest.raises(js.InputError, match="ax must be the axes of a net"):
        Net(Figure().add_subplot())
