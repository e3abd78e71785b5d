"""Whether core and image saw the same share of every set."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy.stats import chi2_contingency

from jointstats.borehole.fractures import Fractures, Mask, Status
from jointstats.borehole.sampling import BOTH, Sampling
from jointstats.intervals import holm
from jointstats.pairs.capture import detection_rates
from jointstats.pairs.match_tables import FIRST_ROW
from jointstats.types import Array
from jointstats.words import listed, percent

if TYPE_CHECKING:
    import pandas as pd

#: Fractures of a set on both core and image, from which its detection is told apart.
FEWEST = 10
_LEVEL = 0.05


class SetDetection(NamedTuple):
    """Detection of each set where core and image logged one length.

    Attributes
    ----------
    table : pandas.DataFrame
        One row a set: set, n_core, n_image, n_both, core_rate, core_low, core_high, image_rate,
        image_low, image_high, together.
    pvalue : float
        That the sets are seen alike by both methods; Holm-adjusted, 1 with fewer than two sets.

    Examples
    --------
    >>> import jointstats as js
    >>> site = js.pairs.simulate_core_and_image(40.0, spun=False, random_state=3)
    >>> found = detection_by_set(js.analyse(site, n_sets=3).fractures, Sampling.of(site))
    >>> found.table.empty  # no length of that sampling counts both logs as one
    True
    """

    table: pd.DataFrame
    pvalue: float

    @property
    def sentence(self) -> str:
        """The finding in words; empty where the sets are seen alike."""
        if self.pvalue >= _LEVEL:
            return ""
        rows = self.table.to_dict("records")
        each = listed(
            [
                f"{row['set']} by the image {percent(row['image_rate'])}, by the core "
                f"{percent(row['core_rate'])}"
                for row in rows
            ]
        )
        shown = "p below 0.001" if self.pvalue < 0.001 else f"p = {self.pvalue:.3f}"
        return (
            f"The sets are not seen alike ({shown}): {each}. P32 takes one share for all, so that of "
            "the set seen least is low, most of all where one method logged alone."
        )


def detection_by_set(fractures: pd.DataFrame, sampling: Sampling) -> SetDetection:
    """Detection of each set, from fractures with their sets and pairs, in lengths of both logs."""
    import pandas as pd

    rows, counts = [], []
    if "pair_row" in fractures:
        own = fractures[_in_both(fractures, sampling)]
        label, paired = _labels(fractures, own), own["pair_row"].notna().to_numpy()
        by_core = (own["method"] == "core").to_numpy()
        for name in sorted(set(label[label != ""])):
            mine = label == name
            both = int((mine & paired & ~by_core).sum())
            n_core, n_image = int((mine & by_core).sum()), int((mine & ~by_core).sum())
            if both < FEWEST:
                continue
            both = min(both, n_core)
            rows.append(_row(str(name), n_core, n_image, both))
            counts.append([[both, n_image - both], [both, n_core - both]])
    return SetDetection(pd.DataFrame(rows), _alike(np.array(counts)))


def _in_both(fractures: pd.DataFrame, sampling: Sampling) -> Mask:
    """Rows that count, in lengths that core and image logged as one."""
    depth, hole = Fractures(fractures).depth_m, fractures["hole"].to_numpy()
    inside = np.zeros(len(fractures), dtype=bool)
    for one in sampling.lengths:
        if one.method == BOTH:
            inside |= (hole == one.line) & one.holds(depth)
    return inside & ~Fractures(fractures).has(Status.OTHER_METHOD, Status.NOT_INCLUDED)


def _labels(fractures: pd.DataFrame, own: pd.DataFrame) -> Array:
    """Set of each row; of a pair, that of the row that is used."""
    label = own["set"].to_numpy(dtype=object).copy()
    gone = (own["status"] == Status.PAIRED).to_numpy()
    other = own["pair_row"].to_numpy(float)[gone].astype(int) - FIRST_ROW
    label[gone] = fractures["set"].to_numpy(dtype=object)[other]
    return label


def _row(name: str, n_core: int, n_image: int, both: int) -> dict[str, object]:
    found = detection_rates(n_core, n_image, both)
    core, image = both / n_image, both / n_core
    return {
        "set": name,
        "n_core": n_core,
        "n_image": n_image,
        "n_both": both,
        "core_rate": core,
        "core_low": found.first_interval[0],
        "core_high": found.first_interval[1],
        "image_rate": image,
        "image_low": found.second_interval[0],
        "image_high": found.second_interval[1],
        "together": 1.0 - (1.0 - core) * (1.0 - image),
    }


def _alike(counts: Array) -> float:
    """Smaller of two Holm-adjusted p-values of equal shares, of (K, 2, 2): image rows, core rows."""
    if len(counts) < 2:
        return 1.0
    found = []
    for j in (0, 1):
        table = counts[:, j]
        some = table.sum(axis=0).all()
        found.append(float(chi2_contingency(table, correction=False).pvalue) if some else 1.0)
    return float(min(holm(found)))
