"""A set of poles as fitted: where it lies, its shape, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass

from jointstats.fit.roundness import EllipticalTest
from jointstats.sphere.angles import dip_from_poles, trend_from_lines
from jointstats.sphere.axes import lower_hemisphere
from jointstats.sphere.fisher import FisherStatistics
from jointstats.sphere.set_density import SetDensity
from jointstats.types import Array, Interval

__all__ = ["OrientedSet"]


@dataclass(frozen=True, eq=False, kw_only=True)
class OrientedSet:
    """What is known of the orientation of a set, with intervals at the stated confidence.

    Attributes
    ----------
    name : str
        J1, J2, … in order of falling intensity, or a name the analyst gave.
    density : SetDensity
        Density of its poles, by likelihood: round, with or without heavy tails, elliptical or a
        girdle.
    cone_deg : float
        Half-angle of the confidence cone of the mean (of a girdle: of its fold axis), degrees.
    concentration_interval : (float, float)
        Of the concentration of the density: κ, or that of a girdle about its great circle.
    read_density : SetDensity
        The density spread by the mean error of reading, whose κ is `kappa`.
    kappa_read_interval : (float, float)
        Of κ as read.
    presence : float
        Probability that the set is there, over the readings of the rock.
    n : int
        Fractures assigned to the set and used in the fit.
    n_expected : float
        Sum of the memberships of all fractures in the fit.
    statistics : FisherStatistics
        Of the assigned fractures as observed, unweighted.
    elliptical_test : EllipticalTest or None
        Test of the set against a round one, under the rules of the fit; None for a girdle.
    confidence : float
        Level of every interval here.

    Examples
    --------
    >>> import jointstats as js
    >>> isinstance(js.analyse(js.simulate_site(random_state=1)).sets[0], OrientedSet)
    True
    """

    name: str
    density: SetDensity
    read_density: SetDensity
    cone_deg: float
    concentration_interval: Interval
    kappa_read_interval: Interval
    presence: float
    n: int
    n_expected: float
    statistics: FisherStatistics
    elliptical_test: EllipticalTest | None
    confidence: float = 0.95

    @property
    def shape(self) -> str:
        """"round", "elliptical", "girdle", or "heavy-tailed": round with heavy tails."""
        return self.density.shape

    @property
    def mean(self) -> Array | None:
        """Mean pole, lower hemisphere, shape (3,); None for a girdle."""
        return self.density.mean

    @property
    def kappa(self) -> float | None:
        """Fisher (Kent) concentration as read; None for a girdle."""
        return self.read_density.kappa

    @property
    def kappa_interval(self) -> tuple[float | None, float | None]:
        """Interval of κ as read; nothing for a girdle."""
        return (None, None) if self.kappa is None else self.kappa_read_interval

    @property
    def dip_deg(self) -> float | None:
        """Dip of the mean plane, degrees; None for a girdle."""
        return None if self.mean is None else float(dip_from_poles(self.mean)[0][0])

    @property
    def dip_direction_deg(self) -> float | None:
        """Dip direction of the mean plane, degrees clockwise from north; None for a girdle."""
        return None if self.mean is None else float(dip_from_poles(self.mean)[1][0])

    @property
    def fold_axis_deg(self) -> tuple[float | None, float | None]:
        """Trend and plunge of the axis of a girdle, degrees; nothing for another set."""
        return (None, None) if self.mean is not None else _trend(self.density.frame[0])

    @property
    def long_axis_deg(self) -> tuple[float | None, float | None]:
        """Trend and plunge of the direction of most scatter of an elliptical set, degrees."""
        return _trend(self.density.frame[1]) if self.shape == "elliptical" else (None, None)

    @property
    def spread_cone_deg(self) -> float:
        """Half-angle of the 95 % spread cone: about the mean, it holds 95 % of the set's poles, degrees.

        Of a girdle: the angle on either side of its great circle.
        """
        return self.density.spread_deg(0.95)

    def orientation_row(self) -> dict[str, object]:
        """Where the set lies and its shape, under plain column names with their units."""
        return {
            "set": self.name,
            "shape": self.shape,
            "dip_deg": self.dip_deg,
            "dip_direction_deg": self.dip_direction_deg,
            "fold_axis_trend_deg": self.fold_axis_deg[0],
            "fold_axis_plunge_deg": self.fold_axis_deg[1],
            "cone_deg": self.cone_deg,
            "kappa": self.kappa,
            "kappa_low": self.kappa_interval[0],
            "kappa_high": self.kappa_interval[1],
        }

    def shape_row(self) -> dict[str, object]:
        """How its poles spread, under plain column names with their units."""
        return {
            "axial_ratio": self.density.axial_ratio,
            "tail_freedom": self.density.tail_freedom,
            "long_axis_trend_deg": self.long_axis_deg[0],
            "long_axis_plunge_deg": self.long_axis_deg[1],
            "spread_cone_deg": self.spread_cone_deg,
        }

    @property
    def where(self) -> str:
        """Mean plane or fold axis with its cone, and κ, in a few words."""
        if self.mean is None:
            trend, plunge = self.fold_axis_deg
            return f"girdle about {trend:03.0f}/{plunge:.0f} ± {self.cone_deg:.0f}°"
        return (
            f"{self.shape}, dip {self.dip_deg:.0f}°, dip direction "
            f"{self.dip_direction_deg:.0f}° ± {self.cone_deg:.0f}°, kappa {self.kappa:.0f}"
        )


def _trend(line: Array) -> tuple[float, float]:
    trend, plunge = trend_from_lines(lower_hemisphere(line))
    return float(trend[0]), float(plunge[0])
