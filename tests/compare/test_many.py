"""Many sites at once: failures, resuming, the number of workers, and a dask cluster."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.hole import Hole, LoggedInterval
from jointstats.borehole.path import HolePath
from jointstats.compare.ledger import Ledger, fingerprint

HOLES = ((0.0, 90.0, 25.0), (315.0, 55.0, 25.0))


@pytest.fixture(scope="module")
def sites() -> list[js.Site]:
    """Three small sites of different names."""
    made = (js.simulate_site(holes=HOLES, random_state=seed) for seed in range(3))
    return [replace(site, name=f"site {i}") for i, site in enumerate(made)]


def test_agrees_with_analyse(sites: list[js.Site]) -> None:
    """Each row holds what `analyse` gives for that site alone."""
    found = js.analyse_many(sites)
    alone = pd.concat([js.analyse(site).to_frame() for site in sites], ignore_index=True)
    pd.testing.assert_frame_equal(found.sets.drop(columns="item"), alone, check_exact=True)
    assert list(found.items["item"]) == [site.name for site in sites]


def test_same_for_any_number_of_workers(sites: list[js.Site]) -> None:
    """One worker and two give the same frames, bit for bit."""
    one, two = (js.analyse_many(sites, 2, n_jobs=n) for n in (1, 2))
    pd.testing.assert_frame_equal(one.to_frame(), two.to_frame(), check_exact=True)


def test_failure_is_reported_and_the_rest_finish(sites: list[js.Site], tmp_path: Path) -> None:
    """A place that is no site is told with its reason, and the others are done."""
    found = js.analyse_many([sites[0], str(tmp_path / "nowhere"), sites[1]], 1)
    assert list(found.items["status"]) == ["done", "failed", "done"]
    assert "does not exist" in found.failed["message"].iloc[0]
    assert found.to_frame()["set"].isna().sum() == 1


def test_fault_of_any_kind_is_caught(sites: list[js.Site]) -> None:
    """A site whose table lacks a column fails by itself, with the kind of the fault."""
    broken = replace(sites[0], name="broken", fractures=sites[0].fractures.drop(columns="depth_m"))
    found = js.analyse_many([broken, sites[1]], 1)
    assert found.failed["message"].iloc[0].startswith("KeyError")


def test_holes_of_one_site(sites: list[js.Site]) -> None:
    """A site alone stands for its holes, each analysed by itself."""
    found = js.analyse_many(sites[0], 1)
    assert list(found.items["item"]) == ["site 0: H1", "site 0: H2"]
    assert found.items["n_fractures"].sum() == len(sites[0].fractures)


def test_resumes_from_what_was_done(sites: list[js.Site], tmp_path: Path) -> None:
    """After an interruption only what is left is analysed, and the result is the same."""
    file = tmp_path / "done.jsonl"

    def interrupted() -> Iterator[js.Site]:
        yield from sites[:2]
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        js.analyse_many(interrupted(), 2, n_jobs=1, resume=file)
    kept = file.read_text()
    assert 2 <= kept.count("\n") <= 3  # the header, and what was done
    file.write_text(kept + '{"item": "site 2", "ma')
    found = js.analyse_many(sites, 2, resume=file)
    lines = [line for line in file.read_text().splitlines() if line.endswith("}")]
    assert len(lines) == 4
    whole = js.analyse_many(sites, 2)
    pd.testing.assert_frame_equal(found.to_frame(), whole.to_frame(), check_exact=True)


def test_changed_or_failed_items_are_done_again(sites: list[js.Site], tmp_path: Path) -> None:
    """A kept result is used only while the tables and the options are the same."""
    file = tmp_path / "done.jsonl"
    js.analyse_many(sites[:1], 1, resume=file)
    entry = json.loads(file.read_text().splitlines()[1])
    assert Ledger(file).has("site 0", entry["mark"])
    js.analyse_many(sites[:1], 1, resume=file)
    assert file.read_text().count("\n") == 2
    shorter = replace(sites[0], fractures=sites[0].fractures.iloc[:-1])
    js.analyse_many([shorter], 1, resume=file)
    js.analyse_many([shorter], 2, resume=file)
    assert file.read_text().count("\n") == 4


def test_refusals(sites: list[js.Site], tmp_path: Path) -> None:
    """Equal names, a path alone, a thing that is no site, and a directory to resume from."""
    with pytest.raises(js.InputError, match="two items are called 'site 0'"):
        js.analyse_many([sites[0], sites[0]])
    with pytest.raises(js.InputError, match="two items are called"):
        js.analyse_many([sites[0], sites[0]], n_jobs=2)
    with pytest.raises(js.InputError, match="put it in a list"):
        js.analyse_many("somewhere")
    with pytest.raises(js.InputError, match="must be a Site or a path; got int"):
        js.analyse_many([3])  # type: ignore[list-item]
    with pytest.raises(js.InputError, match="resume must be a file"):
        js.analyse_many(sites, resume=tmp_path)


def test_nothing_to_do() -> None:
    """No item gives empty frames."""
    found = js.analyse_many([])
    assert len(found.sets) == len(found.items) == len(found.to_frame()) == 0


def test_parquet(sites: list[js.Site], tmp_path: Path) -> None:
    """The frame comes back from Parquet as it went in, where pyarrow is installed."""
    pytest.importorskip("pyarrow")
    found = js.analyse_many(sites[:1], 1)
    path = found.to_parquet(tmp_path / "sets.parquet")
    back = pd.read_parquet(path)
    np.testing.assert_array_equal(back["p32_per_m"], found.to_frame()["p32_per_m"])


def test_parquet_without_pyarrow(
    sites: list[js.Site], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without pyarrow the refusal says what to install, or to use instead."""
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(js.InputError, match="needs the library pyarrow"):
        js.analyse_many(sites[:1], 1).to_parquet(tmp_path / "sets.parquet")


def test_dask_cluster(sites: list[js.Site]) -> None:
    """On a local dask cluster the frame is that of one worker, bit for bit."""
    distributed = pytest.importorskip("distributed")
    joblib = pytest.importorskip("joblib")
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None
    )
    with cluster, distributed.Client(cluster), joblib.parallel_config(backend="dask"):
        found = js.analyse_many(sites)
    here = js.analyse_many(sites)
    pd.testing.assert_frame_equal(found.to_frame(), here.to_frame(), check_exact=True)


@pytest.mark.parametrize(
    "content",
    [
        b"hole,depth_m\nB1,3\n",
        b"\xff\xfe\x00\x01",
        b"[" * 100_000,
        b'{"item": 3}\n',
        b"null\n",
        b'{"format": "jointstats sets"}',
    ],
)
def test_another_file_is_not_gone_on_from(
    content: bytes, sites: list[js.Site], tmp_path: Path
) -> None:
    """A table, foreign bytes or nested brackets are refused as a file to resume, and left alone."""
    file = tmp_path / "done"
    file.write_bytes(content)
    with pytest.raises(js.InputError, match="resume must be a file that this package wrote"):
        js.analyse_many(sites[:1], 1, resume=file)
    assert file.read_bytes() == content


def test_results_of_another_version_are_refused(sites: list[js.Site], tmp_path: Path) -> None:
    """What another version of the package found is not put among the results of this one."""
    file = tmp_path / "done"
    js.analyse_many(sites[:1], 1, resume=file)
    other = file.read_text(encoding="utf-8").replace(f'"{js.__version__}"', '"0.0.1"', 1)
    file.write_text(other, encoding="utf-8")
    with pytest.raises(js.InputError, match=r"holds results of jointstats 0\.0\.1, and this is"):
        js.analyse_many(sites[:1], 1, resume=file)


def test_changed_figures_are_found_again(sites: list[js.Site], tmp_path: Path) -> None:
    """A figure changed by hand, a line cut short, or a line of rubbish: its item is done again."""
    file = tmp_path / "done"
    first = js.analyse_many(sites[:1], 1, resume=file)
    whole = file.read_text(encoding="utf-8")
    n = str(int(first.items["n_fractures"].iloc[0]))
    for damaged in (
        whole.replace(f'"n_fractures": {n}', '"n_fractures": 7'),
        whole[: len(whole) - 40],
        whole.splitlines()[0] + "\n\x00\n{}\n[1]\n" + '{"item": {}}\n',
    ):
        file.write_text(damaged, encoding="utf-8")
        again = js.analyse_many(sites[:1], 1, resume=file)
        assert again.items.equals(first.items) and again.sets.equals(first.sets)
        assert Ledger(file).has(sites[0].name, Ledger(file).entries[sites[0].name]["mark"])


def test_a_path_is_marked_like_its_text(tmp_path: Path) -> None:
    """The ledger knows an item by its path, be that text or a path object."""
    (tmp_path / "holes.csv").write_text("hole\nB1\n", encoding="utf-8")
    assert fingerprint(tmp_path, "") == fingerprint(str(tmp_path), "")


OTHER = {
    "name": "other",
    "path": HolePath([0.0], [10.0], [80.0]),
    "length_m": 21.0,
    "diameter_mm": 150.0,
    "collar": (1.0, 2.0, 3.0),
    "logged": (LoggedInterval(0.0, 10.0, "image"),),
    "reference": "north",
    "lost": ((3.0, 4.0),),
    "kind": "scanline",
}


@pytest.mark.parametrize("field", [one.name for one in fields(Hole)])
def test_every_fact_of_a_hole_changes_the_mark(sites: list[js.Site], field: str) -> None:
    """A kept result is not taken for a site whose hole differs in anything."""
    first, *others = sites[0].holes
    changed = replace(sites[0], holes=(replace(first, **{field: OTHER[field]}), *others))
    assert fingerprint(changed, "") != fingerprint(sites[0], "")
