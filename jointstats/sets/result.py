"""The result of an analysis: the sets of a site, every fracture accounted for, and the settings."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from jointstats.borehole.fractures import Fractures, Status
from jointstats.borehole.ledger import Fracture, corrections_of
from jointstats.checks import as_generator, check_count
from jointstats.design.estimates import Estimate
from jointstats.design.frequency import intensity
from jointstats.design.realised import SizeLaw, realise
from jointstats.fit.hole_agreement import Domain, HoleAgreement
from jointstats.fit.odds import Reading
from jointstats.fit.rock import Rock, RockSet
from jointstats.fit.rocks import Rocks
from jointstats.line.sampling_law import counts_by_angle, law_grid
from jointstats.recipe.recipe import Recipe
from jointstats.schema import with_units
from jointstats.sets.cautions import cautions_of
from jointstats.sets.joint_set import JointSet
from jointstats.sets.lines import LinesPredicted, lines_predicted
from jointstats.sets.on_faces import FaceBeside, HolesSay, faces_beside
from jointstats.sets.reliability import Caution, Evidence, evidence_of, lowest
from jointstats.sets.rocks import EvenDraws, RockPosterior
from jointstats.sets.set_condition import classes_of_sets, condition_of_sets, set_noun
from jointstats.sets.unseen import BlindSpot, blind_spot
from jointstats.uneven.uneven_rock import Unevenness
from jointstats.words import NOTICE, counted

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.exposure import LineExposure
    from jointstats.borehole.sampling import Sampling
    from jointstats.borehole.site import Site
    from jointstats.fit.mixture import JointSetMixture
    from jointstats.observed.observation import Observation
    from jointstats.types import ArrayLike, RandomState

__all__ = ["FractureCounts", "SiteAnalysis"]


@dataclass(frozen=True)
class FractureCounts:
    """Every fracture of the tables, counted once by what became of it.

    Attributes
    ----------
    total : int
        Rows in the fracture table; the sum of all that follow.
    in_a_set : int
    unassigned : int
        Oriented and in the fit, nearer the background than any set.
    below_blind_angle : int
        Oriented, but at less than the blind angle to their hole: left out of the fit.
    not_oriented : int
        Counted in frequency, and in P32 by the share of fractures that are oriented.
    partly_oriented : int
        Known by the angle to the hole, the dip or the dip direction alone: in the fit with every
        plane that is left open.
    other_method : int
        Logged by the second method over a length that another method already covers.
    paired : int
        Of a pair of core and image, the row that is not used: the fracture counts by the other.
    not_included : int
        Of a class that does not enter: made by drilling, or left out by the analyst.

    Examples
    --------
    >>> FractureCounts(5, 3, 1, 0, 1, 0, 0, 0, 0).total
    5
    """

    total: int
    in_a_set: int
    unassigned: int
    below_blind_angle: int
    not_oriented: int
    partly_oriented: int
    other_method: int
    paired: int
    not_included: int


def counts_of(fractures: pd.DataFrame) -> FractureCounts:
    """Every fracture, counted once by its status."""
    number = Fractures(fractures).counts()
    return FractureCounts(
        total=len(fractures),
        in_a_set=number[Status.IN_A_SET],
        unassigned=number[Status.UNASSIGNED],
        below_blind_angle=number[Status.BELOW_BLIND_ANGLE],
        not_oriented=number[Status.NOT_ORIENTED],
        partly_oriented=number[Status.PARTLY_ORIENTED],
        other_method=number[Status.OTHER_METHOD],
        paired=number[Status.PAIRED],
        not_included=number[Status.NOT_INCLUDED],
    )


@dataclass(frozen=True, eq=False)
class SiteAnalysis:
    """What `analyse` found.

    Attributes
    ----------
    site : Site
        The input.
    sets : tuple of JointSet
        J1 first, by falling P32.
    background_per_m : float
        P32 of fractures of no set, 1/m.
    background_interval : (float, float)
        Its interval.
    fractures : pandas.DataFrame
        One row a fracture in the order of the input, input columns kept, then true orientation
        (true_dip_deg, true_dip_direction_deg, pole_east, pole_north, pole_up), oriented_from,
        hole_angle_deg, easting_m, northing_m, elevation_m (where the hole met it), pair_row and
        pair_probability (of core and image of one fracture: the other row as its file counts it),
        probable_dip_deg, probable_dip_direction_deg and
        probable_error_deg (of a fracture known in part: its most probable plane, and the root
        mean square angle of the others to it), set ("J1" …, "unassigned", or "" if not oriented), membership (0 to 1, of
        the set named), discontinuity_class, status ("in a set", "unassigned", "below blind angle",
        "not oriented", "partly oriented", "other method", "paired", "not included").
    holes : pandas.DataFrame
        One row a hole: hole, trend_deg, plunge_deg (at the middle of the logged length), logged_m,
        n, n_oriented, p10_per_m, p10_low_per_m, p10_high_per_m, lost_m (core lost where
        no image saw it), recovered_share (0 to 1, of what was drilled there), rqd_theoretical.
    counts : FractureCounts
    sampling : Sampling
        What was logged of each line, what could be seen there, and the share seen of it.
    observation : Observation
        Those shares hole by hole, and whether orientations were lost by chance.
    mixture : JointSetMixture
        The fitted estimator.
    readings : tuple of Reading
        Readings of the rock, at most three, the best first: each a rock with its probability.
    uneven : Unevenness or None
        How unevenly the sets lie between lines and along them; None without a set.
    agreement : HoleAgreement or None
        Whether the holes see one rock in orientation, a hole out of line with its likely cause, and
        domains; None where fewer than two holes can be compared, or domains were not asked for.
    settings : dict
        What was asked: n_sets, blind_angle_deg, random_state, confidence.
    notes : tuple of str
        Sentences that the reader must know, from the tables and from the fit.
    decided : Recipe
        What the analyst decided, as `recipe` gives it.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> result.counts.total == len(result.fractures)
    True
    """

    site: Site
    sets: tuple[JointSet, ...]
    background_per_m: float
    background_interval: tuple[float, float]
    fractures: pd.DataFrame = field(repr=False)
    holes: pd.DataFrame = field(repr=False)
    counts: FractureCounts
    sampling: Sampling
    observation: Observation = field(repr=False)
    mixture: JointSetMixture
    readings: tuple[Reading, ...] = field(repr=False)
    uneven: Unevenness | None = field(repr=False)
    agreement: HoleAgreement | None = field(repr=False)
    settings: dict[str, Any]
    notes: tuple[str, ...]
    decided: Recipe = field(default_factory=Recipe, repr=False)

    def recipe(self) -> Recipe:
        """What the analyst decided: `analyse(site, result.recipe())` gives the same result again.

        `js.sets.recipe_toml` writes it as an analysis.toml, `js.sets.read_recipe` reads that.
        """
        return self.decided

    @property
    def rock(self) -> Rock:
        """The fitted rock: sets with their densities and P32, and the background."""
        sets = tuple(RockSet(one.density, one.p32_per_m) for one in self.sets)
        return Rock(sets, self.background_per_m)

    @property
    def _read_rock(self) -> Rock:
        sets = tuple(RockSet(one.read_density, one.p32_per_m) for one in self.sets)
        return Rock(sets, self.background_per_m)

    @cached_property
    def _posterior(self) -> RockPosterior:
        return RockPosterior(self)

    def draws(
        self,
        n_rocks: int = 400,
        random_state: RandomState = 0,
    ) -> Rocks:
        """Rocks that the data leave possible, for uncertainty in two levels.

        Parameters
        ----------
        n_rocks : int
            One or more.
        random_state : int, Generator, RandomState or None

        Returns
        -------
        Rocks
            A sequence of `NamedRock`: ask each of them what the design asks, or hand the result, or
            the rocks, to a function of `js.design`.

        Raises
        ------
        InputError
            If an argument is out of range.

        Notes
        -----
        Each rock has a reading with its probability, shapes of sets with theirs, the sets (mean,
        concentration, shape and P32 of one set together), an unevenness, and random fractures. Its
        P32 means the rock of the site, of which the lines logged are a sample, and its κ is that of the
        rock: errors of reading are in it only where they are not stated for every fracture. Errors of
        survey and roll turn the means further. Sets are drawn independently of one another, given what the fit
        makes of their overlap. Where sets were given, all rocks are of the first reading.

        Examples
        --------
        >>> import jointstats as js
        >>> result = js.analyse(js.simulate_site(random_state=1))
        >>> steep = [js.dip_from_poles(rock.find("J1").density.mean)[0][0] for rock in result.draws(50)]
        >>> bool(min(steep) < result.sets[0].dip_deg < max(steep))
        True
        """
        number = check_count(n_rocks, "n_rocks", 1)
        return self._posterior.draw(number, as_generator(random_state))

    def realise(
        self,
        box: ArrayLike,
        *,
        radius_m: float | SizeLaw,
        conditioned: bool = False,
        random_state: RandomState = 0,
    ) -> pd.DataFrame:
        """Discs of the fitted rock in a box, a row a disc: `js.design.realise` of this result."""
        return realise(
            self, box, radius_m=radius_m, conditioned=conditioned, random_state=random_state
        )

    def even_draws(self, size: int, generator: np.random.Generator) -> EvenDraws:
        """Draws of the sets of the first reading as if the rock were even, for what adds unevenness."""
        return self._posterior.even(size, generator)

    @property
    def domains(self) -> tuple[Domain, ...]:
        """Rock of one orientation each, A first; nothing where holes were not compared."""
        return () if self.agreement is None else self.agreement.domains

    @property
    def exposure(self) -> LineExposure:
        """Exposure of all the lengths in the fit."""
        return self.sampling.exposure

    @property
    def bedding(self) -> tuple[float, float] | None:
        """Dip and dip direction of the bedding from true north, degrees; None where not given."""
        return self.site.settings.true_bedding

    @cached_property
    def by_angle(self) -> pd.DataFrame:
        """Fractures of the fit by angle to their hole, observed and expected: the law of sampling.

        Columns from_deg, to_deg, n, low, high, expected, pvalue, as `counts_by_angle` gives them.
        """
        rates = self._read_rock.log_rates(law_grid())
        log_rate = np.logaddexp.reduce(rates, axis=1)
        level = float(self.settings["confidence"])
        return counts_by_angle(self.fractures, self.sampling, log_rate, level)

    @property
    def condition(self) -> pd.DataFrame:
        """How often each term of condition stands in each set, as `condition_of_sets` counts it.

        Columns set, column, term, n, described, total, share, low, high; "unassigned" has its own
        rows; no row where the tables describe nothing.
        """
        level = float(self.settings["confidence"])
        return condition_of_sets(self.fractures, level, self.site.words)

    @property
    def classes(self) -> pd.DataFrame:
        """How many fractures of each class of discontinuity each set has, as `classes_of_sets` counts.

        Columns set, discontinuity_class, n.
        """
        return classes_of_sets(self.fractures)

    @property
    def set_noun(self) -> str:
        """What the sets are sets of: joints, or discontinuities where other classes are among them."""
        return set_noun(self.classes)

    @property
    def notice(self) -> str:
        """To whom the figures defer, and who must check them."""
        return NOTICE

    @cached_property
    def left_out(self) -> LinesPredicted | None:
        """Every line predicted from the others, held against what it had; None with one line."""
        names = [one.name for one in self.sets]
        return lines_predicted(names, Fractures(self.fractures).fitted, self.mixture, self.sampling)

    @property
    def unoriented(self) -> bool:
        """Whether there are fractures and none has a whole orientation, so that no P32 is known."""
        return self.counts.not_oriented > 0 == self.counts.in_a_set + self.counts.unassigned

    @cached_property
    def total_p32(self) -> Estimate:
        """P32 of all sets and the random fractures together, 1/m, with its interval from drawn rocks."""
        return intensity(self)

    @cached_property
    def blind_spot(self) -> BlindSpot:
        """What the holes could not observe, or observed worst."""
        return blind_spot(
            self.sampling, self.sets, self.mixture.smallest_set, float(self.settings["confidence"])
        )

    @cached_property
    def faces(self) -> tuple[FaceBeside, ...]:
        """What each mapped face gives beside the holes; nothing where none was mapped."""
        holes = HolesSay(
            tuple(one.name for one in self.sets),
            self._read_rock,
            (*(one.p32_interval for one in self.sets), self.background_interval),
            self.sampling.blind_angle_deg,
            float(self.settings["confidence"]),
        )
        return faces_beside(self.site, holes)

    @cached_property
    def cautions(self) -> tuple[Caution, ...]:
        """Every caution that the data call for; each has `.about` and `.text`."""
        return cautions_of(self)

    @cached_property
    def evidence(self) -> tuple[Evidence, ...]:
        """Confidence in the orientation, P32 and spacing of each set, and what it rests on."""
        return tuple(
            found for one in self.sets for found in evidence_of(one, self.cautions)
        )

    @cached_property
    def corrections(self) -> pd.DataFrame:
        """What each correction of the readings was, as `js.borehole.corrections_of` gives it."""
        return corrections_of(self.site)

    def fracture(self, row: int) -> Fracture:
        """One fracture by its place in the table, from 0; `.explain()` tells how it was oriented."""
        return Fracture(self.site, row)

    def confidence_in(self, name: str) -> str:
        """The lowest confidence in a quantity of a set: "high", "moderate" or "low"."""
        return lowest([one.confidence for one in self.evidence if one.about == name])

    def to_frame(self) -> pd.DataFrame:
        """One row a set, under plain column names with their units, which stand in `attrs["units"]` too."""
        import pandas as pd

        columns = list(JointSet.to_row(self.sets[0])) if self.sets else ["set"]
        return with_units(pd.DataFrame([one.to_row() for one in self.sets], columns=columns))

    def __repr__(self) -> str:
        lines = [f"SiteAnalysis({self.site.name}: {len(self.sets)} sets"]
        lines += [f"  {one!r}" for one in self.sets]
        counts = self.counts
        lines.append(
            f"  {counts.total} fractures: {counts.in_a_set} in a set, {counts.unassigned} "
            f"unassigned, {counts.below_blind_angle} below the blind angle, "
            f"{counts.not_oriented} not oriented)"
        )
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        shown = self.to_frame().round(2).to_html(index=False, border=0)
        return f"<p>{counted(len(self.sets), 'set')} from {self.counts.total} fractures</p>{shown}"
