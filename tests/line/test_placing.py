"""Clusters along a line."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats.line.placing import clustering_pvalue


def test_cluster_test_keeps_its_level() -> None:
    """Of logs of exponential spacings about 1 in 100 falls below 0.01 (3 standard errors)."""
    logs = np.random.default_rng(3).exponential(1.0, (4000, 25))
    share = np.mean([clustering_pvalue(row) < 0.01 for row in logs])
    assert abs(share - 0.01) < 3 * np.sqrt(0.01 * 0.99 / 4000)


@pytest.mark.parametrize(("shape", "clustered"), [(0.5, True), (1.0, False), (4.0, False)])
def test_clusters_are_found(shape: float, clustered: bool) -> None:
    """Gamma spacings of a shape below 1 come in clusters; exponential and regular ones do not."""
    spacings = np.random.default_rng(8).gamma(shape, 1.0, 200)
    assert (clustering_pvalue(spacings) < 0.01) == clustered
