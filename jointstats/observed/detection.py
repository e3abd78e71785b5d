"""What core and image each saw of the fractures there are, from the lengths that both logged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from jointstats.observed.shares import pooled_shares
from jointstats.pairs.capture import detection_rates
from jointstats.types import Interval
from jointstats.words import listed, number, percent

#: Odds ratio of seeing by one method and the other at which P32 is shown beside the independent one.
DEPENDENT = 3.0
#: Confidence of the intervals of detection.
_LEVEL = 0.95
_TINY = 1e-9


@dataclass(frozen=True)
class BothLogs:
    """Fractures of a length that core and image both logged.

    Attributes
    ----------
    hole : str
    metres : float
    n_core, n_image : int
        Fractures on each.
    n_both : float
        Sum of the probabilities of the pairs.
    n_pairs : int
        Pairs taken, so that n_core + n_image − n_pairs fractures stand in the list of both.
    doubt : float
        Variance of `n_both` from pairs in doubt.

    Examples
    --------
    >>> BothLogs("A", 60.0, 90, 80, 72.4, 72, 0.8).n_listed
    98
    """

    hole: str
    metres: float
    n_core: int
    n_image: int
    n_both: float
    n_pairs: int
    doubt: float

    @property
    def n_listed(self) -> int:
        """Fractures in the list of both logs, each once."""
        return self.n_core + self.n_image - self.n_pairs


@dataclass(frozen=True)
class Detection:
    """Share of the fractures that each method saw, by capture and recapture, and what it rests on.

    Attributes
    ----------
    logs : tuple of BothLogs
        One a hole that core and image both logged.

    Examples
    --------
    Of 100 fractures the core has 90 and the image 80, and they share 72:

    >>> found = Detection((BothLogs("A", 60.0, 90, 80, 72.0, 72, 0.0),))
    >>> found.core, found.image, round(found.together, 2)
    (0.9, 0.8, 0.98)
    """

    logs: tuple[BothLogs, ...] = field(repr=False)

    def _sum(self, name: str) -> float:
        return float(sum(getattr(one, name) for one in self.logs))

    @property
    def metres(self) -> float:
        """Length that both logged, metres."""
        return self._sum("metres")

    @property
    def core(self) -> float:
        """Share of the fractures that is on the core, 0 to 1."""
        return min(self._sum("n_both") / max(self._sum("n_image"), _TINY), 1.0)

    @property
    def image(self) -> float:
        """Share of the fractures that is on the image, 0 to 1."""
        return min(self._sum("n_both") / max(self._sum("n_core"), _TINY), 1.0)

    @property
    def together(self) -> float:
        """Share of the fractures that is on at least one of the two, 0 to 1."""
        return 1.0 - (1.0 - self.core) * (1.0 - self.image)

    @cached_property
    def intervals(self) -> tuple[Interval, Interval]:
        """Intervals of 95 % of `core` and of `image`."""
        n_core, n_image = self._sum("n_core"), self._sum("n_image")
        both = min(self._sum("n_both"), n_core, n_image)
        found = detection_rates(n_core, n_image, both, doubt=self._sum("doubt"), confidence=_LEVEL)
        return found.first_interval, found.second_interval

    def moved(self, times: float = DEPENDENT) -> float:
        """Factor of P32 over both logs if seeing by one makes the odds of the other so many times.

        Parameters
        ----------
        times : float
            Odds ratio; 1 where the methods see independently.

        Returns
        -------
        float
        """
        unseen = (1.0 - self.core) * (1.0 - self.image)
        return 1.0 + (times - 1.0) * unseen

    def log_error(self, method: str) -> float:
        """Standard error of log P32 from the shares, over a length of "core", "image" or both.

        Beyond that of a count of fractures: of the list of both logs, which the share follows from,
        or of the one log.
        """
        both = max(self._sum("n_both"), 1.0)
        core, image = self.core, self.image
        doubt = self._sum("doubt") / both**2
        if method == "core":
            return float(np.sqrt((1.0 - core) / both + doubt))
        if method == "image":
            return float(np.sqrt((1.0 - image) / both + doubt))
        unseen = (1.0 - core) * (1.0 - image)
        all_there = both / max(core * image, _TINY)
        more = unseen / all_there * (1.0 / (core * image) - 1.0 / (1.0 - unseen))
        return float(np.sqrt(max(more, 0.0) + doubt))

    def shares(self, holes: Sequence[str]) -> Mapping[str, tuple[float, float]]:
        """Detection on the core and on the image of each hole, drawn together as far as they are alike."""
        of = {one.hole: one for one in self.logs}
        n = np.array([[of[h].n_core, of[h].n_image] if h in of else [0, 0] for h in holes], float)
        both = np.array([of[h].n_both if h in of else 0.0 for h in holes])
        core = pooled_shares(np.minimum(both, n[:, 1]), n[:, 1]).shares
        image = pooled_shares(np.minimum(both, n[:, 0]), n[:, 0]).shares
        pairs = zip(core.tolist(), image.tolist(), strict=True)
        return dict(zip(holes, pairs, strict=True))

    def listed_over_seen(self, hole: str) -> float:
        """Fractures in the list of both logs over those seen, which counts pairs by their probability."""
        for one in self.logs:
            if one.hole == hole:
                return one.n_listed / max(one.n_core + one.n_image - one.n_both, _TINY)
        return 1.0

    @property
    def sentence(self) -> str:
        """What each method saw, and how far P32 moves if they don't see independently."""
        core, image = self.intervals
        holes = listed([one.hole for one in self.logs])
        return (
            f"Core and image both logged {number(self.metres)} m of {holes}. Of the fractures there "
            f"the image shows {percent(self.image)} ({percent(image[0])} to {percent(image[1])}), "
            f"the core {percent(self.core)} ({percent(core[0])} to {percent(core[1])}), the two "
            f"together {percent(self.together)}; P32, frequency and spacing count the rest. This "
            "holds if a fracture on one is no likelier to be on the other, and none on the core was "
            "made by drilling, which these logs do not tell: with odds three times as high, P32 "
            f"would be {percent(self.moved() - 1.0)} higher."
        )
