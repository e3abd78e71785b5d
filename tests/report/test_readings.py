"""The readings of the rock in words: sets by shape, odds, and the fold axis of a girdle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from jointstats.fit.odds import Reading
from jointstats.fit.rock import Rock, RockSet
from jointstats.report.first import headline
from jointstats.report.readings import readings_table, rock_words, section
from jointstats.sets.result import SiteAnalysis
from jointstats.sphere.angles import lines_from_trend
from jointstats.sphere.set_shapes import EllipticalDensity, GirdleDensity, RoundDensity


def test_each_shape_has_its_word() -> None:
    """A rock of a girdle, an ellipse and two round sets is named so, with axis and axial ratio."""
    girdle = GirdleDensity.about(lines_from_trend([39.0], [3.0])[0], 20.0)
    # (κ + 2e) / (κ − 2e) = 4 for e = 0.3 κ.
    ellipse = EllipticalDensity(np.eye(3), 40.0, 12.0)
    plain = [RoundDensity.about(axis, 40.0) for axis in ([1.0, 0.0, 0.0], [0.0, 1.0, 0.0])]
    rock = Rock(tuple(RockSet(one, 1.0) for one in (plain[0], girdle, plain[1], ellipse)), 0.1)
    assert rock_words(rock) == (
        "one girdle (a fold, axis 039/3), one elliptical set of axial ratio 2.0 and two round sets"
    )


def test_page_opens_with_both_readings(result: SiteAnalysis) -> None:
    """Where there is a second reading the first sentence has both with their probabilities; so has a table."""
    alone = replace(result, readings=result.readings[:1])
    assert headline(alone).startswith("Three round sets: J1 (dip")
    assert readings_table(alone) is None
    other = Rock(result.rock.sets[:2], 0.3)
    found = replace(result, readings=(Reading(result.rock, 0.8, 0.0), Reading(other, 0.2, 3.0)))
    apart = np.degrees(np.arccos(np.abs(other.means[0] @ other.means[1])))
    assert headline(found).startswith(
        f"Three round sets (80 %), or two round sets, {apart:.0f}° apart (20 %). The first is shown: "
    )
    table = readings_table(found)
    assert table is not None
    assert [row[1] for row in table.rows] == ["80 %", "20 %"]
    assert table.rows[1][2].count("P32") == 2
    nets = section(found)
    assert nets is not None and section(alone) is None
    assert [one.caption.split(":")[0] for one in nets.pictures] == [
        "Shown, probability 80 %",
        "Second, probability 20 %",
    ]
