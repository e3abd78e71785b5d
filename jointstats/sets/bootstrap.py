"""Bootstrap of an analysis: how far sets, their number and memberships move with the sample."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np
import pandas as pd
from joblib import Parallel, delayed

from jointstats.borehole.fractures import UNASSIGNED, Fractures
from jointstats.borehole.sampling import SampledLength
from jointstats.checks import as_seed
from jointstats.errors import InputError
from jointstats.fit.data import FitData
from jointstats.fit.mixture import JointSetMixture
from jointstats.fit.shaped import fit_shaped
from jointstats.sets.result import SiteAnalysis
from jointstats.sphere.axes import axis_angles_deg
from jointstats.types import Array, RandomState

__all__ = ["SetBootstrap", "bootstrap_sets"]

Resample = Callable[[np.random.Generator], Array]

_FEWEST_RESAMPLES = 20


@dataclass(frozen=True, eq=False)
class SetBootstrap:
    """What a bootstrap of an analysis found.

    Attributes
    ----------
    sets : pandas.DataFrame
        One row a set: set, cone_deg, kappa_low, kappa_high, p32_low_per_m, p32_high_per_m.
    n_sets : pandas.Series or None
        Share of resamples by the number of sets found in them; None unless it was asked for.
    memberships : pandas.DataFrame
        One row a fracture of the fit, under its place in `SiteAnalysis.fractures`: its set, the
        mean membership in it over the resamples, the standard deviation, and the share of
        resamples that put it there.
    kind : str
    n_resamples : int
    confidence : float

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> js.bootstrap_sets(result, 20).sets["set"].tolist()
    ['J1', 'J2', 'J3']
    """

    sets: pd.DataFrame
    n_sets: pd.Series | None
    memberships: pd.DataFrame = field(repr=False)
    kind: str
    n_resamples: int
    confidence: float

    def to_frame(self) -> pd.DataFrame:
        """The intervals, one row a set."""
        return self.sets


def bootstrap_sets(
    result: SiteAnalysis,
    n_resamples: int = 200,
    *,
    kind: Literal["parametric", "depth blocks"] = "parametric",
    block_m: float = 5.0,
    find_number: bool = False,
    n_jobs: int | None = None,
    random_state: RandomState = 0,
) -> SetBootstrap:
    """Intervals of the sets by bootstrap, to set beside those from the observed information.

    Parameters
    ----------
    result : SiteAnalysis
    n_resamples : int
        20 or more.
    kind : "parametric" or "depth blocks"
        New fractures from the fitted sets as the holes would meet them; or the fractures as logged,
        in blocks of depth drawn with replacement, which keeps the clustering of neighbours.
    block_m : float
        Length of a block, metres.
    find_number : bool
        Whether each resample is also searched for its number of sets (slower).
    n_jobs : int or None
        Processes, as joblib takes them. The answer does not depend on it.
    random_state : int, Generator, RandomState or None

    Returns
    -------
    SetBootstrap

    Raises
    ------
    InputError
        If an argument is out of range, or the analysis found no set.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> found = js.bootstrap_sets(result, 30, kind="depth blocks").sets
    >>> bool((found["p32_low_per_m"] < found["p32_high_per_m"]).all())
    True
    """
    if n_resamples < _FEWEST_RESAMPLES:
        raise InputError(f"n_resamples must be {_FEWEST_RESAMPLES} or more; got {n_resamples}")
    if not result.sets:
        raise InputError("the analysis found no set, so there is nothing to resample")
    if not block_m > 0:
        raise InputError(f"block_m must be more than 0; got {block_m}")
    resample = _resampler(result, kind, block_m)
    seeds = np.random.SeedSequence(as_seed(random_state)).spawn(n_resamples)
    trials = Parallel(n_jobs=n_jobs)(
        delayed(_one)(result, resample(np.random.default_rng(seed)), find_number) for seed in seeds
    )
    return _gathered(result, trials, kind, find_number)


def _resampler(result: SiteAnalysis, kind: str, block_m: float) -> Resample:
    if kind == "parametric":
        return lambda rng: simulated_poles(result, rng)
    if kind == "depth blocks":
        blocks = _depth_blocks(result, block_m)
        return lambda rng: _drawn_blocks(blocks, rng)
    raise InputError(f'kind must be "parametric" or "depth blocks"; got {kind!r}')


def simulated_poles(result: SiteAnalysis, rng: np.random.Generator) -> Array:
    """Poles (n, 3) of the fitted sets and background, met as the exposure allows; n is Poisson."""
    exposure, model = result.exposure, result.mixture
    whole = exposure.total_m
    rock = model.read_rock_
    every = rock.intensities.sum() + rock.background_per_m
    poles, _ = rock.sample(rng.poisson(every * whole), rng)
    return poles[rng.uniform(size=len(poles)) * whole < exposure.at(poles)]


def _depth_blocks(result: SiteAnalysis, block_m: float) -> list[list[Array]]:
    """For each sampled length, the poles of each of its blocks."""
    fitted = Fractures(result.fractures).fitted
    return [_blocks_of(one, fitted, block_m) for one in result.sampling.lengths]


def _blocks_of(length: SampledLength, fitted: Fractures, block_m: float) -> list[Array]:
    own = fitted.in_hole(length.line)
    own = own.where((own.depth_m >= length.from_m) & (own.depth_m <= length.to_m))
    count = max(1, round(length.length_m / block_m))
    edges = np.linspace(length.from_m, length.to_m, count + 1)
    place = np.clip(np.searchsorted(edges, own.depth_m, side="right") - 1, 0, count - 1)
    poles = own.poles
    return [poles[place == block] for block in range(count)]


def _drawn_blocks(blocks: list[list[Array]], rng: np.random.Generator) -> Array:
    drawn = [length[i] for length in blocks for i in rng.integers(0, len(length), len(length))]
    return np.vstack([np.empty((0, 3)), *drawn])


def _one(result: SiteAnalysis, poles: Array, find_number: bool) -> dict[str, object]:
    """The sets of one resample, in the order of the analysis, and what they make of the data."""
    model, exposure = result.mixture, result.exposure
    rules = model.data_
    seen = exposure.at(poles) > 0
    data = FitData(poles[seen], np.ones(int(seen.sum())), exposure, held=rules.held)
    again = fit_shaped(replace(data, kappa_bounds=rules.kappa_bounds), model.read_rock_).rock
    logs = again.log_rates(Fractures(result.fractures).fitted.poles)
    axes = [np.array([one.frame[0] for one in rock.densities]) for rock in (again, model.read_rock_)]
    found = {
        "angles": axis_angles_deg(*axes),
        "kappas": np.array([one.concentration for one in again.densities]),
        "intensities": again.intensities,
        "shares": np.exp(logs - np.logaddexp.reduce(logs, axis=1)[:, np.newaxis]),
    }
    if find_number:
        searched = JointSetMixture(**{**model.get_params(), "n_sets": "auto"})
        found["number"] = searched.fit(poles, exposure=exposure).n_sets_
    return found


def _gathered(
    result: SiteAnalysis, trials: list[dict[str, Any]], kind: str, find_number: bool
) -> SetBootstrap:
    confidence = float(result.settings["confidence"])
    tails = [0.5 * (1 - confidence), 0.5 * (1 + confidence)]
    angles, kappas, intensities = (
        np.array([trial[name] for trial in trials]) for name in ("angles", "kappas", "intensities")
    )
    sets = pd.DataFrame(
        {
            "set": [one.name for one in result.sets],
            "cone_deg": np.quantile(angles, confidence, axis=0),
            "kappa_low": np.quantile(kappas, tails[0], axis=0),
            "kappa_high": np.quantile(kappas, tails[1], axis=0),
            "p32_low_per_m": np.quantile(intensities, tails[0], axis=0),
            "p32_high_per_m": np.quantile(intensities, tails[1], axis=0),
        }
    )
    numbers = None
    if find_number:
        numbers = pd.Series([trial["number"] for trial in trials]).value_counts(normalize=True)
        numbers = numbers.sort_index().rename("share").rename_axis("n_sets")
    memberships = _memberships(result, np.array([trial["shares"] for trial in trials]))
    return SetBootstrap(sets, numbers, memberships, kind, len(trials), confidence)


def _memberships(result: SiteAnalysis, shares: Array) -> pd.DataFrame:
    """How far each fracture's membership in its set moves; `shares` is (resamples, n, K + 1)."""
    names = [*(one.name for one in result.sets), UNASSIGNED]
    chosen = Fractures(result.fractures).fitted.table["set"]
    place = chosen.map({name: k for k, name in enumerate(names)}).to_numpy(dtype=np.intp)
    own = shares[:, np.arange(len(place)), place]
    return pd.DataFrame(
        {
            "set": chosen,
            "membership_mean": own.mean(axis=0),
            "membership_deviation": own.std(axis=0),
            "agreement": (shares.argmax(axis=2) == place).mean(axis=0),
        },
        index=chosen.index,
    )
