"""Parts of a set by condition, and the sensitivity of P32 to the analyst's choices."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import jointstats as js


@pytest.fixture(scope="module")
def result() -> js.SiteAnalysis:
    site = js.simulate_site(random_state=1)
    filled = np.where(np.arange(len(site.fractures)) % 4 == 0, "clay", "none")
    return js.analyse(replace(site, fractures=site.fractures.assign(infilling=filled)))


def test_parts_of_a_set_add_up_to_it(result: js.SiteAnalysis) -> None:
    """P32 of the clay-filled and of the clean fractures of a set sum to that of the set."""
    clay = js.sets.p32_of_parts(result, "infilling", ["clay"])
    clean = js.sets.p32_of_parts(result, "infilling", ["none"])
    whole = [one.p32_per_m for one in result.sets]
    np.testing.assert_allclose(clay["p32_per_m"] + clean["p32_per_m"], whole)
    assert (clay["p32_low_per_m"] < 0.25 * np.array(whole)).all()
    assert (clay["p32_high_per_m"] > 0.25 * np.array(whole)).all()


def test_a_part_that_is_not_there_is_named(result: js.SiteAnalysis) -> None:
    """An unknown term or a column without descriptions says what there is."""
    with pytest.raises(js.InputError, match="no fracture is 'gouge' in 'infilling'; it has"):
        js.sets.p32_of_parts(result, "infilling", ["gouge"])
    with pytest.raises(js.InputError, match="no fracture is described in 'oxidation'"):
        js.sets.p32_of_parts(result, "oxidation", ["strong"])


def test_the_choice_made_gives_the_figures_shown(result: js.SiteAnalysis) -> None:
    """The analysis itself, and its own blind angle, come out as they are; others move P32 a little."""
    table = js.sets.sensitivity(result).set_index("choice")
    shown = [one.p32_per_m for one in result.sets]
    np.testing.assert_allclose(table.loc["as analysed"], shown, rtol=2e-3)
    np.testing.assert_allclose(table.loc["blind angle 10°"], shown, rtol=2e-3)
    assert (table.loc["no random fractures"] > table.loc["as analysed"]).all()
    np.testing.assert_allclose(table.loc["blind angle 20°"], shown, rtol=0.25)
