"""The base of results: read-only, short in print, a table in a notebook."""

from __future__ import annotations

import copy
import dataclasses
import pickle

import numpy as np
import pytest

import jointstats as js
from jointstats.results import Result


class Figures(Result):
    """A result with one of each kind of field."""

    _SHORT = "mean {mean_m:.2f} m of {n}"

    n: int
    mean_m: float | None
    mean_interval_m: tuple[float, float] | None
    values: np.ndarray


def test_nothing_in_a_result_can_be_changed() -> None:
    """Neither a field nor an entry of an array can be assigned; the caller's array still can."""
    own = np.arange(3.0)
    found = Figures(3, 1.0, (0.5, 2.0), own)
    with pytest.raises(dataclasses.FrozenInstanceError):
        found.n = 4  # type: ignore[misc]
    with pytest.raises(ValueError, match="read-only"):
        found.values[0] = 9.0
    own[0] = 7.0
    assert own[0] == 7.0


def test_a_copy_is_read_only_too() -> None:
    """A replaced, copied or pickled result keeps its figures and stays read-only."""
    found = Figures(3, 1.0, (0.5, 2.0), np.arange(3.0))
    assert not dataclasses.replace(found, n=4).values.flags.writeable
    again = pickle.loads(pickle.dumps(found))
    assert again.to_frame().equals(found.to_frame())
    for one in (again, copy.deepcopy(found)):
        with pytest.raises(ValueError, match="read-only"):
            one.values[0] = 9.0


def test_one_row_holds_the_figures() -> None:
    """An interval becomes two columns, None stays, and arrays are left out."""
    frame = Figures(3, None, None, np.arange(3.0)).to_frame()
    assert list(frame.columns) == ["n", "mean_m", "mean_low_m", "mean_high_m"]
    assert frame["n"].tolist() == [3] and frame["mean_low_m"].isna().all()


def test_frames_carry_their_units() -> None:
    """Of one row, of the sets, of the fractures and the holes: by the name of each column."""
    assert Figures(3, 1.0, (0.5, 2.0), np.arange(3.0)).to_frame().attrs["units"] == {
        "mean_m": "m",
        "mean_low_m": "m",
        "mean_high_m": "m",
    }
    result = js.analyse(js.simulate_site(random_state=1), 1, domains="none")
    units = result.to_frame().attrs["units"]
    assert (units["dip_deg"], units["p32_per_m"], units["exposure_m"]) == ("degrees", "1/m", "m")
    assert "kappa" not in units and "shape" not in units
    assert result.fractures.attrs["units"]["true_dip_deg"] == "degrees"
    assert result.holes.attrs["units"]["p10_per_m"] == "1/m"


def test_it_prints_short() -> None:
    """The repr is one short line, also where a figure is missing; a notebook gets a table."""
    assert repr(Figures(3, 1.0, None, np.arange(999.0))) == "Figures(mean 1.00 m of 3)"
    none = Figures(0, None, None, np.arange(999.0))
    assert repr(none) == "Figures(n=0, mean_m=None, mean_low_m=None, mean_high_m=None)"
    assert "<table" in none._repr_html_()


@pytest.mark.parametrize(
    "result",
    [
        js.fisher_statistics(np.eye(3)),
        js.orientation_tensor(np.eye(3)),
        js.sphere.fit_bingham(np.eye(3)),
        js.sphere.fit_kent(np.eye(3)),
        js.sphere.fit_watson(np.eye(3)),
        js.sphere.fold_axis(np.eye(3)),
        js.sphere.mean_cone(np.eye(3)),
        js.pole_density(np.eye(3)),
        js.sphere.uniformity_test(np.eye(3)),
        js.line.set_spacing([1, 3, 4], [0, 0, -1], [0, 0, -1], logged=[(0, 9)]),
        js.line.hole_frequency([1, 3, 4], [(0, 9)]),
        js.line.frequency_zones([1, 3, 4], [(0, 9)]),
    ],
    ids=lambda one: type(one).__name__,
)
def test_public_results(result: Result) -> None:
    """Every array is read-only, the repr one line of its name and figures, the table a frame."""
    for value in vars(result).values():
        assert not isinstance(value, np.ndarray) or not value.flags.writeable
    text = repr(result)
    assert text.startswith(type(result).__name__ + "(")
    assert len(text) < 200 and "\n" not in text and "nan" not in text
    assert len(result.to_frame()) >= 1 and "<table" in result._repr_html_()
