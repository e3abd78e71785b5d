"""Fit to a Fisher distribution, outliers, and the sentences of verdicts."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import vonmises_fisher

from jointstats import InputError
from jointstats.sphere import AxialFisher, Verdict, fisher_fit_test, outlier_test
from jointstats.sphere.axes import rotation_about
from jointstats.sphere.fisher_fit import fit_statistics
from tests import references as ref


def _statistics(n: int, kappa: float, draws: int) -> np.ndarray:
    """The three statistics of draws about their own means, by a plain loop."""
    law = vonmises_fisher([0, 0, 1.0], kappa)
    drops, along = [], []
    for seed in range(draws):
        rows = law.rvs(n, random_state=seed)
        mean = rows.sum(axis=0) / np.linalg.norm(rows.sum(axis=0))
        first = np.cross(mean, [1.0, 0, 0])
        first /= np.linalg.norm(first)
        drops.append(1 - rows @ mean)
        along.append(rows @ first + 1j * (rows @ np.cross(mean, first)))
    return fit_statistics(np.array(drops), np.array(along), longest=False)


def test_printed_limits_of_colatitude_and_two_variable() -> None:
    """The printed 10, 5 and 1% limits are passed by 10, 5 and 1% of 600 draws (0.04)."""
    colatitude, _, two_variable = _statistics(40, 50.0, 600)
    for values, printed in (
        (colatitude, ref.FISHER_BEST_COLATITUDE),
        (two_variable, ref.FISHER_BEST_TWO_VARIABLE),
    ):
        shares = [(values > limit).mean() for limit in printed.value]
        assert shares == pytest.approx([0.10, 0.05, 0.01], abs=0.04)


def test_size_of_the_fit_test() -> None:
    """A Fisher set is rejected 5 times in 100 (150 draws, 3 standard errors)."""
    generator = np.random.default_rng(1)
    law = AxialFisher([0.5, 0, -1.0], 20.0)
    tails = [
        fisher_fit_test(law.rvs(15, generator), draws=99, random_state=generator).pvalue
        for _ in range(150)
    ]
    assert np.mean(np.array(tails) <= 0.05) == pytest.approx(0.05, abs=0.054)


def test_misfits_are_found_by_their_own_test() -> None:
    """An elongated set fails in longitude; two shells about one mean fail in colatitude."""
    generator = np.random.default_rng(2)
    long = np.column_stack(
        [generator.normal(0, 0.3, 80), generator.normal(0, 0.05, 80), np.ones(80)]
    )
    verdict = fisher_fit_test(long, draws=199)
    assert verdict.longitude is not None and verdict.longitude.pvalue <= 0.01
    assert verdict.pvalue <= 0.05
    angle = generator.uniform(0, 2 * np.pi, 80)
    ring = np.column_stack([np.cos(angle), np.sin(angle), np.full(80, 4.0)])
    verdict = fisher_fit_test(ring, draws=199)
    assert verdict.colatitude is not None and verdict.colatitude.pvalue <= 0.01
    assert len(verdict.to_frame()) == 4


def test_fit_does_not_depend_on_the_frame() -> None:
    """Flipping, reordering and turning leave the three statistics alone."""
    poles = AxialFisher([0.5, 0, -1.0], 12.0).rvs(25, random_state=0)
    turned = -poles[::-1] @ rotation_about([0.4, 0.1, 0.6], 1.3).T
    first, second = fisher_fit_test(poles, draws=99), fisher_fit_test(turned, draws=99)
    for name in ("colatitude", "longitude", "two_variable"):
        assert getattr(first, name).statistic == pytest.approx(
            getattr(second, name).statistic, abs=1e-9
        )


@pytest.mark.parametrize(("kappa", "n", "repetitions"), [(60.0, 12, 800)])
def test_size_of_the_outlier_test(kappa: float, n: int, repetitions: int) -> None:
    """A set without an outlier is rejected 5 times in 100 (3 standard errors)."""
    generator = np.random.default_rng(7)
    law = AxialFisher([0.5, 0, -1.0], kappa)
    rejected = np.mean(
        [outlier_test(law.rvs(n, generator)).pvalue < 0.05 for _ in range(repetitions)]
    )
    assert rejected == pytest.approx(0.05, abs=3 * np.sqrt(0.0475 / repetitions))


def test_outlier_statistic_by_hand() -> None:
    """The statistic is (n − 2)(1 + R₁ − R)/(n − 1 − R₁) of the farthest row."""
    rows = AxialFisher([0, 0, -1.0], 80.0).rvs(9, random_state=1)
    rows = np.vstack([rows, [0.9, 0, -1.0] / np.linalg.norm([0.9, 0, -1.0])])
    verdict = outlier_test(rows)
    whole, rest = np.linalg.norm(rows.sum(axis=0)), np.linalg.norm(rows[:9].sum(axis=0))
    assert verdict.row == 9
    assert verdict.statistic == pytest.approx(8 * (1 + rest - whole) / (9 - rest), rel=1e-9)
    assert verdict.pvalue < 0.01
    assert outlier_test([[0, 0, 1.0]] * 5).pvalue == 1.0


def test_sentences() -> None:
    """The sentence says what was tested, the verdict, p, n, and that few data are few."""
    weak = Verdict("t", "all is well", 1.0, 0.3, (2.0,), (5, 7), "F", "none")
    assert weak.summary == (
        "The data are consistent with this: all is well "
        "(p = 0.3; 5 and 7 poles; few data, so a weak test)."
    )
    strong = Verdict("t", "all is well", 1.0, 0.0001, (), (50,), "F", "none")
    assert strong.summary == "The data speak against this: all is well (p < 0.001; 50 poles)."
    assert "pvalue=0.3" in repr(weak)
    assert "<table" in strong._repr_html_()


def test_bad_arguments_are_named() -> None:
    """Too few poles and too few draws are refused."""
    with pytest.raises(InputError, match="at least 3 rows"):
        fisher_fit_test(np.eye(3)[:2])
    with pytest.raises(InputError, match="draws must be 99 or more"):
        fisher_fit_test(np.eye(3), draws=10)
    with pytest.raises(InputError, match="at least 4 rows"):
        outlier_test(np.eye(3))
