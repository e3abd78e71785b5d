"""Whether core and image saw the same share of every set."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.stats import chi2

from jointstats.borehole.path import HolePath
from jointstats.borehole.sampling import BOTH, SampledLength, SampledLine, Sampling
from jointstats.borehole.spans import Spans
from jointstats.observed.by_set import _alike, detection_by_set


def _logged(rng: np.random.Generator, image: tuple[float, float]) -> pd.DataFrame:
    """Core that sees 0.9 and image that sees by set, paired by the truth."""
    rows: list[dict[str, object]] = []
    for name, seen in zip(("J1", "J2"), image, strict=True):
        for depth in rng.uniform(0, 100, 120):
            by_core, by_image = rng.random() < 0.9, rng.random() < seen
            row = {"hole": "A", "depth_m": depth, "set": name, "pair_row": np.nan}
            if by_image:
                pair = len(rows) + 3.0 if by_core else np.nan
                rows.append(row | {"method": "image", "status": "in a set", "pair_row": pair})
            if by_core:
                pair = len(rows) + 1.0 if by_image else np.nan
                status = "paired" if by_image else "in a set"
                rows.append(row | {"method": "core", "status": status, "pair_row": pair})
    return pd.DataFrame(rows)


def _sampling() -> Sampling:
    logged = {"core": Spans([(0, 100)]), "image": Spans([(0, 100)])}
    line = SampledLine("A", HolePath([0], [0], [90]), 0.0, 100.0, logged, 10.0)
    return Sampling((line,), 10.0).with_lengths([SampledLength("A", 0.0, 100.0, BOTH)])


def test_a_set_that_the_image_sees_less_is_found() -> None:
    """0.9 against 0.6 is found in nearly all of 40 logs; the same 0.8 in few, as the level has it."""
    rng = np.random.default_rng(4)
    apart = [detection_by_set(_logged(rng, (0.9, 0.6)), _sampling()) for _ in range(40)]
    assert sum(one.pvalue < 0.05 for one in apart) >= 38
    rates = np.mean([one.table["image_rate"] for one in apart], axis=0)
    np.testing.assert_allclose(rates, [0.9, 0.6], atol=0.02)
    assert "J2 by the image" in apart[0].sentence
    alike = [detection_by_set(_logged(rng, (0.8, 0.8)), _sampling()) for _ in range(40)]
    # Binomial of 40 at 5 %: more than 6 has a chance below one in 100.
    assert sum(one.pvalue < 0.05 for one in alike) <= 6


def test_pvalue_is_that_of_two_tables() -> None:
    """Holm's smaller p-value of two chi-square tests of equal shares, worked out by hand."""
    counts = np.array([[[30, 10], [30, 5]], [[20, 20], [20, 5]]])
    share = 50 / 80
    first = sum((row - 40 * share) ** 2 / (40 * share * (1 - share)) for row in (30, 20))
    assert np.isclose(_alike(counts), 2 * chi2.sf(first, 1))
    assert _alike(counts[:1]) == 1.0
