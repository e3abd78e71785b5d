"""Nets of the readings of a rock."""

from __future__ import annotations

import jointstats as js
from jointstats import plots


def test_each_set_of_a_reading_has_its_plane_and_its_contour() -> None:
    """A reading of three round sets draws three planes and three contours, numbered in order."""
    result = js.analyse(js.simulate_site(random_state=1), n_sets=3, domains="none")
    ax = plots.reading_net(result, result.rock, plots.net_axes(plots.new_figure())).ax
    colours = [line.get_color() for line in ax.lines]
    for place in range(3):
        assert colours.count(plots.palette.set_style(place).colour) >= 2
    assert [text.get_text() for text in ax.texts if text.get_text() in "123"] == ["1", "2", "3"]
