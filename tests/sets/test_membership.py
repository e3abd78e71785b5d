"""How surely fractures belong: every fracture of the fit once, and rivals from the mixture."""

from __future__ import annotations

import re

import numpy as np

from jointstats.report.record import membership_table
from jointstats.sets.membership import DOUBT, SURE, membership_finding
from jointstats.sets.result import SiteAnalysis


def _fitted(result: SiteAnalysis) -> object:
    return result.fractures[result.fractures["status"].isin(["in a set", "unassigned"])]


def test_every_fracture_of_the_fit_stands_in_the_table_once(result: SiteAnalysis) -> None:
    """Sure, likely and in doubt add up to the fractures of each set, and all to the fit."""
    table = membership_table(result)
    total = 0
    for row in table.rows:
        counts = [int(cell.split(" (")[0]) for cell in row[2:5]]
        rivals = [int(word) for word in re.findall(r" (\d+)(?:,|$)", row[5])]
        assert sum(counts) == int(row[1])
        assert sum(rivals) == counts[2]
        total += int(row[1])
    assert total == len(_fitted(result))


def test_counts_are_those_of_the_memberships(result: SiteAnalysis) -> None:
    """The classes are counted from the memberships that stand in fractures.csv."""
    fitted = _fitted(result)
    for row in membership_table(result).rows:
        own = fitted.loc[fitted["set"] == row[0], "membership"]
        assert row[2].startswith(f"{(own >= SURE).sum()} (")
        assert row[4].startswith(f"{(own < DOUBT).sum()} (")


def test_rivals_are_the_second_largest_memberships(result: SiteAnalysis) -> None:
    """A fracture in doubt is said to be between the two sets of its largest memberships."""
    fitted = _fitted(result)
    names = [*(one.name for one in result.sets), "no set"]
    shares = result.mixture.predict_proba(fitted[["pole_east", "pole_north", "pole_up"]].to_numpy())
    doubtful = fitted["membership"].to_numpy() < DOUBT
    expected: dict[str, int] = {}
    for own, row in zip(fitted["set"][doubtful], shares[doubtful], strict=True):
        first, second = np.argsort(-row)[:2]
        assert names[first] == own.replace("unassigned", "no set")
        key = f"{own}:{names[second]}"
        expected[key] = expected.get(key, 0) + 1
    shown = {
        f"{row[0]}:{name}": int(count)
        for row in membership_table(result).rows
        for name, count in re.findall(r"(J\d+|no set) (\d+)", row[5])
    }
    assert shown == expected


def test_finding_tells_shares_and_the_pair(result: SiteAnalysis, empty: SiteAnalysis) -> None:
    """The sentence gives the share that is sure, and claims nothing where there is no set."""
    in_sets = result.fractures[result.fractures["status"] == "in a set"]
    sure = (in_sets["membership"] >= SURE).sum()
    assert f"Of the {len(in_sets)} fractures in sets, {sure} (" in membership_finding(result)
    assert membership_finding(empty) == "No fracture is in a set."
    assert [row[0] for row in membership_table(empty).rows] in ([], ["unassigned"])
