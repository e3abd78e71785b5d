"""From a site to its joint sets: the main job, step by step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.exposure import LineExposure
from jointstats.borehole.fractures import UNASSIGNED, Fractures, Status
from jointstats.borehole.terms import checked_classes
from jointstats.checks import as_seed, check_choice
from jointstats.errors import InputError
from jointstats.fit.mixture import JointSetMixture
from jointstats.fit.odds import presence, readings_of
from jointstats.fit.partly_fit import PartlyFitted, fit_with_partly
from jointstats.fit.rock import RockSet
from jointstats.observed.observe import Observed, observe
from jointstats.recipe.given_set import GivenSet, allowed_rows, set_names
from jointstats.recipe.recipe import Recipe, Step, one_recipe
from jointstats.recipe.steps import merged_start, split_starts, starts_after
from jointstats.schema import with_units
from jointstats.sets.figures import Basis, joint_set, line_table
from jointstats.sets.lines import agreement_of, site_intervals, uneven_rock
from jointstats.sets.membership import with_partly
from jointstats.sets.reading_error import common_error_deg, fit_scatter
from jointstats.sets.result import SiteAnalysis, counts_of
from jointstats.types import Array, RandomState

if TYPE_CHECKING:
    from jointstats.borehole.site import Site

__all__ = ["analyse", "merge_sets", "refit_without", "split_set"]


def analyse(
    site: Site,
    n_sets: int | Literal["auto"] | Recipe = "auto",
    *,
    shape: Literal["auto", "round", "elliptical"] = "auto",
    given: Sequence[GivenSet] = (),
    blind_angle_deg: float | None = None,
    confidence: float = 0.95,
    max_sets: int = 8,
    criterion: Literal["bic", "icl"] = "bic",
    domains: Literal["auto", "none"] = "auto",
    include: Sequence[str] | None = None,
    random_state: RandomState = 0,
) -> SiteAnalysis:
    """Find the joint sets of a site, with the sampling of its holes taken out.

    Parameters
    ----------
    site : Site
        From `read_site`.
    n_sets : int, "auto" or Recipe
        Number of sets; "auto" lets `criterion` choose. Or the decisions of an earlier analysis, from
        `SiteAnalysis.recipe` or `js.sets.read_recipe`, which say all that follows.
    shape : "auto", "round" or "elliptical"
        Shape of the sets; "auto" chooses it with the number, girdles and round sets with heavy tails
        among them.
    given : sequence of GivenSet
        Sets the analyst gives, to start from or to hold; more are found beside them.
    blind_angle_deg : float or None
        Angle between hole and plane below which picks are not trusted, degrees; None takes the
        site's own.
    confidence : float
        Level of every interval, between 0 and 1.
    max_sets : int
        Most sets that "auto" tries.
    domains : "auto" or "none"
        Whether to ask if the holes see one rock in orientation (`SiteAnalysis.agreement`).
    include : sequence of str, or None
        Classes of discontinuity that enter: "joint", "drilling-induced", "vein", "shear",
        "bedding", "foliation", "other" (a type that none of these fits), "not stated" (no type).
        None takes all but those made by drilling. The others count in nothing.
    criterion : "bic" or "icl"
        Bayesian information criterion, or integrated completed likelihood.
    random_state : int, Generator, RandomState or None
        Makes the search repeatable.

    Returns
    -------
    SiteAnalysis
        Sets, every fracture with its set and membership, holes, and what must be known of them.

    Raises
    ------
    InputError
        If nothing was logged, an argument is out of range, or another argument stands beside a recipe.

    Examples
    --------
    Fractures made from three known sets are sorted back into three:

    >>> import jointstats as js
    >>> site = js.simulate_site(random_state=1)
    >>> result = js.analyse(site)
    >>> len(result.sets)
    3
    """
    recipe = one_recipe(
        n_sets,
        shape=shape,
        given=given,
        blind_angle_deg=blind_angle_deg,
        confidence=confidence,
        max_sets=max_sets,
        criterion=criterion,
        domains=domains,
        include=include,
        random_state=as_seed(random_state),
    )
    result = _once(site, replace(recipe, steps=()))
    for step in recipe.steps:
        result = _after(result, step)
    return result


def _once(site: Site, recipe: Recipe) -> SiteAnalysis:
    """One fit, before any step."""
    check_choice(recipe.domains, "domains", ("auto", "none"))
    included = checked_classes(recipe.include)
    observed = observe(site, included, blind_angle_deg=recipe.blind_angle_deg)
    fractures, sampling = observed.fractures, observed.sampling
    given = recipe.given
    allowed = allowed_rows(given, fractures)
    model = JointSetMixture(
        recipe.n_sets,
        shape=recipe.shape,
        max_sets=recipe.max_sets,
        criterion=recipe.criterion,
        given_means=[one.pole for one in given] or None,
        hold_means=[one.hold for one in given],
        confidence=recipe.confidence,
        random_state=recipe.random_state,
    )
    common = common_error_deg(site, fractures)
    _fit(model, fractures, sampling.exposure, allowed, common)
    partly = _partly_fit(model, observed, allowed)
    model = model if partly is None else partly.model
    names = set_names(model, given)
    settings: dict[str, object] = {
        "n_sets": recipe.n_sets,
        "shape": recipe.shape,
        "given": given,
        "criterion": recipe.criterion,
        "max_sets": recipe.max_sets,
        "domains": recipe.domains,
        "include": included,
        "blind_angle_deg": sampling.blind_angle_deg,
        "confidence": recipe.confidence,
        "random_state": recipe.random_state,
    }
    fractures = with_sets(fractures, model, names, allowed)
    if partly is not None and observed.partly is not None:
        fractures = with_partly(fractures, observed.partly, partly, names)
    observed = observed._replace(fractures=fractures)
    result = _result(site, observed, model, names, settings, allowed, common)
    return replace(result, decided=recipe)


#: By how much each step changes the number of sets.
_MORE = {"remove": -1, "merge": -1, "split": 1}


def _after(result: SiteAnalysis, step: Step) -> SiteAnalysis:
    """The site fitted again, from its sets as the step leaves them."""
    sets = {one.name: RockSet(one.density, one.p32_per_m) for one in result.sets}
    asked = {
        name: result.settings["given"][g]
        for name, g in zip(sets, result.mixture.given_, strict=True)
        if g >= 0
    }
    given = starts_after(step, sets, asked)
    if step.kind == "merge":
        given.append(merged_start(step, sets))
    elif step.kind == "split":
        own = Fractures(result.fractures).of_set(step.sets[0]).fitted
        given += split_starts(step, own.poles, result.exposure)
    number, recipe = len(sets) + _MORE[step.kind], result.decided
    again = _once(result.site, replace(recipe, n_sets=number, given=given, steps=()))
    steps = (*recipe.steps, step)
    settings = again.settings | {"steps": tuple(map(str, steps))}
    return replace(again, settings=settings, decided=replace(recipe, steps=steps))


def _fit(
    model: JointSetMixture,
    fractures: pd.DataFrame,
    exposure: LineExposure,
    allowed: NDArray[np.bool_],
    common_deg: Array,
) -> None:
    used = Fractures(fractures).is_fitted
    fitted = Fractures(fractures).fitted
    if len(fitted):
        model.fit(
            fitted.poles,
            exposure=exposure,
            allowed=allowed[used] if allowed.size else None,
            scatter=fit_scatter(fitted.table, common_deg[used]),
        )
    else:
        # A row of zeros has no direction: the estimator leaves it out, and finds no set.
        model.fit(np.zeros((1, 3)), exposure=exposure)


def _partly_fit(
    model: JointSetMixture, observed: Observed, allowed: NDArray[np.bool_]
) -> PartlyFitted | None:
    """The fit settled with fractures known in part; None where there is none, or no other."""
    known = observed.partly
    if known is None or not Fractures(observed.fractures).is_fitted.any():
        return None
    closed = np.zeros((len(known.number), model.n_sets_), dtype=bool)
    own = model.given_ >= 0
    closed[:, own] = ~allowed[known.number][:, model.given_[own]]
    return fit_with_partly(model, known, closed)


def _result(
    site: Site,
    observed: Observed,
    model: JointSetMixture,
    names: list[str],
    settings: dict[str, object],
    allowed: NDArray[np.bool_],
    common: Array,
) -> SiteAnalysis:
    """Gather what the fit says of each set, hole and fracture."""
    fractures, sampling, observation, _ = observed
    fitted = Fractures(fractures).fitted
    readings = readings_of(model.others_, model.data_)
    uneven, intervals, random = None, [], model.certainty_.intensity_interval(model.n_sets_)
    if names:
        memberships = model.predict_proba(
            fitted.poles, allowed=allowed[Fractures(fractures).is_fitted]
        )
        uneven = uneven_rock(fitted, memberships, model.rock_, sampling)
        intervals = site_intervals(uneven, model.certainty_, model.confidence)
        shares = memberships.mean(axis=0)
        intervals = [observation.widened(*one) for one in zip(intervals, shares, strict=False)]
        random = observation.widened(random, float(shares[-1]))
    agreement = None
    if settings["domains"] == "auto":
        agreement = agreement_of(site, fitted, sampling, model.others_, model.random_state or 0)
    there = presence(readings, model.data_.rows)
    basis = Basis(site, fractures, model, sampling, common, uneven, intervals, there)
    return SiteAnalysis(
        site=site,
        sets=tuple(joint_set(basis, k, name) for k, name in enumerate(names)),
        background_per_m=float(model.background_),
        # The largest likelihood may put it at nothing, below where its posterior begins.
        background_interval=(min(random[0], float(model.background_)), random[1]),
        fractures=with_units(fractures),
        holes=with_units(line_table(basis)),
        counts=counts_of(fractures),
        sampling=sampling,
        observation=observation,
        mixture=model,
        readings=readings,
        uneven=uneven,
        agreement=agreement,
        settings=settings,
        notes=tuple(site.notes) + fit_notes(model),
    )


def refit_without(result: SiteAnalysis, name: str) -> SiteAnalysis:
    """Fit a site again after one set has been taken out, starting from the others.

    Parameters
    ----------
    result : SiteAnalysis
    name : str
        The set to take out.

    Returns
    -------
    SiteAnalysis
        One set fewer; given sets stay given, and keep their names.

    Raises
    ------
    InputError
        If there is no set of that name.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> len(js.refit_without(result, "J3").sets)
    2
    """
    return _after(result, Step("remove", (name,)))


def merge_sets(result: SiteAnalysis, first: str, second: str) -> SiteAnalysis:
    """Fit a site again with two sets as one, starting from the first axis of both.

    Parameters
    ----------
    result : SiteAnalysis
    first, second : str
        Names of the sets.

    Returns
    -------
    SiteAnalysis
        One set fewer, under names by P32 as ever; given sets that are not touched stay given.

    Raises
    ------
    InputError
        If there is no such set, or one is a girdle.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.merge_sets(js.analyse(js.simulate_site(random_state=1)), "J1", "J2")
    >>> len(result.sets), result.recipe().decisions
    (2, ('merge J1 and J2',))
    """
    return _after(result, Step("merge", (first, second)))


def split_set(result: SiteAnalysis, name: str) -> SiteAnalysis:
    """Fit a site again with one set as two, starting from the two best in its fractures.

    Parameters
    ----------
    result : SiteAnalysis
    name : str

    Returns
    -------
    SiteAnalysis
        One set more, under names by P32 as ever; given sets that are not touched stay given.

    Raises
    ------
    InputError
        If there is no such set, or it has too few fractures.

    Examples
    --------
    >>> import jointstats as js
    >>> len(js.split_set(js.analyse(js.simulate_site(random_state=1)), "J1").sets)
    4
    """
    return _after(result, Step("split", (name,)))


def with_sets(
    fractures: pd.DataFrame,
    model: JointSetMixture,
    set_names: list[str],
    allowed: NDArray[np.bool_],
) -> pd.DataFrame:
    """Name the set of every oriented fracture, with its membership."""
    names = np.array([*set_names, UNASSIGNED], dtype=object)
    left_out = Fractures(fractures).has(Status.NOT_INCLUDED)
    oriented = Fractures(fractures).is_oriented & ~left_out
    chosen = np.full(len(fractures), "", dtype=object)
    membership = np.full(len(fractures), np.nan)
    if oriented.any():
        poles = Fractures(fractures).where(oriented).poles
        shares = model.predict_proba(poles, allowed=allowed[oriented])
        best = shares.argmax(axis=1)
        chosen[oriented] = names[best]
        membership[oriented] = shares[np.arange(len(best)), best]
    status = fractures["status"].to_numpy(dtype=object).copy()
    fitted = Fractures(fractures).is_fitted
    none = chosen[fitted] == UNASSIGNED
    status[fitted] = np.where(none, Status.UNASSIGNED, Status.IN_A_SET)
    return fractures.assign(status=status, set=chosen, membership=membership)


def fit_notes(model: JointSetMixture) -> tuple[str, ...]:
    """What the reader must know of how the fit ended."""
    notes = []
    if not model.converged_:
        notes.append(
            f"The fit stopped after {model.n_iter_} iterations before it had converged; its "
            "figures may still move."
        )
    for trial in model.trials_:
        if trial.n_sets == model.n_sets_ + 1 and "too few" in trial.verdict:
            notes.append(f"A fit with {trial.n_sets} sets was {trial.verdict}.")
            break
    return tuple(notes)
