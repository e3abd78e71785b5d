"""The view of a fracture table: rows by status, set and hole, and poles."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.fractures import UNASSIGNED, Fractures, Status, pole_columns


@pytest.fixture(scope="module")
def table() -> pd.DataFrame:
    site = js.simulate_site(random_state=3)
    fractures = site.fractures.copy()
    fractures.loc[fractures.index[::9], ["dip_deg", "dip_direction_deg"]] = np.nan
    unread = js.Site(site.name, site.holes, fractures, site.settings)
    return js.analyse(unread, 3).fractures


def test_each_status_counts_its_own_rows(table: pd.DataFrame) -> None:
    """Every row has one status, and the counts are those of a plain tally."""
    fractures = Fractures(table)
    counts = fractures.counts()
    assert sum(counts.values()) == len(table)
    for status, n in counts.items():
        assert n == sum(word == str(status) for word in table["status"])
        assert n == fractures.has(status).sum()
    assert counts[Status.NOT_ORIENTED] == len(table.index[::9])
    assert counts[Status.IN_THE_FIT] == 0


def test_views_part_the_table(table: pd.DataFrame) -> None:
    """Sets and holes part the oriented rows; what was fitted is of a set or of none."""
    fractures = Fractures(table)
    names = [*dict.fromkeys(name for name in table["set"] if name)]
    assert UNASSIGNED in names
    oriented = sum(len(fractures.of_set(name)) for name in names)
    assert oriented == len(fractures.oriented) == np.isfinite(fractures.poles[:, 2]).sum()
    assert sum(len(fractures.in_hole(name)) for name in ("H1", "H2", "H3")) == len(table)
    fitted = fractures.fitted
    assert len(fitted) == len(fitted.in_sets) + len(fitted.of_set(UNASSIGNED))
    assert len(fractures.counted) == len(table)


def test_poles_are_those_of_the_planes_given(table: pd.DataFrame) -> None:
    """Poles agree with the dips and dip directions of the same rows, and can be put back."""
    oriented = Fractures(table).oriented
    planes = oriented.table[["true_dip_deg", "true_dip_direction_deg"]].to_numpy(float)
    np.testing.assert_allclose(oriented.poles, js.poles_from_dip(*planes.T), atol=1e-12)
    turned = oriented.with_poles(-oriented.poles)
    np.testing.assert_array_equal(turned.poles, -oriented.poles)
    assert list(pole_columns(oriented.poles)) == ["pole_east", "pole_north", "pole_up"]
