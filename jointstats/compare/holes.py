"""Do several holes see the same rock? The whole comparison, from a site to a verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd

from jointstats.checks import as_seed
from jointstats.compare.differences import (
    count_table,
    estimate_table,
    part_table,
    set_name,
)
from jointstats.compare.groups import SampledGroup, groups_of, together
from jointstats.compare.set_matching import match_sets
from jointstats.errors import InputError
from jointstats.fit.block_fits import fit_blocks
from jointstats.fit.domains import TRY_ALL, Grouping, find_domains
from jointstats.fit.grouped import GroupedPoles
from jointstats.fit.likelihood import RoundSets
from jointstats.fit.one_rock import OneRockTest, one_rock_test
from jointstats.intervals import holm
from jointstats.recipe.given_set import GivenSet
from jointstats.recipe.recipe import Recipe, one_recipe
from jointstats.sets.analysis import analyse
from jointstats.sphere.verdict import Verdict
from jointstats.types import RandomState

if TYPE_CHECKING:
    from jointstats.borehole.site import Site
    from jointstats.sets.result import SiteAnalysis

__all__ = ["HoleComparison", "compare_holes"]

_ASSUMED = (
    "sets round about their means, the number of sets held at that of the common fit; how many "
    "fractures of a set a hole has is free"
)
_CLUSTERS = (
    "The tests of P32 and spacing take fractures to lie at random along the holes. Where they come "
    "in swarms, holes of one rock differ by more than that, and their p-values are too small."
)


@dataclass(frozen=True, eq=False)
class HoleComparison:
    """What `compare_holes` found.

    Attributes
    ----------
    analysis : SiteAnalysis
        The fit of all holes together; its sets are those compared.
    groups : tuple of SampledGroup
        The holes, or lengths of holes, that were compared.
    overall : Verdict
        Test that they see one rock.
    counts : pandas.DataFrame
        Observed and expected count of each set in each hole, given its exposure.
    parts : pandas.DataFrame
        One test a row: orientation, κ, P32, spacing and condition of each set.
    pairs : pandas.DataFrame
        Every pair of holes: hole_a, hole_b, statistic, pvalue, pvalue_holm.
    domains : tuple of tuple of str
        Holes that agree, by the Bayesian information criterion.
    groupings : pandas.DataFrame
        The best ways of sorting the holes, best first: domains, log_likelihood, parameters, bic.
    matches : pandas.DataFrame
        Sets of each hole by itself, beside those of all; a finding for each.
    estimates : pandas.DataFrame
        Orientation, κ and P32 of each set as each hole by itself gives them, with intervals.
    settings : dict
    notes : tuple of str
        Sentences that the reader must know.

    Examples
    --------
    >>> import jointstats as js
    >>> found = js.compare_holes(js.simulate_site(random_state=1), draws=19)
    >>> found.domains
    (('H1', 'H2', 'H3'),)
    """

    analysis: SiteAnalysis
    groups: tuple[SampledGroup, ...] = field(repr=False)
    overall: Verdict
    counts: pd.DataFrame = field(repr=False)
    parts: pd.DataFrame = field(repr=False)
    pairs: pd.DataFrame = field(repr=False)
    domains: tuple[tuple[str, ...], ...]
    groupings: pd.DataFrame = field(repr=False)
    matches: pd.DataFrame = field(repr=False)
    estimates: pd.DataFrame = field(repr=False)
    settings: dict[str, object]
    notes: tuple[str, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of what was compared."""
        return tuple(one.name for one in self.groups)

    def matrix(self, column: str = "pvalue_holm") -> pd.DataFrame:
        """A column of `pairs` as a square table of holes, one on the diagonal.

        Parameters
        ----------
        column : {"pvalue_holm", "pvalue", "statistic"}

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        InputError
            If there is no such column.
        """
        if column not in ("pvalue_holm", "pvalue", "statistic"):
            raise InputError(
                f'column must be "pvalue_holm", "pvalue" or "statistic"; got {column!r}'
            )
        names = list(self.names)
        values = np.full((len(names), len(names)), 0.0 if column == "statistic" else 1.0)
        square = pd.DataFrame(values, index=names, columns=names)
        for row in self.pairs.to_dict("records"):
            square.loc[row["hole_a"], row["hole_b"]] = row[column]
            square.loc[row["hole_b"], row["hole_a"]] = row[column]
        return square

    def to_frame(self) -> pd.DataFrame:
        """Every test, one a row: the overall test first, then the parts, then the pairs."""
        first = {
            "test": "one rock",
            "between": ", ".join(self.names),
            "statistic": self.overall.statistic,
            "pvalue": self.overall.pvalue,
            "pvalue_holm": self.overall.pvalue,
        }
        rows = [first]
        for row in self.parts.to_dict("records"):
            kept = {name: row[name] for name in ("statistic", "pvalue", "pvalue_holm")}
            rows.append({"test": f"{row['part']} of {row['set']}", "between": row["holes"], **kept})
        for row in self.pairs.to_dict("records"):
            kept = {name: row[name] for name in ("statistic", "pvalue", "pvalue_holm")}
            rows.append({"test": "pair", "between": f"{row['hole_a']}, {row['hole_b']}", **kept})
        return pd.DataFrame(rows)

    def __repr__(self) -> str:
        domains = "; ".join(", ".join(one) for one in self.domains)
        return (
            f"HoleComparison({self.analysis.site.name}: {len(self.groups)} holes, "
            f"{len(self.analysis.sets)} sets)\n  {self.overall.summary}\n"
            f"  {len(self.domains)} domain{'s' if len(self.domains) > 1 else ''}: {domains}"
        )

    def _repr_html_(self) -> str:
        shown = self.to_frame().round(4).to_html(index=False, border=0)
        return f"<p>{self.overall.summary}</p>{shown}"


def compare_holes(
    site: Site,
    n_sets: int | Literal["auto"] | Recipe = "auto",
    *,
    cuts_m: Mapping[str, Sequence[float]] | None = None,
    blind_angle_deg: float | None = None,
    confidence: float = 0.95,
    max_sets: int = 8,
    include: Sequence[str] | None = None,
    draws: int = 399,
    random_state: RandomState = 0,
) -> HoleComparison:
    """Compare the holes of a site, each by what it could see.

    Parameters
    ----------
    site : Site
        Of two logged holes or more; or of one, cut by `cuts_m`.
    n_sets : int, "auto" or Recipe
        Sets of the common fit, or all decisions of the analyst, as for `analyse`. The comparison is by
        round sets; where steps changed the sets, by round ones that start from those.
    cuts_m : mapping of hole to depths, or None
        Depths at which a hole is cut into lengths that count as holes of their own, metres: a
        domain may then end within a hole.
    blind_angle_deg : float or None
        As for `analyse`.
    confidence : float
        Level of the intervals.
    max_sets : int
        Most sets that "auto" tries.
    include : sequence of str, or None
        Classes of discontinuity that enter, as for `analyse`.
    draws : int
        Simulated logs behind each p-value, 19 or more.
    random_state : int, Generator, RandomState or None
        Makes the comparison repeatable.

    Returns
    -------
    HoleComparison

    Raises
    ------
    InputError
        If fewer than two holes, or lengths of holes, were logged, or an argument is out of range.

    Notes
    -----
    The overall test asks whether every set has one mean in all holes, its P32 and κ being free in
    each: scores of the common fit against those of simulated logs of one rock, through the same
    holes; and whether sets that some holes lack altogether are more than uneven rock would have.
    P32 is compared set by set in `parts`. Pairs are tested in the same way, corrected for their
    number after Holm (1979).

    Examples
    --------
    Three holes of different direction through one rock:

    >>> import jointstats as js
    >>> found = js.compare_holes(js.simulate_site(random_state=1), draws=19)
    >>> found.overall.pvalue > 0.05
    True
    """
    if not isinstance(draws, (int, np.integer)) or draws < 19:
        raise InputError(f"draws must be a whole number, 19 or more; got {draws!r}")
    recipe = one_recipe(
        n_sets,
        blind_angle_deg=blind_angle_deg,
        confidence=confidence,
        max_sets=max_sets,
        include=include,
        random_state=as_seed(random_state),
    )
    result, seed = _round_sets(site, recipe), recipe.random_state
    groups = groups_of(result, cuts_m)
    if len(groups) < 2:
        raise InputError(
            f"site {site.name} has {len(groups)} logged hole to compare; give two or more, or cut "
            "one with cuts_m"
        )
    rock = RoundSets.of(result.rock)
    data, generator = together(groups), np.random.default_rng(seed)
    table, counts, expected = count_table(groups, rock)
    groupings = find_domains(data, np.arange(len(groups)), rock)
    return HoleComparison(
        analysis=result,
        groups=groups,
        overall=_verdict(_tested(data, rock, draws, generator), groups, draws),
        counts=table,
        parts=part_table(result, groups, rock, (counts, expected), draws=draws, generator=generator),
        pairs=_pair_table(data, groups, rock, draws, generator),
        domains=_named(groupings[0], groups),
        groupings=_grouping_table(groupings, groups),
        matches=_match_table(groups, rock, recipe.max_sets, seed),
        estimates=estimate_table(groups, rock, confidence=recipe.confidence),
        settings={**result.settings, "draws": int(draws), "cuts_m": dict(cuts_m or {})},
        notes=_notes(result, groups),
    )


def _round_sets(site: Site, recipe: Recipe) -> SiteAnalysis:
    """The analysis whose round sets are compared."""
    if not recipe.steps:
        return analyse(site, replace(recipe, shape="round"))
    given = [
        GivenSet(one.dip_deg, one.dip_direction_deg, name=one.name)
        for one in analyse(site, recipe).sets
        if one.dip_deg is not None and one.dip_direction_deg is not None
    ]
    return analyse(site, replace(recipe, shape="round", n_sets=len(given), given=given, steps=()))


def _tested(
    data: GroupedPoles, start: RoundSets, draws: int, generator: np.random.Generator
) -> OneRockTest:
    common = fit_blocks(data, np.ones((1, data.n_groups), bool), start)
    return one_rock_test(data, common, draws=draws, generator=generator)


def _verdict(found: OneRockTest, groups: Sequence[SampledGroup], draws: int) -> Verdict:
    return Verdict(
        test="one rock in orientation, score test",
        hypothesis="the holes see one rock in orientation",
        statistic=found.statistic,
        pvalue=found.pvalue,
        dof=(),
        n=tuple(one.n for one in groups),
        reference=f"{draws} investigations simulated from the common fit",
        assumptions=_ASSUMED,
    )


def _pair_table(
    data: GroupedPoles,
    groups: Sequence[SampledGroup],
    start: RoundSets,
    draws: int,
    generator: np.random.Generator,
) -> pd.DataFrame:
    rows = []
    for i, j in combinations(range(len(groups)), 2):
        one = _tested(data.only([i, j]), start, draws, generator)
        names = {"hole_a": groups[i].name, "hole_b": groups[j].name}
        rows.append({**names, "statistic": one.statistic, "pvalue": one.pvalue})
    table = pd.DataFrame(rows)
    return table.assign(pvalue_holm=holm(table["pvalue"].to_numpy(float)))


def _named(grouping: Grouping, groups: Sequence[SampledGroup]) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(groups[g].name for g in block) for block in grouping.domains)


def _grouping_table(groupings: Sequence[Grouping], groups: Sequence[SampledGroup]) -> pd.DataFrame:
    rows = [
        {
            "domains": " | ".join(", ".join(one) for one in _named(grouping, groups)),
            "n_domains": len(grouping.domains),
            "log_likelihood": grouping.log_likelihood,
            "parameters": grouping.parameters,
            "bic": grouping.bic,
            "bic_above_best": grouping.bic - groupings[0].bic,
        }
        for grouping in groupings
    ]
    return pd.DataFrame(rows)


def _match_table(
    groups: Sequence[SampledGroup], rock: RoundSets, max_sets: int, random_state: int | None
) -> pd.DataFrame:
    rows = match_sets(groups, rock, max_sets=max_sets, random_state=random_state)
    columns = ["hole", "set", "own_set", "n", "n_own", "n_expected", "seen_share", "angle_deg"]
    table = pd.DataFrame(rows, columns=[*columns, "dip_deg", "dip_direction_deg", "finding"])
    table["set"] = [set_name(k) if k >= 0 else "" for k in table["set"]]
    return table


def _notes(result: SiteAnalysis, groups: Sequence[SampledGroup]) -> tuple[str, ...]:
    notes = [*result.notes, _CLUSTERS]
    few = [one.name for one in groups if one.n < 20]
    if few:
        notes.append(
            f"Fewer than 20 fractures in the fit: {', '.join(few)}. Such holes agree with almost "
            "any rock; that they are not told apart is no evidence that they are alike."
        )
    if len(groups) > TRY_ALL:
        notes.append(
            f"With more than {TRY_ALL} holes not every grouping was tried; the domains are those "
            "found by splitting the rock in two, again and again."
        )
    return tuple(notes)
