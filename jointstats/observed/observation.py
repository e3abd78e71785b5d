"""What was observed of the fractures there are: the shares of each hole, and what they rest on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.fractures import Fractures, Status
from jointstats.intervals import share_interval
from jointstats.observed.detection import Detection
from jointstats.observed.fracture_size import FractureSize
from jointstats.observed.loss import TIMES, loss_factors
from jointstats.observed.loss_tests import LossTest, loss_tests
from jointstats.types import Array, Interval
from jointstats.words import percent

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.sampling import Sampling


@dataclass(frozen=True, eq=False)
class Observation:
    """What share of the fractures was logged and oriented, and whether that was by chance.

    Attributes
    ----------
    shares : pandas.DataFrame
        One row a hole and method: hole, method, n (fractures, each once), n_oriented, detected
        (share of the fractures there are, as the exposure takes it), oriented_share, oriented_low,
        oriented_high (of those logged, with an interval of 95 %).
    lost : float
        Share of the fractures logged that have no orientation, 0 to 1.
    tests : tuple of LossTest
        Whether those differ from the rest in what is known of them.
    partly : int
        Fractures known by their angle to the hole, their dip or their dip direction alone.
    detection : Detection or None
        What core and image saw of the fractures there are; None where no hole has both.
    notes : tuple of str
        Holes whose core and image do not pair.
    size : FractureSize or None
        Radius of the fractures by which holes meet them; None where holes count as lines.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> result.observation.lost
    0.0
    """

    shares: pd.DataFrame = field(repr=False)
    lost: float
    tests: tuple[LossTest, ...]
    partly: int = 0
    detection: Detection | None = None
    notes: tuple[str, ...] = ()
    size: FractureSize | None = None

    def widened(self, interval: Interval, share: float) -> Interval:
        """An interval of P32 of a set, widened for orientations that may not be lost by chance.

        Parameters
        ----------
        interval : (float, float)
            As if they were lost by chance.
        share : float
            Share of the set among the oriented fractures.

        Returns
        -------
        (float, float)
            With the loss of the set up to three times, or a third, that of the rest.
        """
        if self.lost in (0.0, 1.0):
            return interval
        up, down = (float(loss_factors([share], self.lost, r)[0]) for r in (TIMES, 1.0 / TIMES))
        return interval[0] * down, interval[1] * up

    def to_record(self) -> dict[str, object]:
        """The same as plain values for sets.json."""
        found = None
        if self.detection is not None:
            core, image = self.detection.intervals
            found = {
                "metres": self.detection.metres,
                "core": self.detection.core,
                "core_interval": list(core),
                "image": self.detection.image,
                "image_interval": list(image),
                "together": self.detection.together,
                "p32_factor_if_dependent": self.detection.moved(),
            }
        return {
            "lost": self.lost,
            "tests_of_loss": [one._asdict() for one in self.tests],
            "detection": found,
            "shares": self.shares.to_dict("records"),
            "fracture_radius": None
            if self.size is None
            else {
                "radius_m": self.size.radius_m,
                "interval_m": list(self.size.interval_m),
                "n_traces": self.size.n,
                "n_partial": self.size.n_partial,
            },
        }

    @property
    def detected(self) -> str:
        """What share of the fractures the methods saw, or that it is assumed to be all."""
        if self.detection is not None:
            return self.detection.sentence
        of = " of the core that came out" if (self.shares["detected"] < 1.0).any() else ""
        return (
            f"It is assumed that the logs show every fracture{of}: no length was logged by two methods."
        )

    @property
    def known_in_part(self) -> str:
        """How the fractures known in part enter; empty where there is none."""
        if not self.partly:
            return ""
        counts = (
            f"Of {self.partly} fractures only α, the dip or the dip direction is known: each enters the fit "
            "with every plane that is left open, as if the rest had been lost by chance."
        )
        told = [one.sentence for one in self.tests] if self.lost == 0.0 else []
        return " ".join(filter(None, (counts, *told)))

    @property
    def sentence(self) -> str:
        """What was made of the fractures without an orientation; empty where there is none."""
        if self.lost == 0.0:
            return ""
        if self.lost == 1.0:
            return "No fracture has a whole orientation: P10 and RQD are all that these logs give."
        first = (
            f"They count in P32 by the share oriented of each hole, {percent(1.0 - self.lost)} in "
            "all, as if the orientation had been lost by chance."
        )
        last = (
            "Depth alone does not tell whether one set lost it more often than the rest: the "
            "intervals of P32 allow for three times as often, and a third."
        )
        return " ".join(filter(None, (first, *(one.sentence for one in self.tests), last)))


def observation_of(
    fractures: pd.DataFrame,
    sampling: Sampling,
    detection: Detection | None,
    notes: tuple[str, ...],
) -> Observation:
    """The observation of fractures with their status, under a sampling with its shares."""
    counted = Fractures(fractures).counted
    number = len(counted)
    lost, partly = (
        int(counted.has(one).sum()) for one in (Status.NOT_ORIENTED, Status.PARTLY_ORIENTED)
    )
    return Observation(
        _shares(counted, sampling),
        lost / number if number else 0.0,
        loss_tests(counted) if 0 < lost + partly < number else (),
        partly,
        detection,
        notes,
    )


def _shares(counted: Fractures, sampling: Sampling) -> pd.DataFrame:
    import pandas as pd

    rows = []
    for line in sampling.logged:
        own = counted.in_hole(line.name)
        for method in dict.fromkeys(one.method for one in line.lengths):
            parts = [one for one in line.lengths if one.method == method]
            inside = np.any([one.holds(own.depth_m) for one in parts], axis=0)
            found, n = own.where(inside), int(inside.sum())
            oriented = len(found.oriented)
            low, high = share_interval(oriented, n, 0.95, method="Jeffreys") if n else (0.0, 1.0)
            metres = np.array([one.length_m for one in parts])
            rows.append(
                {
                    "hole": line.name,
                    "method": method,
                    "n": n,
                    "n_oriented": oriented,
                    "detected": _mean([one.detected for one in parts], metres),
                    "oriented_share": _mean([one.oriented for one in parts], metres),
                    "oriented_low": low,
                    "oriented_high": high,
                }
            )
    return pd.DataFrame(rows)


def _mean(values: list[float], metres: Array) -> float:
    return float(np.dot(values, metres) / metres.sum())
