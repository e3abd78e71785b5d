"""The grades follow the rules that the report prints."""

from __future__ import annotations

import re
from types import SimpleNamespace

import numpy as np
import pytest

from jointstats.line.spacing import SpacingStatistics
from jointstats.sets.reliability import (
    SURENESS_RULE,
    USE_RULE,
    chance_of_clusters,
    how_sure,
    least_sure,
    uses_of,
)


def _set(**changes: object) -> SimpleNamespace:
    number = changes.pop("spacings", 40)
    # Quantiles of an exponential distribution: as even as chance makes them.
    even = -np.log1p(-(np.arange(number) + 0.5) / max(number, 1))
    spacing = SpacingStatistics(even ** changes.pop("power", 1.0))
    plain = {"n": 60, "cone_deg": 3.0, "p32_interval": (1.0, 1.4), "seen_share": 0.95}
    counts, angles = changes.pop("holes", ((20, 40), (15.0, 70.0)))
    holes = {"n": np.array(counts), "angle_deg": np.array(angles)}
    rest = {"best_angle_deg": max(angles), "spacing": spacing, "holes": holes}
    return SimpleNamespace(**(plain | rest | changes))


@pytest.mark.parametrize(
    ("changes", "grade"),
    [
        ({}, "firm"),
        ({"n": 30, "cone_deg": 8.0, "p32_interval": (1.0, 2.0), "seen_share": 0.8}, "firm"),
        ({"n": 29}, "fair"),
        ({"cone_deg": 8.1}, "fair"),
        ({"p32_interval": (1.0, 2.01)}, "fair"),
        ({"seen_share": 0.79}, "fair"),
        ({"n": 14}, "weak"),
        ({"cone_deg": 15.1}, "weak"),
        ({"p32_interval": (0.0, 1.0)}, "weak"),
        ({"seen_share": 0.49}, "weak"),
    ],
)
def test_grade_follows_the_rule(changes: dict[str, object], grade: str) -> None:
    """Each limit of the printed rule decides, and the limit itself passes."""
    assert how_sure(_set(**changes)) == grade


def test_rules_print_the_limits_in_use() -> None:
    """The numbers in the printed rules are those that decide."""
    printed = [
        [int(n) for n in re.findall(r"(?<!P)\b\d+", rule)] for rule in (SURENESS_RULE, USE_RULE)
    ]
    assert printed == [[30, 8, 2, 80, 15, 15, 3, 50], [15, 10, 6, 20, 2, 80, 4, 50, 30, 30, 30, 10, 0, 1]]


@pytest.mark.parametrize(
    ("changes", "verdicts"),
    [
        ({}, ["yes", "yes", "yes"]),
        ({"spacings": 9}, ["yes", "yes", "no"]),
        ({"spacings": 10}, ["yes", "yes", "with care"]),
        ({"holes": ((60,), (29.0,))}, ["yes", "yes", "with care"]),
        ({"holes": ((31, 29), (29.0, 30.0))}, ["yes", "yes", "with care"]),
        ({"holes": ((30, 30), (29.0, 30.0))}, ["yes", "yes", "yes"]),
        ({"power": 2.5}, ["yes", "yes", "with care"]),
        ({"n": 6, "cone_deg": 20.0}, ["with care", "yes", "yes"]),
        ({"n": 5}, ["no", "yes", "yes"]),
        ({"p32_interval": (1.0, 4.0)}, ["yes", "with care", "yes"]),
        ({"p32_interval": (0.0, 4.0)}, ["yes", "no", "yes"]),
        ({"seen_share": 0.4}, ["yes", "no", "yes"]),
    ],
)
def test_use_follows_the_rule(changes: dict[str, object], verdicts: list[str]) -> None:
    """Orientation, frequency and spacing are each judged by their own figures."""
    assert [use.verdict for use in uses_of(_set(**changes))] == verdicts


@pytest.mark.parametrize(
    ("holes", "words"),
    [
        (((60,), (70.0,)), "best hole at 70° to the set"),
        (((20, 40), (15.0, 70.0)), "1 of 2 holes at 30° or more, with 40 of its 60 fractures"),
        (((20, 40), (30.0, 70.0)), "all 2 holes at 30° or more"),
    ],
)
def test_use_tells_how_many_holes_cross_at_a_good_angle(
    holes: tuple[tuple[int, ...], tuple[float, ...]], words: str
) -> None:
    """A set seen well by one hole of several does not pass for one that all of them see well."""
    assert uses_of(_set(holes=holes))[2].reason.endswith(words)


def test_least_sure_is_the_lowest_grade_then_the_widest_interval() -> None:
    """Between sets of one grade the wider relative interval of P32 decides."""
    wide, narrow = _set(p32_interval=(1.0, 1.9)), _set(p32_interval=(1.0, 1.2))
    weak = _set(n=4, p32_interval=(1.0, 1.1))
    assert least_sure((narrow, wide)) is wide
    assert least_sure((narrow, wide, weak)) is weak
    assert least_sure((narrow,)) is None


def test_cluster_test_keeps_its_level() -> None:
    """Of logs of exponential spacings about 1 in 100 falls below 0.01 (3 standard errors)."""
    rng = np.random.default_rng(3)
    logs = rng.exponential(1.0, (4000, 25))
    share = np.mean([chance_of_clusters(SpacingStatistics(row)) < 0.01 for row in logs])
    assert abs(share - 0.01) < 3 * np.sqrt(0.01 * 0.99 / 4000)
