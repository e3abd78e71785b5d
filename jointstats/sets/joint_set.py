"""A joint set as reported: where it lies, how sure that is, how much rock it cuts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from jointstats.design.draws import draw_set
from jointstats.fit.posterior import SetDraws
from jointstats.line.spacing import SpacingStatistics
from jointstats.sets.oriented_set import OrientedSet
from jointstats.types import Interval

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["JointSet"]


@dataclass(frozen=True, eq=False, kw_only=True)
class JointSet(OrientedSet):
    """One joint set, with intervals at the stated confidence.

    Attributes
    ----------
    name : str
        J1, J2, … in order of falling P32, or a name the analyst gave.
    density : SetDensity
        Density of its poles, from the likelihood with the exposure in it: round, elliptical, a
        girdle, or round with heavy tails (its κ is then the mean over the Fisher sets it is a mixture
        of).
    cone_deg : float
        Half-angle of the confidence cone of the mean (of a girdle: of its fold axis), degrees. Random errors of reading are in the
        scatter it rests on; it is widened by the stated errors of survey and roll, which turn all
        fractures of a hole together.
    concentration_interval : (float, float)
        Of the concentration of the density: κ, or that of a girdle about its great circle.
    read_density : SetDensity
        The density spread by the mean error of reading, whose κ is `kappa`: how readings scatter.
        Without stated errors it is `density`.
    kappa_read_interval : (float, float)
        Of κ as read: the sampling taken out, reading errors left in.
    kappa_rock : float or None
        κ with the stated reading errors taken out too: that of `density`, from which draws, P32 and
        designs come. None for a girdle, where an error is not stated for every fracture of the fit,
        or where the errors explain all of the scatter (`reading_error_deg` tells which).
    kappa_rock_interval : (float or None, float or None)
        The ends of the interval of κ of the rock, the stated errors taken as true; an upper end of
        None is open, a lower end of None is not known.
    reading_error_deg : float or None
        Root mean square angle between the poles of the set as read and the true ones, from the stated
        errors; None where one is not stated for every fracture of the fit.
    p32_per_m : float
        Fracture area per volume of rock, 1/m.
    p32_interval : (float, float)
        Of the rock of the site, whose fractures may lie unevenly between lines and along them.
    p32_even_interval : (float, float)
        The narrower one that takes the rock as even.
    variation_between_lines : (float, float, float)
        Coefficient of variation of the set's frequency from line to line: median and interval.
    even_probabilities : (float, float)
        That the set is as frequent on every line, and that it has no swarms along them.
    presence : float
        Probability that the set is there, over the readings of the rock.
    n : int
        Fractures assigned to the set and used in the fit.
    n_blind : int
        Fractures assigned to it afterwards, that lie below the blind angle of their hole.
    n_expected : float
        Sum of the memberships of all fractures in the fit.
    n_unlogged : float
        Expected number that the drilled but unlogged lengths met.
    exposure_m : float
        Metres of square-on sampling that the holes gave this set.
    seen_share : float
        Share of the fractures of this set met by the holes that lie above the blind angle.
    best_angle_deg : float
        Largest angle between the set's mean plane and any logged hole (90 = square to it).
    p32_weighted_per_m : float
        P32 by Terzaghi weights (cut at the blind angle) of the assigned fractures, for comparison.
    statistics : FisherStatistics
        Of the assigned fractures as observed, unweighted.
    spacing : SpacingStatistics
        Along the mean normal, all holes pooled.
    elliptical_test : EllipticalTest or None
        Test of the set against a round one, under the rules of the fit; None for a girdle.
    holes : pandas.DataFrame
        One row a hole: n, expected n, logged metres, P10 with interval, angle, mean spacing.
    confidence : float
        Level of every interval here.
    posterior : SetDraws or None
        Weighted draws that the intervals come from; None where the set is so large that the plain
        intervals hold.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> result.sets[0].name
    'J1'
    """

    kappa_rock: float | None
    kappa_rock_interval: tuple[float | None, float | None]
    reading_error_deg: float | None
    p32_per_m: float
    p32_interval: Interval
    p32_even_interval: Interval
    variation_between_lines: tuple[float, float, float]
    even_probabilities: tuple[float, float]
    n_blind: int
    n_unlogged: float
    exposure_m: float
    seen_share: float
    best_angle_deg: float
    p32_weighted_per_m: float
    spacing: SpacingStatistics
    holes: pd.DataFrame = field(repr=False)
    posterior: SetDraws | None = field(default=None, repr=False)

    @property
    def even_probability(self) -> float:
        """Probability that the set is even, between the lines and along them."""
        return self.even_probabilities[0] * self.even_probabilities[1]

    @property
    def missed(self) -> float:
        """Expected number of the set's fractures that the holes met below the blind angle."""
        return self.n_expected * (1.0 / self.seen_share - 1.0) if self.seen_share > 0 else 0.0

    @property
    def spacing_interval_m(self) -> tuple[float, float | None] | None:
        """Interval of the mean normal spacing in the rock of the site, metres; None if not known.

        That of the spacings alone takes the rock as even; it is widened as that of P32 is. Its upper
        end is None where nothing bounds it.
        """
        alone = self.spacing.mean_interval_m
        if alone is None or not self.p32_even_interval[0] > 0:
            return alone
        up = max(self.p32_interval[1] / self.p32_even_interval[1], 1.0)
        down = min(self.p32_interval[0] / self.p32_even_interval[0], 1.0)
        high = alone[1] / down if alone[1] is not None and down > 0 else None
        return alone[0] / up, high

    @property
    def spacing_term(self) -> str:
        """ISRM term of the mean normal spacing; "clustered" where no one term fits, or "not known"."""
        return "clustered" if self.spacing.clustered else self.spacing.term or "not known"

    def sample(
        self,
        n: int,
        random_state: int | np.random.Generator | None = None,
        *,
        uncertain: bool = False,
    ) -> pd.DataFrame:
        """Draw orientations and spacings for Monte Carlo stability design.

        Parameters
        ----------
        n : int
            Number of draws, zero or more.
        random_state : int, Generator or None
            Seed or source of random numbers.
        uncertain : bool
            Whether each draw first draws the set itself: its mean, κ and P32.

        Returns
        -------
        pandas.DataFrame
            One row a draw: dip_deg, dip_direction_deg, pole_east, pole_north, pole_up (unit pole,
            lower hemisphere) and spacing_m.

        Raises
        ------
        InputError
            If `n` is not a whole number of zero or more, if P32 is not above zero, or if
            `uncertain` and an interval is not positive and finite.

        Notes
        -----
        Orientations are of the set's own density. Spacings are exponential with mean 1 / P32, the mean normal spacing of
        parallel persistent joints placed at random, whatever the law of the spacings logged.

        With `uncertain`, density and P32 are drawn together from the `posterior`, so that near a
        blind zone a mean inside it comes with the high P32 it needs; what the stated errors of
        survey and roll add to the cone turns the mean further. For a set without a posterior the
        mean comes from an isotropic normal in the tangent plane that puts `confidence` of the means
        inside the cone, and κ and P32 each from a lognormal whose tails are the ends of the
        interval. Each row is a draw of both levels at once: for a probability with an interval use
        `SiteAnalysis.draws`, which keeps them apart.

        Examples
        --------
        >>> import jointstats as js
        >>> result = js.analyse(js.simulate_site(random_state=1))
        >>> result.sets[0].sample(3, random_state=0).shape
        (3, 6)
        """
        return draw_set(self, n, random_state, uncertain=uncertain)

    def to_row(self) -> dict[str, object]:
        """The figures of the set under plain column names with their units."""
        return {
            **self.orientation_row(),
            "kappa_rock": self.kappa_rock,
            "kappa_rock_low": self.kappa_rock_interval[0],
            "kappa_rock_high": self.kappa_rock_interval[1],
            "reading_error_deg": self.reading_error_deg,
            **self.shape_row(),
            **self._p32_row(),
            "p32_weighted_per_m": self.p32_weighted_per_m,
            "n": self.n,
            "n_blind": self.n_blind,
            "n_expected": self.n_expected,
            "missed": self.missed,
            "n_unlogged": self.n_unlogged,
            "exposure_m": self.exposure_m,
            "seen_share": self.seen_share,
            "best_angle_deg": self.best_angle_deg,
            "spacing_mean_m": self.spacing.mean_m,
            "spacing_median_m": self.spacing.median_m,
            "spacing_n": self.spacing.n,
            "spacing_term": self.spacing_term,
            "elliptical_pvalue": self.elliptical_test and self.elliptical_test.pvalue,
        }

    def _p32_row(self) -> dict[str, object]:
        return {
            "p32_per_m": self.p32_per_m,
            "p32_low_per_m": self.p32_interval[0],
            "p32_high_per_m": self.p32_interval[1],
            "p32_even_low_per_m": self.p32_even_interval[0],
            "p32_even_high_per_m": self.p32_even_interval[1],
            "variation_between_lines": self.variation_between_lines[0],
            "variation_low": self.variation_between_lines[1],
            "variation_high": self.variation_between_lines[2],
            "even_probability": self.even_probability,
            "even_between_probability": self.even_probabilities[0],
            "even_along_probability": self.even_probabilities[1],
            "presence": self.presence,
        }

    def to_frame(self) -> pd.DataFrame:
        """The figures of the set as a frame of one row."""
        import pandas as pd

        return pd.DataFrame([self.to_row()])

    def __repr__(self) -> str:
        return f"JointSet({self.name}: {self.where}, P32 {self.p32_per_m:.2f} /m, n {self.n})"
