"""Agreement with general-purpose libraries that may not be installed; skipped where they aren't."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats import (
    axis_angles_deg,
    fisher_statistics,
    lines_from_trend,
    orientation_tensor,
    trend_from_lines,
)
from jointstats.sphere import AxialFisher, common_mean_test, fit_kent
from jointstats.sphere.normalise import log_kent

# Old-fashioned code in these libraries warns on import and in use.
pytestmark = pytest.mark.filterwarnings("ignore")


def _declinations(rows: np.ndarray) -> list[list[float]]:
    trend, plunge = trend_from_lines(rows)
    return np.column_stack([trend, plunge, np.ones(len(rows))]).tolist()


def test_kent_agrees_with_fb8() -> None:
    """Constant, κ, β and likelihood agree with the library's maximum likelihood fit."""
    theirs = pytest.importorskip("sphere.distribution")
    assert log_kent(20.0, 4.0) + 20.0 == pytest.approx(
        np.log(theirs.fb8(0, 0, 0, 20, 4).normalize()), abs=1e-10
    )
    rows = AxialFisher([0.1, 0.2, 1.0], 30.0).rvs(60, random_state=1) * [1.8, 1.0, 1.0]
    rows = -rows / np.linalg.norm(rows, axis=1, keepdims=True)
    fit = fit_kent(rows, axial=False)
    other = theirs.fb8_mle(rows[:, [2, 0, 1]], fb5_only=True)
    assert fit.kappa == pytest.approx(other.kappa, rel=1e-3)
    assert fit.beta == pytest.approx(other.beta, rel=1e-3)
    assert fit.log_likelihood >= other.log_likelihood(rows[:, [2, 0, 1]]) - 1e-6


def test_means_agree_with_pmagpy() -> None:
    """Fisher mean, Watson's F and principal axes agree with the library."""
    pmag = pytest.importorskip("pmagpy.pmag")
    a = AxialFisher([0.1, 0.2, -1.0], 30.0).rvs(20, random_state=1)
    b = AxialFisher([0.2, 0.2, -1.0], 30.0).rvs(15, random_state=2)
    theirs, found = pmag.fisher_mean(_declinations(a)), fisher_statistics(a)
    assert found.kappa == pytest.approx(theirs["k"], rel=1e-9)
    assert found.cone_deg == pytest.approx(theirs["alpha95"], rel=1e-9)
    verdict = common_mean_test(a, b, method="equal kappa")
    statistic = pmag.watsons_f(_declinations(a), _declinations(b))[0]
    assert verdict.statistic == pytest.approx(statistic, rel=1e-8)
    axes, tensor = pmag.doprinc(_declinations(a)), orientation_tensor(a)
    assert tensor.eigenvalues[0] == pytest.approx(axes["tau1"], abs=1e-9)
    assert axis_angles_deg(tensor.axes[0], lines_from_trend(axes["dec"], axes["inc"]))[0] < 1e-5
