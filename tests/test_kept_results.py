"""No silent change: the figures of three sites are those kept in kept_results.json.

Where a change is meant, say it in a line of "Changes" in DEVELOPERS.md, and keep the new figures:

    python -m tests.test_kept_results
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

import pytest

import jointstats as js

pytestmark = pytest.mark.shares_analyses

EXAMPLES = Path(__file__).parents[1] / "examples"
KEPT = Path(__file__).with_name("kept_results.json")
SITES: dict[str, Callable[[], js.Site]] = {
    "dam_site": lambda: js.read_site(EXAMPLES / "dam_site"),
    "adit_site": lambda: js.read_site(EXAMPLES / "adit_site"),
    "simulated": lambda: js.simulate_site(random_state=1),
}


def figures(site: js.Site) -> dict[str, list[dict[str, object]]]:
    """What a design takes from a site: a row a set, and how many fractures stand where."""
    result = js.analyse(site)
    likelihood = result.mixture.log_likelihood_ / len(result.mixture.labels_)
    counts = {**asdict(result.counts), "log_likelihood": float(likelihood)}
    rows = result.to_frame().to_dict("records")
    return json.loads(json.dumps({"counts": [counts], "sets": rows}, default=lambda one: one.item()))


def _almost(name: str, kept: object) -> object:
    """A kept figure, with what the arithmetic of another platform may move it by."""
    if not isinstance(kept, float):
        return kept
    if name in ("dip_deg", "dip_direction_deg"):
        return pytest.approx(kept, abs=0.01)
    if name == "log_likelihood":
        return pytest.approx(kept, rel=1e-8)
    return pytest.approx(kept, rel=2e-3, abs=1e-6, nan_ok=True)


@pytest.mark.parametrize("name", SITES)
def test_nothing_changed_in_silence(name: str) -> None:
    """Every figure and word of every set agrees with the one that was kept."""
    kept, found = json.loads(KEPT.read_text("utf-8"))[name], figures(SITES[name]())
    for part, rows in kept.items():
        assert len(found[part]) == len(rows)
        for own, row in zip(found[part], rows, strict=True):
            assert own == {key: _almost(key, value) for key, value in row.items()}


if __name__ == "__main__":
    made = {name: figures(site()) for name, site in SITES.items()}
    KEPT.write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
