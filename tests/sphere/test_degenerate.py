"""Every function on every degenerate input: a finite answer or a named error, never a warning."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass

import numpy as np
import pytest

import jointstats as js

INPUTS = {
    "none": [],
    "one": [[0, 0, 1.0]],
    "two": [[0, 0, 1.0], [0, 0.1, 1.0]],
    "opposite": [[0, 0, 1.0], [0, 0, -1.0]],
    "square": [[1.0, 0, 0], [0, 1.0, 0]],
    "axes": np.eye(3),
    "identical": [[0.3, 0.4, -0.5]] * 6,
    "opposites": [[1.0, 0, 0], [-1.0, 0, 0]] * 3,
    "level girdle": [[np.cos(t), np.sin(t), 0] for t in np.arange(8) * np.pi / 8],
    "line": [[1.0, 0.1 * t, 0] for t in range(6)],
    "nearly identical": [[1.0, 1e-9 * t, 0] for t in range(6)],
    "nan": [[0, 0, float("nan")]],
    "words": [["up", "down", "left"]],
    "flat": [[1.0, 2.0]],
    "zero": [[0.0, 0, 0]],
}
FUNCTIONS: dict[str, Callable[[object], object]] = {
    "fisher": js.fisher_statistics,
    "fisher directed": lambda x: js.fisher_statistics(x, axial=False),
    "fisher weighted": lambda x: js.fisher_statistics(x, np.arange(len(x)) + 1.0),
    "cone bootstrap": lambda x: js.sphere.mean_cone(x, method="bootstrap", draws=99),
    "cone bootstrap directed": lambda x: js.sphere.mean_cone(x, method="bootstrap", draws=99, axial=False),
    "cone known": lambda x: js.sphere.mean_cone(x, method="known kappa", kappa=0.0),
    "tensor": js.orientation_tensor,
    "density": lambda x: js.pole_density(x, grid_size=9),
    "density peaks": lambda x: js.sphere.peak_pvalues(js.pole_density(x, grid_size=9), draws=99),
    "watson": js.sphere.fit_watson,
    "watson girdle": lambda x: js.sphere.fit_watson(x, kind="girdle"),
    "bingham": js.sphere.fit_bingham,
    "kent": js.sphere.fit_kent,
    "kent directed": lambda x: js.sphere.fit_kent(x, axial=False),
    "fold axis": js.sphere.fold_axis,
    "roundness": js.sphere.roundness_test,
    "shape": lambda x: js.sphere.shape_test(x, kind="girdle"),
    "uniformity": js.sphere.uniformity_test,
    "uniformity directed": lambda x: js.sphere.uniformity_test(x, axial=False),
    "fit": lambda x: js.sphere.fisher_fit_test(x, draws=99),
    "outlier": js.sphere.outlier_test,
    "outlier directed": lambda x: js.sphere.outlier_test(x, axial=False),
    "mean": lambda x: js.sphere.common_mean_test(x, np.eye(3)),
    "mean itself": lambda x: js.sphere.common_mean_test(x, x, x),
    "mean bootstrap": lambda x: js.sphere.common_mean_test(x, x, method="bootstrap", draws=19),
    "watson's F": lambda x: js.sphere.common_mean_test(x, np.eye(3), method="equal kappa"),
    "kappa": lambda x: js.sphere.common_kappa_test(x, np.eye(3)),
    "kappa three": lambda x: js.sphere.common_kappa_test(x, np.eye(3), x),
    "direction": lambda x: js.sphere.mean_direction_test(x, [0, 0, 1.0]),
    "plane": lambda x: js.sphere.mean_in_plane_test(x, [0, 0, 1.0]),
    "median": js.sphere.spherical_median,
    "median directed": lambda x: js.sphere.spherical_median(x, axial=False),
    "trimmed": js.sphere.trimmed_mean,
    "log density": lambda x: js.sphere.AxialFisher([0, 0, 1.0], 1e6).logpdf(x),
}


def _numbers(result: object) -> list[np.ndarray]:
    if is_dataclass(result):
        return [n for f in fields(result) for n in _numbers(getattr(result, f.name))]
    if isinstance(result, (float, int, np.ndarray, np.floating)):
        return [np.asarray(result, dtype=float)]
    return (
        [np.asarray(result, dtype=float)]
        if isinstance(result, tuple)
        and result
        and all(isinstance(part, (float, int)) for part in result)
        else []
    )


@pytest.mark.parametrize("given", INPUTS)
@pytest.mark.parametrize("function", FUNCTIONS)
def test_finite_or_refused(function: str, given: str) -> None:
    """The result is finite in every field, or an InputError says what is wrong."""
    try:
        result = FUNCTIONS[function](INPUTS[given])
    except js.InputError as error:
        assert len(str(error)) > 20
        return
    assert given not in ("none", "nan", "words", "flat", "zero") or function == "log density"
    for values in _numbers(result):
        assert np.isfinite(values).all()
    if hasattr(result, "to_frame"):
        assert len(result.to_frame()) >= 0 and len(repr(result)) > 10


@pytest.mark.parametrize(
    "weights",
    [
        [1, 1e-12, 1e-12, 1e-12],
        [1, 1e-3, 1e-3, 1e-3],
        [1, 1e-6, 1e-6, 1],
        [1, 0, 0, 0],
        [1e308, 1e308, 1e300, 1],
        [1e-320, 1e-310, 1e-305, 1e-300],
    ],
)
def test_extreme_weights_are_finite(weights: list[float]) -> None:
    """Weights of any size give finite results, or an error where one pole is not enough."""
    rows = js.sphere.AxialFisher([0, 0, 1.0], 5.0).rvs(4, random_state=1)
    found = js.fisher_statistics(rows, weights)
    assert all(np.isfinite(values).all() for values in _numbers(found))
    if found.n_effective < 1.01:
        assert found.cone_deg == pytest.approx(90.0)
    for run in (
        lambda: js.sphere.mean_direction_test(rows, [0, 0, 1.0], weights),
        lambda: js.sphere.mean_in_plane_test(rows, [0, 0, 1.0], weights),
        lambda: js.sphere.common_mean_test(rows, rows, weights=[weights, None]),
        lambda: js.sphere.common_kappa_test(rows, rows, rows, weights=[weights, None, weights]),
        lambda: js.sphere.fit_kent(rows, weights),
        lambda: js.sphere.fit_bingham(rows, weights),
        lambda: js.sphere.fit_watson(rows, weights),
        lambda: js.sphere.fold_axis(rows, weights),
        lambda: js.sphere.mean_cone(rows, weights, method="bootstrap", draws=99),
        lambda: js.pole_density(rows, weights, grid_size=7),
        lambda: js.orientation_tensor(rows, weights),
    ):
        try:
            result = run()
        except js.InputError as error:
            assert "at least 2 rows" in str(error)
        else:
            assert all(np.isfinite(values).all() for values in _numbers(result))
