"""The page of a table of poles, and the commands that write it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.cli import main
from jointstats.report.poles import POLES_FILES, poles_files
from jointstats.words import NOTICE


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Sixty poles of two sets, one row without orientation, in a file of no site."""
    sets = [
        js.sphere.AxialFisher(mean, 60.0).rvs(n, random_state=n)
        for mean, n in zip(js.poles_from_dip([20, 80], [120, 300]), (35, 25), strict=True)
    ]
    dip, direction = js.dip_from_poles(np.vstack(sets))
    frame = pd.DataFrame({"Dip (°)": dip.round(), "Dip dir. (°)": direction.round() % 360})
    frame.loc[len(frame)] = [None, None]
    frame["n"] = np.arange(len(frame))
    path = tmp_path_factory.mktemp("poles") / "outcrop.csv"
    frame.to_csv(path, index=False)
    return path


def test_one_command_writes_the_page(
    table: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`jointstats report poles.csv` writes page and tables; the file itself is never an output."""
    assert main(["report", str(table), "--output", str(tmp_path / "out")]) == 0
    assert "2 sets from 61 poles" in capsys.readouterr().out
    assert sorted(one.name for one in (tmp_path / "out").iterdir()) == sorted(POLES_FILES)
    page = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert "What this page leaves out" in page and NOTICE in page
    for word in ("m²/m³", "equivalent length", "Normal spacing", "blind zone of a hole"):
        assert word not in page
    fractures = pd.read_csv(tmp_path / "out" / "fractures.csv")
    assert len(fractures) == 61 and fractures["set"].value_counts().sum() == 60
    record = json.loads((tmp_path / "out" / "sets.json").read_text(encoding="utf-8"))
    assert record["counts"]["not_oriented"] == 1 and record["notice"]


def test_the_page_is_the_same_every_time(table: Path) -> None:
    """The same table gives the same bytes."""
    first, second = (poles_files(js.analyse_poles(js.poles.read_poles(table))) for _ in range(2))
    assert first == second


def test_sets_are_printed(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`jointstats sets poles.csv` prints the table within 80 columns, or JSON, or CSV."""
    assert main(["sets", str(table)]) == 0
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 80
    assert text.split()[:5] == ["set", "dip/direction", "cone", "kappa", "share"]
    assert main(["sets", str(table), "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["sets"]) == 2
    assert main(["sets", str(table), "--csv"]) == 0
    assert capsys.readouterr().out.startswith("set,shape,dip_deg")


@pytest.mark.parametrize(
    ("extra", "said"),
    [
        (["--blind-angle", "5"], "has no holes"),
        (["--weights", "length"], "names the column 'length'"),
    ],
)
def test_what_poles_do_not_have_is_refused(
    table: Path, extra: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Options that need holes, and columns that are not there, end with 2 and one line."""
    assert main(["sets", str(table), *extra]) == 2
    assert said in capsys.readouterr().err
