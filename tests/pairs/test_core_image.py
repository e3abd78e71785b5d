"""Core and image: pairs, turns, detection rates, and the sums over pairings by brute force."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, permutations

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.pairs.capture import detection_rates
from jointstats.pairs.pairing import log_sum_of_pairings, pair_chances


def allowed(rows: tuple[int, ...], columns: tuple[int, ...]) -> bool:
    """Whether a pairing is in order, save for swaps of two neighbours of both lists."""
    i = 0
    while i < len(rows) - 1:
        if columns[i] < columns[i + 1]:
            i += 1
            continue
        if rows[i + 1] != rows[i] + 1 or columns[i] != columns[i + 1] + 1:
            return False
        if i + 2 < len(columns) and columns[i + 2] < columns[i]:
            return False
        i += 2
    return True


def brute(weights: np.ndarray) -> tuple[float, np.ndarray]:
    """Sum over all pairings, one by one, and the chance of each pair."""
    rows, columns = weights.shape
    whole, chances = 0.0, np.zeros(weights.shape)
    for size in range(min(rows, columns) + 1):
        for some in combinations(range(rows), size):
            for others in permutations(range(columns), size):
                if not allowed(some, others):
                    continue
                odds = np.exp(sum(weights[a, b] for a, b in zip(some, others, strict=True)))
                whole += odds
                for a, b in zip(some, others, strict=True):
                    chances[a, b] += odds
    return whole, chances / whole


@pytest.mark.parametrize("shape", [(1, 1), (2, 3), (3, 3), (4, 4)])
def test_sums_over_pairings_by_brute_force(shape: tuple[int, int]) -> None:
    """The recursion counts each pairing once: it equals the sum over all of them, listed."""
    weights = np.random.default_rng(sum(shape)).normal(0, 2, shape)
    whole, chances = brute(weights)
    assert float(log_sum_of_pairings(weights)) == pytest.approx(np.log(whole), rel=1e-12)
    np.testing.assert_allclose(pair_chances(weights), chances, rtol=1e-9, atol=1e-12)
    stacked = np.stack([weights, 2 * weights])
    np.testing.assert_allclose(pair_chances(stacked)[0], pair_chances(weights))
    assert log_sum_of_pairings(np.zeros((3, 0))) == 0.0
    assert pair_chances(np.zeros((3, 0))).shape == (3, 0)


@pytest.fixture(scope="module")
def site() -> js.Site:
    """A hole of 40 m logged twice, its core spun run by run."""
    return js.pairs.simulate_core_and_image(40.0, random_state=3)


@pytest.fixture(scope="module")
def match(site: js.Site) -> js.pairs.CoreMatch:
    """Its match."""
    return js.match_core_to_image(site, "H1")


def test_pairs_are_right(site: js.Site, match: js.pairs.CoreMatch) -> None:
    """Nearly all pairs are of one fracture, and the doubtful ones are wrong most often."""
    true = site.fractures["true_fracture"].to_numpy()
    right = true[match.pairs["core_row"]] == true[match.pairs["image_row"]]
    # 95 in 100 less two and a half standard errors of 55 pairs.
    assert right.mean() > 0.95 - 2.5 * np.sqrt(0.95 * 0.05 / len(right))
    sure = ~match.pairs["ambiguous"].to_numpy()
    assert right[sure].mean() >= right.mean()
    assert abs(right.mean() - match.pairs["chance"].mean()) < 0.08


def test_every_fracture_is_accounted_for(site: js.Site, match: js.pairs.CoreMatch) -> None:
    """Each fracture stands in the pairs or on one log alone, once."""
    core = [*match.pairs["core_row"], *match.core_only["row"]]
    image = [*match.pairs["image_row"], *match.image_only["row"]]
    method = site.fractures["method"].to_numpy()
    assert sorted(core) == np.flatnonzero(method == "core").tolist()
    assert sorted(image) == np.flatnonzero(method == "image").tolist()
    assert len(match.to_frame()) == len(match.pairs) + len(match.core_only) + len(match.image_only)
    assert "pairs" in repr(match)
    assert "<table" in match._repr_html_()


def test_turns_of_runs_and_their_errors(site: js.Site, match: js.pairs.CoreMatch) -> None:
    """Turns lie within what their errors say, and unoriented core becomes oriented by them."""
    core = site.fractures[site.fractures["method"] == "core"]
    runs = match.runs[match.runs["n_pairs"] >= 3].set_index("run")
    true = core.groupby("run")["true_rotation_deg"].first()[runs.index]
    apart = (runs["rotation_deg"] - true + 180) % 360 - 180
    assert np.abs(apart).median() < 6
    assert 0.5 < np.sqrt(((apart / runs["rotation_error_deg"]) ** 2).mean()) < 1.5
    oriented = match.oriented.set_index("row")
    poles = oriented.loc[match.pairs["core_row"], ["pole_east", "pole_north", "pole_up"]]
    there = js.orient_fractures(site)
    image = there.loc[match.pairs["image_row"], ["pole_east", "pole_north", "pole_up"]]
    assert np.median(js.axis_angles_deg(poles.to_numpy(), image.to_numpy())) < 12


def test_stretch_is_found(match: js.pairs.CoreMatch) -> None:
    """Depths two parts in a hundred too large are brought back: the shift grows with depth."""
    runs = match.runs
    middle = 0.5 * (runs["from_m"] + runs["to_m"])
    slope = np.polyfit(middle, runs["shift_m"], 1)[0]
    assert slope == pytest.approx(1 / 1.02 - 1, abs=0.004)
    assert match.agreement["depth_scatter_m"] == pytest.approx(0.05, abs=0.02)


def test_detection_rates_hold_the_truth(match: js.pairs.CoreMatch) -> None:
    """The intervals of this log hold the rates that it was made with."""
    whole = match.detection.iloc[0]
    assert whole["core_low"] < 0.7 < whole["core_high"]
    assert whole["image_low"] < 0.95 < whole["image_high"]
    assert list(match.detection["part"])[:2] == ["whole", "0–20 m"]


def test_mirrored_beta_is_told(site: js.Site) -> None:
    """β read the other way round is noticed, and said."""
    table = site.fractures.assign(run_beta_deg=(360 - site.fractures["run_beta_deg"]) % 360)
    found = js.match_core_to_image(replace(site, fractures=table), "H1")
    assert found.agreement["mirrored"]
    assert any("other way round" in note for note in found.notes)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("spun", [0.0, 0.125, 0.25])
def test_sense_of_beta_where_some_runs_were_spun(spun: float, mirrored: bool) -> None:
    """The sense of β is judged right though runs called oriented were spun, and pairs hold."""
    site = js.pairs.simulate_core_and_image(60.0, spun=spun, mirrored=mirrored, random_state=11)
    found = js.match_core_to_image(site, "H1")
    assert found.agreement["mirrored"] is mirrored
    true = site.fractures["true_fracture"].to_numpy()
    right = true[found.pairs["core_row"]] == true[found.pairs["image_row"]]
    assert right.mean() > 0.95 - 2.5 * np.sqrt(0.95 * 0.05 / len(right))


def test_runs_that_disagree_are_named() -> None:
    """Runs spun by more than 30° and with three pairs are named, and no run that was not."""
    site = js.pairs.simulate_core_and_image(60.0, spun=0.25, random_state=12)
    found = js.match_core_to_image(site, "H1")
    core = site.fractures[site.fractures["method"] == "core"]
    true = core.groupby("run")["true_rotation_deg"].first()[found.runs["run"]].to_numpy()
    told = found.runs["disagrees"].to_numpy()
    far = (np.abs((true + 180) % 360 - 180) > 30) & (found.runs["n_pairs"] >= 3).to_numpy()
    assert far.sum() >= 3
    assert told[far].all()
    assert not told[true == 0].any()
    note = next(one for one in found.notes if "turned against the line" in one)
    assert all(str(name) in note for name in found.runs.loc[told, "run"])
    assert found.runs["rotation_error_deg"][told].max() < 25


def test_pairs_given_are_the_pairs(site: js.Site, match: js.pairs.CoreMatch) -> None:
    """Pairs given back, one taken out, are kept as they are and no other is looked for."""
    edited = match.pairs[["core_row", "image_row"]].drop(index=3)
    found = js.match_core_to_image(site, "H1", given=edited)
    assert sorted(found.pairs["core_row"]) == sorted(edited["core_row"])
    assert set(map(tuple, found.pairs[["core_row", "image_row"]].to_numpy())) == set(
        map(tuple, edited.to_numpy())
    )
    assert not found.pairs["ambiguous"].any()
    twice = pd.concat([edited, edited.tail(1)])
    with pytest.raises(js.InputError, match="core_row of the pairs given .* one stands twice"):
        js.match_core_to_image(site, "H1", given=twice)
    swapped = edited.rename(columns={"core_row": "image_row", "image_row": "core_row"})
    with pytest.raises(js.InputError, match="must be fractures of that method"):
        js.match_core_to_image(site, "H1", given=swapped)


def test_oriented_core_and_alpha_alone() -> None:
    """Core with a reference line is not turned; with α alone pairs are still found."""
    site = js.pairs.simulate_core_and_image(30.0, core_error_deg=3.0, spun=False, random_state=5)
    result = js.analyse(replace(site, fractures=site.fractures), 3)
    found = js.match_core_to_image(site, "H1", set_of=result.mixture.predict)
    assert found.settings["find_rotation"] is None
    assert (found.runs["rotation_deg"] == 0).all()
    assert not found.runs["disagrees"].any()
    assert abs(found.agreement["rotation_bias_deg"]) < 2
    assert {"J1", "J2", "J3"} <= set(found.detection["part"])
    plain = site.fractures.drop(columns=["run", "beta_deg"])
    alone = js.match_core_to_image(replace(site, fractures=plain), "H1")
    true = site.fractures["true_fracture"].to_numpy()
    right = true[alone.pairs["core_row"]] == true[alone.pairs["image_row"]]
    assert right.mean() > 0.8
    oriented = alone.oriented.set_index("row")["dip_deg"].notna()
    assert oriented[oriented].index.isin(alone.pairs["core_row"]).all()
    assert alone.pairs["core_row"].isin(oriented[oriented].index).all()
    assert alone.pairs["angle_deg"].isna().all()
    assert alone.runs["rotation_deg"].isna().all()
    assert any("No column names the run of core" in note for note in alone.notes)


def test_words_and_apertures_help(site: js.Site) -> None:
    """Type and aperture, where both logs give them, make pairs surer."""
    number = site.fractures["true_fracture"].to_numpy()
    words = np.where(number % 3 == 0, "vein", "joint")
    table = site.fractures.assign(type=words, aperture_mm=0.2 * 2.0 ** (number % 5))
    found = js.match_core_to_image(replace(site, fractures=table), "H1")
    right = number[found.pairs["core_row"]] == number[found.pairs["image_row"]]
    assert right.mean() > 0.95


def test_capture_and_recapture_by_hand() -> None:
    """Rates and the total are those of the textbook, and intervals widen with doubt."""
    found = detection_rates(70, 100, 63)
    assert (found.first_rate, found.second_rate) == (0.63, 0.9)
    assert found.total == pytest.approx(71 * 101 / 64 - 1)
    wide = detection_rates(70, 100, 63, doubt=10.0)
    assert wide.first_interval[0] < found.first_interval[0]
    assert wide.total_interval[1] > found.total_interval[1]
    assert detection_rates(0, 0, 0).first_rate is None
    with pytest.raises(js.InputError, match="n_both must not exceed"):
        detection_rates(5, 5, 6)


def test_capture_coverage() -> None:
    """Intervals of rates and total hold the truth in about 95 of 100 simulated logs."""
    generator = np.random.default_rng(1)
    held = np.zeros(2)
    for _ in range(400):
        first, second = generator.random(150) < 0.7, generator.random(150) < 0.9
        found = detection_rates(first.sum(), second.sum(), (first & second).sum())
        held += [
            found.first_interval[0] <= 0.7 <= found.first_interval[1],
            found.total_interval[0] <= 150 <= found.total_interval[1],
        ]
    assert (held / 400 > 0.92).all()


def test_refusals(site: js.Site) -> None:
    """A hole without the one method, without a common length, and arguments out of range."""
    own = site.fractures["method"] == "image"
    image = site.fractures[own].reset_index(drop=True)
    with pytest.raises(js.InputError, match="has no core fracture"):
        js.match_core_to_image(replace(site, fractures=image), "H1")
    with pytest.raises(js.InputError, match="fractures need the column method"):
        js.match_core_to_image(replace(site, fractures=image.drop(columns="method")), "H1")
    hole = replace(site.holes[0], logged=site.holes[0].logged[:1])
    with pytest.raises(js.InputError, match="no length that both core and image logged"):
        js.match_core_to_image(replace(site, holes=(hole,)), "H1")
    wrong = site.fractures.assign(run_beta_deg=400.0)
    with pytest.raises(js.InputError, match="run_beta_deg must lie between 0 and 360"):
        js.match_core_to_image(replace(site, fractures=wrong), "H1")
    with pytest.raises(js.InputError, match="zone_m must be more than 0"):
        js.match_core_to_image(site, "H1", zone_m=0)
    with pytest.raises(js.InputError, match="rates must lie between 0 and 1"):
        js.pairs.simulate_core_and_image(core_rate=0.0)
    with pytest.raises(js.InputError, match="must not be vertical"):
        js.pairs.simulate_core_and_image(plunge_deg=90.0)
