"""Shares of groups drawn together; the beta-binomial of scipy is the judge."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import beta, betabinom, binom

from jointstats.errors import InputError
from jointstats.observed.shares import _SIZES, pooled_shares


def test_shares_are_posterior_means() -> None:
    """Shares are averages over beta priors of each size, by quadrature with scipy's densities."""
    found, of = np.array([9, 2, 5]), np.array([10, 8, 10])
    share = found.sum() / of.sum()
    evidence = [binom.pmf(found, of, share).prod() * 0.5]
    means = [np.full(3, share)]
    for size in _SIZES:
        a, b = size * share, size * (1 - share)
        evidence.append(betabinom.pmf(found, of, a, b).prod() * 0.5 / len(_SIZES))
        post = [beta(a + x, b + n - x) for x, n in zip(found, of, strict=True)]
        means.append(np.array([quad(lambda t, p=p: t * p.pdf(t), 0, 1)[0] for p in post]))
    weights = np.array(evidence) / np.sum(evidence)
    got = pooled_shares(found, of)
    np.testing.assert_allclose(got.shares, weights @ np.array(means), rtol=1e-5)
    assert got.p_alike == pytest.approx(weights[0])


def test_alike_groups_share_and_others_do_not() -> None:
    """Groups alike have nearly one share; a group unlike the rest keeps its own."""
    alike = pooled_shares([12, 15, 13], [20, 20, 20])
    assert np.ptp(alike.shares) < 0.05 and alike.p_alike > 0.5
    apart = pooled_shares([20, 1, 19], [20, 20, 20])
    assert apart.shares[1] < 0.1 and apart.p_alike < 0.01


def test_nothing_lost_is_a_share_of_exactly_one() -> None:
    """Where every fracture has it, or there is none, nothing is corrected."""
    assert pooled_shares([4, 7], [4, 7]).shares.tolist() == [1.0, 1.0]
    assert pooled_shares([0], [0]).shares.tolist() == [1.0]
    with pytest.raises(InputError, match="none of them larger"):
        pooled_shares([3], [2])
