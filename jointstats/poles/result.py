"""The result of an analysis of poles: sets with their shares, and no figure that needs a sampling."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointstats.fit.odds import Reading
from jointstats.fit.rock import Rock, RockSet
from jointstats.poles.cautions import cautions_of_poles
from jointstats.schema import with_units
from jointstats.sets.oriented_set import OrientedSet
from jointstats.sets.reliability import Caution, Evidence, evidence_of_orientation
from jointstats.sets.result import FractureCounts
from jointstats.types import Interval
from jointstats.words import NOTICE, counted

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.fit.mixture import JointSetMixture

__all__ = ["PoleSet", "PolesAnalysis"]


@dataclass(frozen=True, eq=False, kw_only=True, repr=False)
class PoleSet(OrientedSet):
    """One set among poles, with intervals at the stated confidence.

    Attributes
    ----------
    name, density, cone_deg, concentration_interval, presence, n, n_expected, statistics,
    elliptical_test, confidence
        As of an `OrientedSet`.
    share : float
        Share of the poles (of their weight) that is of the set, 0 to 1. It is a share of the
        table, not of the fractures in the rock.
    share_interval : (float, float)

    Examples
    --------
    >>> import jointstats as js
    >>> poles = js.sphere.AxialFisher([0, 0, -1], 50.0).rvs(80, random_state=1)
    >>> js.analyse_poles(poles).sets[0].share > 0.9
    True
    """

    share: float
    share_interval: Interval

    def to_row(self) -> dict[str, object]:
        """The figures of the set under plain column names with their units."""
        return {
            **self.orientation_row(),
            **self.shape_row(),
            "share": self.share,
            "share_low": self.share_interval[0],
            "share_high": self.share_interval[1],
            "presence": self.presence,
            "n": self.n,
            "n_expected": self.n_expected,
            "elliptical_pvalue": self.elliptical_test and self.elliptical_test.pvalue,
        }

    def __repr__(self) -> str:
        return f"PoleSet({self.name}: {self.where}, {100 * self.share:.0f} % of the poles, n {self.n})"


@dataclass(frozen=True, eq=False, repr=False)
class PolesAnalysis:
    """What `analyse_poles` found.

    Attributes
    ----------
    name : str
        Of the table.
    sets : tuple of PoleSet
        J1 first, by falling share.
    background_share : float
        Share of the poles that is of no set.
    background_interval : (float, float)
        Its interval.
    fractures : pandas.DataFrame
        One row a pole in the order of the input, input columns kept (one whose name is taken ends
        in _given), then true_dip_deg, true_dip_direction_deg, pole_east, pole_north, pole_up, set,
        membership and status.
    counts : FractureCounts
    mixture : JointSetMixture
        The fitted estimator.
    rock : Rock
        The sets with the numbers expected of each in place of P32.
    readings : tuple of Reading
        Readings of the poles, at most three, the best first.
    settings : dict
        What was asked.
    notes : tuple of str
        How the columns were read, and what the reader must know of the fit.
    sources : tuple of Path
    digests : tuple of (str, str)
    sampling, exposure, bedding : None
        Nothing is known of how the poles were sampled, nor of a bedding.

    Examples
    --------
    >>> import jointstats as js
    >>> poles = js.sphere.AxialFisher([0, 0, -1], 50.0).rvs(80, random_state=1)
    >>> found = js.analyse_poles(poles)
    >>> len(found.sets), found.sampling is None
    (1, True)
    """

    name: str
    sets: tuple[PoleSet, ...]
    background_share: float
    background_interval: Interval
    fractures: pd.DataFrame
    counts: FractureCounts
    mixture: JointSetMixture
    readings: tuple[Reading, ...]
    settings: dict[str, Any]
    notes: tuple[str, ...]
    sources: tuple[Path, ...] = ()
    digests: tuple[tuple[str, str], ...] = ()
    sampling: None = field(default=None, init=False)
    exposure: None = field(default=None, init=False)
    bedding: None = field(default=None, init=False)

    @property
    def rock(self) -> Rock:
        """The sets with the number expected of each in place of P32, and the background's."""
        total = self.mixture.data_.total
        sets = tuple(RockSet(one.density, one.share * total) for one in self.sets)
        return Rock(sets, self.background_share * total)

    @property
    def notice(self) -> str:
        """To whom the figures defer, and who must check them."""
        return NOTICE

    @cached_property
    def cautions(self) -> tuple[Caution, ...]:
        """Every caution that the poles call for; each has `.about` and `.text`."""
        return cautions_of_poles(self)

    @cached_property
    def evidence(self) -> tuple[Evidence, ...]:
        """Confidence in the orientation of each set, and what it rests on."""
        return tuple(evidence_of_orientation(one, self.cautions) for one in self.sets)

    def confidence_in(self, name: str) -> str:
        """The confidence in the orientation of a set: "high", "moderate" or "low"."""
        return next(one.confidence for one in self.evidence if one.about == name)

    def to_frame(self) -> pd.DataFrame:
        """One row a set, under plain column names with their units, which stand in `attrs["units"]` too."""
        import pandas as pd

        columns = list(self.sets[0].to_row()) if self.sets else ["set"]
        return with_units(pd.DataFrame([one.to_row() for one in self.sets], columns=columns))

    def __repr__(self) -> str:
        lines = [f"PolesAnalysis({self.name}: {len(self.sets)} sets"]
        lines += [f"  {one!r}" for one in self.sets]
        counts = self.counts
        lines.append(
            f"  {counts.total} poles: {counts.in_a_set} in a set, {counts.unassigned} unassigned, "
            f"{counts.not_oriented} not oriented)"
        )
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        shown = self.to_frame().round(2).to_html(index=False, border=0)
        return f"<p>{counted(len(self.sets), 'set')} from {self.counts.total} poles</p>{shown}"
