"""A fit settled anew with the fractures that are known in part."""

from __future__ import annotations

from copy import copy
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jointstats.fit.arrangement import in_order
from jointstats.fit.certainty import certainty_of
from jointstats.fit.data import FitData
from jointstats.fit.mixture import JointSetMixture
from jointstats.fit.rock import Rock
from jointstats.fit.shaped import as_read, fit_shaped, shaped_value
from jointstats.observed.partly import PartlyOriented
from jointstats.sphere.axes import axis_angles_deg
from jointstats.types import Array

_MOST_DRAWN = 2_000  # fractures from which intervals are drawn


class PartlyFitted(NamedTuple):
    """A fit with fractures known in part, and what it says of those."""

    model: JointSetMixture
    memberships: Array  # (P, K + 1), the background last
    poles: Array  # (P, 3) the most probable of each
    error_deg: Array  # (P,) root mean square angle to it, degrees


def fit_with_partly(
    model: JointSetMixture, partly: PartlyOriented, closed: NDArray[np.bool_] | None
) -> PartlyFitted:
    """Let the sets that oriented fractures gave settle under the likelihood of all of them.

    A fracture of which a reading leaves the poles of a circle open counts by the mean rate over it, each
    place weighed as the hole meets it.
    `closed` (P, K) marks those that may not join a set.
    """
    data = _joined(model.data_, partly, closed)
    fit, order = fit_shaped(data, model.rock_), np.arange(model.n_sets_)
    if data.held is None and data.closed is None:
        fit, order = in_order(fit)
    settled = _settled(model, data, fit.rock, order)
    place = shaped_value(data, fit.rock)
    own, starts = len(model.data_.rows), partly.starts
    shares, poles = place.shares[own:], partly.poles
    memberships = np.add.reduceat(shares, starts, axis=0)
    # What lies below the blind angle took its part of the fracture; of the rest, this is how it is shared.
    memberships /= memberships.sum(axis=1, keepdims=True)
    chance = shares.sum(axis=1)
    best = poles[np.lexsort([-chance, partly.part_of])[starts]]
    chance /= np.add.reduceat(chance, starts)[partly.part_of]
    square = chance * axis_angles_deg(poles, best[partly.part_of]) ** 2
    return PartlyFitted(settled, memberships, best, np.sqrt(np.add.reduceat(square, starts)))


def _joined(data: FitData, partly: PartlyOriented, closed: NDArray[np.bool_] | None) -> FitData:
    """The data of the fit with a row for each place of the fractures known in part."""
    n, shut = len(data.rows), data.closed
    if shut is not None:
        more = np.zeros((len(partly.poles), shut.shape[1]), dtype=bool)
        if closed is not None:
            more[:, : closed.shape[1]] = closed[partly.part_of]
        shut = np.vstack([shut, more])
    scatter = data.scatter
    if scatter is not None:
        read = np.where(np.isnan(partly.scatter), scatter.mean(), partly.scatter)
        scatter = np.concatenate([scatter, read[partly.part_of]])
    return replace(
        data,
        rows=np.vstack([data.rows, partly.poles]),
        weights=np.concatenate([data.weights, partly.weights]),
        exposure=partly.exposure,
        closed=shut,
        scatter=scatter,
        part_of=np.concatenate([np.arange(n), n + partly.part_of]),
    )


def _settled(
    model: JointSetMixture, data: FitData, rock: Rock, order: NDArray[np.intp]
) -> JointSetMixture:
    """The estimator with this rock, its sets in this order; what belongs to oriented rows stays."""
    new, before = copy(model), model.fit_
    counts = np.append(before.counts[order], before.counts[-1])
    new.fit_ = before._replace(rock=before.rock.take(order), counts=counts)
    new.others_ = (model.others_[0]._replace(rock=model.others_[0].rock.take(order)),)
    new.others_ += model.others_[1:]
    new.data_ = model.data_ if data.held is not None else model.data_.reordered(order)
    new.rock_, new.read_rock_ = rock, as_read(data, rock)
    new.means_, new.kappas_ = rock.means, rock.kappas
    new.intensities_, new.background_ = rock.intensities, rock.background_per_m
    new.given_ = model.given_[order]
    place = np.append(np.argsort(order), -1)
    new.labels_ = place[model.labels_]
    part = data.thinned(np.random.RandomState(0), _MOST_DRAWN)
    new.certainty_ = certainty_of(part, rock, model.confidence)
    return new
