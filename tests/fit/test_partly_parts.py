"""Fractures known in part in a fit: memberships, the likeliest pole, what stays of the estimator."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.partly_fit import _joined, fit_with_partly
from jointstats.observed.partly import PartlyOriented
from jointstats.sphere.axial_fisher import sample

MEANS = js.poles_from_dip([10, 75], [100, 200])
HOLE = js.LineExposure(js.lines_from_trend([0, 315], [90, 50]), [60.0, 40.0])
ROWS = np.vstack([sample(m, 50.0, n, random_state=n) for m, n in zip(MEANS, (30, 15), strict=True)])
#: Two fractures of three places and one of one: a pole of the first set, the second, and between.
PLACES = np.vstack([MEANS[0], -MEANS[1], [1.0, 0.0, 0.0], MEANS[1], MEANS[1], MEANS[0], MEANS[0]])
PARTLY = PartlyOriented(
    np.array([4, 7, 9]),
    PLACES,
    np.array([0.3, 0.1, 0.2, 0.2, 0.3, 0.2, 0.9]),
    np.array([0, 0, 0, 1, 1, 1, 2]),
    HOLE,
    np.array([0.01, np.nan, 0.03]),
)


def _model(**options: object) -> js.JointSetMixture:
    return js.JointSetMixture(2, random_state=0, **options)  # type: ignore[arg-type]


def test_memberships_are_shares_of_the_rates_at_the_places() -> None:
    """Σ w λ f over the places of each; the likeliest place, and how far the others lie from it."""
    model = _model().fit(ROWS, exposure=HOLE)
    found = fit_with_partly(model, PARTLY, None)
    rates = np.exp(found.model.rock_.log_rates(PLACES)) * PARTLY.weights[:, np.newaxis]
    for p in range(3):
        own = PARTLY.part_of == p
        share = rates[own].sum(axis=0)
        np.testing.assert_allclose(found.memberships[p], share / share.sum(), rtol=1e-9)
        chance = rates[own].sum(axis=1)
        chance /= chance.sum()
        best = PLACES[own][np.argmax(chance)]
        np.testing.assert_array_equal(found.poles[p], best)
        away = js.axis_angles_deg(PLACES[own], best)
        assert found.error_deg[p] == pytest.approx(np.sqrt(chance @ away**2), abs=1e-6)
    np.testing.assert_array_equal(found.poles[0], MEANS[0])
    assert found.error_deg[2] == 0.0


def test_the_estimator_settles_with_them() -> None:
    """More fractures, more P32; labels of rows and the fit of oriented ones stay."""
    model = _model().fit(ROWS, exposure=HOLE)
    new = fit_with_partly(model, PARTLY, None).model
    for name in ("means_", "kappas_", "intensities_"):
        np.testing.assert_array_equal(getattr(new, name), getattr(new.rock_, name[:-1]))
    assert new.background_ == new.rock_.background_per_m
    expected = new.intensities_ @ HOLE.of_sets(new.means_, new.kappas_)
    expected += new.background_ * HOLE.of_uniform()
    assert expected == pytest.approx(45 + PARTLY.weights.sum(), rel=2e-3)
    np.testing.assert_array_equal(new.labels_, model.labels_)
    np.testing.assert_array_equal(new.fit_.counts, model.fit_.counts)
    assert model.intensities_.sum() < new.intensities_.sum()


def test_sets_change_places_with_their_fractures() -> None:
    """Many of the smaller set known in part make it the larger: rows, labels and order go along."""
    many = 25
    partly = PartlyOriented(
        np.arange(many),
        np.repeat(MEANS[1:], many, axis=0),
        np.ones(many),
        np.arange(many),
        HOLE,
        np.full(many, np.nan),
    )
    even = js.LineExposure(np.eye(3), [50.0, 50.0, 50.0])
    model = _model().fit(ROWS, exposure=even)
    assert js.axis_angles_deg(model.means_[0], MEANS[0])[0] < 8
    new = fit_with_partly(model, partly._replace(exposure=even), None).model
    assert js.axis_angles_deg(new.means_[0], MEANS[1])[0] < 8
    np.testing.assert_array_equal(new.labels_, np.where(model.labels_ < 0, -1, 1 - model.labels_))
    np.testing.assert_array_equal(new.fit_.counts, model.fit_.counts[[1, 0, 2]])
    np.testing.assert_array_equal(new.others_[0].rock.kappas, model.others_[0].rock.kappas[::-1])


def test_rows_for_places_follow_those_of_fractures() -> None:
    """Errors of reading not stated are the mean of those that are; closed ones stay closed."""
    model = _model(given_means=MEANS[:1]).fit(
        ROWS, exposure=HOLE, scatter=np.full(45, 0.02), allowed=np.ones((45, 1), bool)
    )
    shut = np.array([[True], [False], [False]])
    data = _joined(model.data_, PARTLY, shut)
    assert data.part_of is not None and data.scatter is not None and data.closed is not None
    np.testing.assert_array_equal(data.part_of, [*range(45), *(45 + PARTLY.part_of)])
    np.testing.assert_allclose(data.scatter[45:], [0.01] * 3 + [0.02] * 3 + [0.03])
    np.testing.assert_allclose(data.weights[45:], PARTLY.weights)
    np.testing.assert_array_equal(data.rows[45:], PLACES)
    assert data.closed[45:48, 0].all() and not data.closed[48:].any() and not data.closed[:45].any()
    assert not _joined(model.data_, PARTLY, None).closed.any()  # type: ignore[union-attr]
