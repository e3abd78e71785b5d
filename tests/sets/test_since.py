"""What changed since an earlier report."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

import jointstats as js
from jointstats.sets.record import sets_json
from jointstats.sets.result import SiteAnalysis
from jointstats.sets.since import changes_since, read_record


def test_the_same_result_has_no_changes(result: SiteAnalysis) -> None:
    """A result beside its own record differs in nothing."""
    assert changes_since(result, json.loads(sets_json(result))) == []


def test_settings_counts_and_sets_are_told(result: SiteAnalysis) -> None:
    """A set that moved, one renamed, one gone, a changed setting and a changed count are named."""
    old = json.loads(sets_json(result))
    first, second, third = result.sets
    counts = replace(result.counts, total=result.counts.total + 1)
    other = replace(
        result,
        sets=(replace(first, p32_per_m=2 * first.p32_per_m), replace(second, name="bedding")),
        counts=counts,
        settings={**result.settings, "criterion": "icl"},
    )
    told = dict(changes_since(other, old))
    assert told["J1"].startswith("mean moved by 0.0°, P32")
    assert told["bedding"].startswith(f"was called {second.name}; mean moved by 0.0°")
    assert told[third.name] == "gone"
    assert told["criterion"] == "was bic, now icl"
    assert told["fractures total"] == f"was {counts.total - 1}, now {counts.total}"


def test_only_a_record_is_read(tmp_path: Path) -> None:
    """A file that is no sets.json, or none at all, is refused by name."""
    (tmp_path / "sets.json").write_text("{}", encoding="utf-8")
    for path in (tmp_path, tmp_path / "none.json"):
        with pytest.raises(js.InputError, match="is not the sets.json of a report"):
            read_record(path)


def test_title_block_and_hashes_stand_in_the_record(tmp_path: Path) -> None:
    """The title block is read, kept on writing, and stands with the SHA-256 of each table."""
    from hashlib import sha256

    from jointstats.sets.record import run_record

    folder = js.write_site(js.simulate_site(random_state=1), tmp_path / "site")
    toml = folder / "site.toml"
    block = '\n[title]\nproject = "A dam"\nchecked = "N. N."\n'
    toml.write_text(toml.read_text(encoding="utf-8") + block, encoding="utf-8")
    site = js.read_site(folder)
    assert site.settings.title == (("project", "A dam"), ("checked", "N. N."))
    again = js.read_site(js.write_site(site, tmp_path / "again"))
    assert again.settings.title == site.settings.title
    rows = dict(run_record(js.analyse(site, n_sets=1)))
    assert rows["Project"] == "A dam"
    digest = sha256((folder / "holes.csv").read_bytes()).hexdigest()
    assert rows["SHA-256 of holes.csv"] == digest
