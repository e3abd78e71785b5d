"""Fits of blocks of holes with intensities of their own."""

from __future__ import annotations

import numpy as np
from scipy.optimize import minimize

import jointstats as js
from jointstats.fit.block_fits import fit_blocks, group_values
from tests.fit.rock_arrays import ROCK, simulated, truth


def test_sets_come_back_whatever_the_intensities() -> None:
    """Means and κ of uneven rock come back from one block, intensities hole by hole."""
    thin = tuple((*one[:3], 0.25 * one[3]) for one in ROCK)
    arrays = simulated(3, (ROCK, ROCK, thin, ROCK))
    rock = truth()
    fit = fit_blocks(arrays.grouped(), np.ones((1, 4), bool), rock)
    assert js.axis_angles_deg(fit.means[0], rock.means).max() < 4
    ratio = fit.kappas[0] / rock.kappas
    assert (np.abs(np.log(ratio)) < 0.45).all()
    intensities = fit.intensities[0, :, :3]
    assert (intensities[2] < 0.6 * intensities[[0, 1, 3]].mean(axis=0)).all()


def test_blocks_side_by_side_are_those_alone() -> None:
    """A block's fit does not depend on the others it is fitted beside."""
    data, rock = simulated(2).grouped(), truth()
    blocks = np.array([[1, 1, 1, 1], [1, 1, 0, 0], [0, 0, 1, 0]], bool)
    together = fit_blocks(data, blocks, rock)
    for b, block in enumerate(blocks):
        alone = fit_blocks(data, block[np.newaxis], rock)
        np.testing.assert_allclose(alone.log_likelihood[0], together.log_likelihood[b], rtol=1e-9)
        np.testing.assert_allclose(alone.means[0], together.means[b], atol=1e-9)


def test_free_intensities_against_a_general_optimiser() -> None:
    """The log likelihood with free intensities is the maximum that scipy finds."""
    arrays, rock = simulated(4), truth()
    data = arrays.grouped()
    met = np.column_stack([data.of_sets(rock.means, rock.kappas), data.of_uniform()])
    found = group_values(data.poles, data.group, rock, met)
    own = data.group == 1
    density = np.column_stack(
        [
            *(
                js.sphere.AxialFisher(m, k).pdf(data.poles[own])
                for m, k in zip(*rock[:2], strict=True)
            ),
            np.full(own.sum(), 1 / (2 * np.pi)),
        ]
    )
    even = np.append(rock.intensities, rock.background)

    def loss(logs: np.ndarray) -> float:
        ratio = np.exp(logs)
        fit = np.log(density @ (even * ratio)).sum() - even * ratio @ met[1]
        return -float(fit + (logs - ratio + 1).sum())

    judge = minimize(loss, np.zeros(4), method="BFGS", options={"gtol": 1e-8})
    assert abs(found[1] + judge.fun) < 0.01
