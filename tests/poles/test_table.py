"""Tables of poles: the headings that name an orientation, the rule of the hand, and every fault."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.fractures import Fractures
from jointstats.errors import InputError, SiteError
from jointstats.poles.table import poles_of

EAST_DIPPING = js.poles_from_dip(30.0, 90.0)


def _poles(frame: pd.DataFrame, hand: str = "right") -> np.ndarray:
    return Fractures(poles_of(frame, hand=hand).table).poles


@pytest.mark.parametrize(
    "headings",
    [
        ("dip_deg", "dip_direction_deg"),
        ("Dip (°)", "Dip dir. (°)"),
        ("dip", "dip-dir"),
        ("DIP [deg]", "Dip Azimuth"),
    ],
)
def test_dip_and_dip_direction_are_found_by_their_headings(headings: tuple[str, str]) -> None:
    """Case, marks and the sign of degrees in a heading make no difference."""
    frame = pd.DataFrame({headings[0]: [30.0], headings[1]: [90.0], "n": [1]})
    np.testing.assert_allclose(_poles(frame), EAST_DIPPING, atol=1e-12)


def test_a_strike_has_a_hand() -> None:
    """Looking along the strike the plane dips to the right, or to the left where that is said."""
    frame = pd.DataFrame({"strike_deg": [0.0], "dip_deg": [30.0]})
    np.testing.assert_allclose(_poles(frame), EAST_DIPPING, atol=1e-12)
    np.testing.assert_allclose(_poles(frame, "left"), js.poles_from_dip(30.0, 270.0), atol=1e-12)
    assert "right-hand rule: looking along the strike" in poles_of(frame).said


def test_trend_and_plunge_are_of_the_pole() -> None:
    """The pole of a plane that dips 30° to the east plunges 60° to the west; either end will do."""
    for trend, plunge in ((270.0, 60.0), (90.0, -60.0)):
        frame = pd.DataFrame({"trend": [trend], "plunge": [plunge]})
        np.testing.assert_allclose(_poles(frame), EAST_DIPPING, atol=1e-12)


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"dip": [30], "azimuth": [90]}, "need two columns"),
        ({"dip": [30], "dip (rad)": [90]}, "need two columns"),
        ({"dip": [30], "strike": [0], "dip direction": [90]}, "give one pair"),
        ({"dip": [30], "dip_deg": [30], "strike": [0]}, "both give a dip"),
        ({"dip": [95], "dip direction": [90]}, "between 0 and 90"),
        ({"dip": [30, 20], "dip direction": [90, None]}, "give both or neither"),
        ({"dip": ["thirty"], "dip direction": [90]}, "between 0 and 90"),
        ({"dip": [30], "dip direction": [90], "plunge": [60]}, "need two columns"),
    ],
)
def test_what_can_not_be_placed_is_a_fault(columns: dict[str, list[object]], said: str) -> None:
    """Missing, doubled and other angles, and halves of an orientation, are told and not guessed."""
    with pytest.raises(SiteError, match=said):
        poles_of(pd.DataFrame(columns))


def test_a_level_plane_needs_no_direction_and_an_empty_row_has_no_pole() -> None:
    """A dip of zero stands without its direction; a row without both is kept and not oriented."""
    table = poles_of(pd.DataFrame({"dip": [0, None], "dip direction": [None, None]})).table
    np.testing.assert_allclose(Fractures(table).poles[0], [0, 0, -1], atol=1e-12)
    assert Fractures(table).is_oriented.tolist() == [True, False]


def test_columns_of_the_result_keep_their_names(tmp_path: Path) -> None:
    """A column of the input that is called as one of the result is kept under another name."""
    file = tmp_path / "poles.csv"
    file.write_text("dip;dip direction;set\n30,5;90;bedding\n", encoding="utf-8")
    table = js.poles.read_poles(file).table
    assert table["set_given"].tolist() == ["bedding"]
    assert table["true_dip_deg"].round(6).tolist() == [30.5]
    with pytest.raises(InputError, match="hand must be one of"):
        js.poles.read_poles(file, hand="both")
