"""The first screen: what is true, in what order, how sure."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats import plots
from jointstats.report.first import headline, kind_of, sentences, set_table
from jointstats.report.page import report_pages
from jointstats.report.spacing import section
from jointstats.report.terminal import sets_text
from jointstats.sets.record import sets_csv, sets_json
from jointstats.sets.result import SiteAnalysis
from jointstats.words import number


def _changed(result: SiteAnalysis, *changes: dict[str, object]) -> SiteAnalysis:
    sets = [replace(one, **new) for one, new in zip(result.sets, changes, strict=False)]
    return replace(result, sets=tuple(sets))


def test_headline_names_every_set_and_the_random_fractures(result: SiteAnalysis) -> None:
    """The first sentence has every set with its plane, and what share of P32 is random."""
    told = headline(result)
    for one in result.sets:
        assert f"{one.name} (dip {one.dip_deg:.0f}°" in told
    share = result.background_per_m / (
        result.background_per_m + sum(one.p32_per_m for one in result.sets)
    )
    assert f"random fractures ({100 * share:.0f} % of all P32)" in told or share < 0.0995


def test_no_set_is_said_plainly(empty: SiteAnalysis) -> None:
    """Without fractures the answer claims no set."""
    assert headline(empty) == "No set stands out from random fractures."


@pytest.mark.parametrize(
    ("intervals", "words"),
    [
        (((1.0, 1.2), (0.5, 0.8), (0.4, 0.9)), "J1 is more frequent than J2 and J3; no other"),
        (((1.0, 1.2), (0.9, 1.1), (0.4, 0.9)), "J1 and J2 are each more frequent than J3"),
        (((1.0, 1.2), (0.8, 1.1), (0.4, 0.9)), "J1 is more frequent than J3; no other"),
        (((1.0, 1.2), (0.9, 1.1), (0.8, 1.3)), "which set is the more frequent is not known"),
    ],
)
def test_an_order_is_said_only_where_intervals_part(
    result: SiteAnalysis, intervals: tuple[tuple[float, float], ...], words: str
) -> None:
    """Sets of overlapping intervals are not ranked."""
    told = sentences(_changed(result, *({"p32_interval": one} for one in intervals)))[0]
    assert words in told


def test_least_certain_set_is_named_with_the_reason(result: SiteAnalysis) -> None:
    """A set with few fractures is said to be the least certain, and why."""
    told = sentences(_changed(result, {}, {"n": 9}, {}))[1]
    assert told.startswith("Confidence is lowest in J2: low (orientation: only 9 fractures")


def test_the_table_ends_with_random_fractures_and_all_together(result: SiteAnalysis) -> None:
    """P32 of both with its interval, and their number; all together is the sum of the rows above."""
    *sets, (random, cells), (everything, total) = set_table(result).rows
    assert (random, everything) == ("random", "all")
    assert all(one[1].main and " to " in one[1].small for one in (cells, total))
    assert cells[4].main == str(result.counts.unassigned)
    assert int(total[4].main) == sum(int(one[4].main) for _, one in [*sets, (random, cells)])
    found, parts = result.total_p32, [one.p32_per_m for one in result.sets]
    assert float(found.estimate) == pytest.approx(sum(parts) + result.background_per_m)
    assert found.low < found.estimate < found.high


def test_figures_have_the_digits_that_their_intervals_ask_for(result: SiteAnalysis) -> None:
    """P32 and spacing stand with two digits."""
    for _, cells in set_table(result).rows[:-2]:
        for text in (cells[1].main, cells[2].main.removesuffix(" m")):
            assert len(text.replace(".", "").lstrip("0")) <= 2


def test_long_names_are_cut_in_drawings(result: SiteAnalysis) -> None:
    """A very long hole name does not push a drawing out of shape; the tables keep it whole."""
    long = "a hole of a name that goes on and on"
    last = result.site.holes[-1]
    holes = (*result.site.holes[:-1], replace(last, name=long))
    sets = tuple(
        replace(one, holes=one.holes.assign(hole=one.holes["hole"].replace(last.name, long)))
        for one in result.sets
    )
    fractures = result.fractures.assign(hole=result.fractures["hole"].replace(last.name, long))
    renamed = replace(
        result, site=replace(result.site, holes=holes), sets=sets, fractures=fractures
    )
    forest = plots.hole_forest(renamed, "p32", plots.new_figure().add_subplot()).ax
    assert forest.get_yticklabels()[-1].get_text() == "a hole of a nam…"


def test_sets_that_mix_classes_are_not_called_joint_sets(result: SiteAnalysis) -> None:
    """The page says what each set is made of, and calls no vein and no foliation a joint."""
    assert kind_of(result) == "Joint sets from boreholes"
    fitted = result.fractures["set"] == result.sets[0].name
    kinds = np.where(fitted, "foliation", "joint")
    changed = replace(result, fractures=result.fractures.assign(discontinuity_class=kinds))
    assert kind_of(changed) == "Sets of discontinuities from boreholes"
    told = " ".join(sentences(changed))
    assert f"J1 {result.sets[0].n} foliation planes; J2 {result.sets[1].n} joints" in told


def test_figures_are_in_feet_too_where_that_is_asked_for(result: SiteAnalysis) -> None:
    """P32 and spacing of each set stand in both units in the table of the page and in sets.csv."""
    assert len(section(result).tables) == 1
    settings = replace(result.site.settings, figures_in="m and ft")
    both = replace(result, site=replace(result.site, settings=settings))
    _, feet = section(both).tables
    first = result.sets[0]
    assert feet.rows[0][1].startswith(number(first.p32_per_m * 0.3048, 2))
    assert feet.rows[0][2].startswith(number(first.spacing.mean_m / 0.3048, 2))
    table = pd.read_csv(io.StringIO(sets_csv(both)))
    assert table["p32_per_ft"].tolist() == pytest.approx([0.3048 * p for p in table["p32_per_m"]], rel=1e-5)
    assert table["spacing_mean_ft"][0] == pytest.approx(first.spacing.mean_m / 0.3048, rel=1e-5)
    assert "p32_per_ft" not in sets_csv(result)


@pytest.mark.usefixtures("words_only")
def test_scanlines_are_not_called_holes() -> None:
    """A site of scanlines alone has no hole in its page, its cautions or the terminal."""
    site = js.simulate_site(holes=((20.0, 2.0, 40.0), (110.0, 1.0, 40.0)), random_state=3)
    lines = tuple(replace(one, name=f"S{k}", kind="scanline") for k, one in enumerate(site.holes))
    names = dict(zip((one.name for one in site.holes), (one.name for one in lines), strict=True))
    fractures = site.fractures.assign(hole=site.fractures["hole"].map(names))
    found = js.analyse(replace(site, holes=lines, fractures=fractures), 3, domains="none")
    for text in (report_pages(found)["index.html"], sets_text(found), str(found.cautions)):
        assert not re.search(r"\bholes?\b(?!\.csv)", text, flags=re.IGNORECASE)
    mixed = js.analyse(replace(site, holes=(site.holes[0], replace(site.holes[1], kind="scanline"))), 3, domains="none")
    assert "1 hole, 1 scanline, 80.0 m logged" in (page := report_pages(mixed)["index.html"])
    assert "Where this page says hole, a scanline is meant too." in page


@pytest.mark.usefixtures("words_only")
@pytest.mark.parametrize("left", [[], ["dip_deg"]])
def test_a_log_without_whole_orientations_gives_no_p32(left: list[str], tmp_path: Path) -> None:
    """Nothing is said of sets, of random fractures or of what was missed, and no P32 is zero."""
    site = js.simulate_site(random_state=1)
    lost = [name for name in ("dip_deg", "dip_direction_deg") if name not in left]
    found = js.analyse(replace(site, fractures=site.fractures.assign(**dict.fromkeys(lost, np.nan))))
    assert found.unoriented and found.counts.not_oriented == found.counts.total > 300
    page = report_pages(found)["index.html"]
    for text in (page, sets_text(found)):
        assert "No fracture has a whole orientation" in text
        assert "random fractures" not in text and "could have been missed" not in text
    record = json.loads(sets_json(found))
    assert record["total_p32_per_m"] is None and record["background_p32_per_m"] is None
    (tmp_path / "sets.json").write_text(sets_json(found), encoding="utf-8")
    assert np.isnan(js.load_result(tmp_path / "sets.json").background_per_m)
