"""Are α and β read in the sense that was stated? Core set against image, or against true dips."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.fractures import Fractures
from jointstats.borehole.frame import poles_in_hole, reference_lines
from jointstats.borehole.orient import hole_directions, orient_fractures
from jointstats.borehole.rotation import run_lines
from jointstats.results import Result
from jointstats.sphere.angles import as_azimuth
from jointstats.sphere.axes import axis_angles_deg
from jointstats.types import Array

if TYPE_CHECKING:
    from jointstats.borehole.site import Site


#: How β may have been read, and the factor and addend that bring it right.
SENSES = {
    "as stated": (1.0, 0.0),
    "half a turn off (upper end of the ellipse, or the opposite reference line)": (1.0, 180.0),
    "counted the other way round (looking up the hole)": (-1.0, 0.0),
    "core turned end for end": (-1.0, 180.0),
}
#: Concentration of the kernel that core and image poles are compared with: about 12° wide.
KERNEL_KAPPA = 25.0
#: Fewest readings that can tell a sense from chance.
FEWEST = 8
#: Lead in mean log score, times the root of the number of readings, that is beyond chance.
CLEAR_LEAD = 3.0
MOST = 600


class SenseCheck(Result):
    """Scores of four ways in which β may have been read.

    Attributes
    ----------
    scores : dict of str to float
        Mean log score of each sense; the highest agrees best.
    best : str
    clear : bool
        The best leads beyond chance.
    n_core, n_other : int
        Core readings, and planes they were set against.
    paired : bool
        The planes are those of the same rows, not of the image log of the same holes.
    sentence : str

    Examples
    --------
    >>> import jointstats as js
    >>> check_core_sense(js.simulate_site(random_state=1)).sentence
    'Too few core readings (0) to check the sense of beta.'
    """

    scores: dict[str, float]
    best: str
    clear: bool
    n_core: int
    n_other: int
    paired: bool
    sentence: str

    def to_frame(self) -> pd.DataFrame:
        """One row a sense."""
        return pd.DataFrame({"sense": list(self.scores), "score": list(self.scores.values())})


def check_core_sense(site: Site) -> SenseCheck:
    """Find out whether α/β readings look mirrored or half a turn off.

    Where rows give a true dip beside α and β, each reading is set against its own plane;
    otherwise the core readings of a hole are set against its image log, as the same structures
    must lie in the same directions.

    Parameters
    ----------
    site : Site

    Returns
    -------
    SenseCheck
        Its sentence names the sense that fits where the stated one does not.

    Examples
    --------
    >>> import jointstats as js
    >>> check_core_sense(js.simulate_site(random_state=1)).clear
    False
    """
    table = site.fractures
    if not {"alpha_deg", "beta_deg"} <= set(table.columns):
        return _nothing(0)
    read = (table["alpha_deg"].notna() & table["beta_deg"].notna()).to_numpy()
    core = read & (site.references(table) != "")
    true = table["dip_deg"].notna().to_numpy() if "dip_deg" in table else np.zeros(len(table), bool)
    paired = core & true
    if paired.sum() >= FEWEST:
        return _judged(site, np.flatnonzero(paired)[:MOST], paired=True)
    core = core & ~true
    if core.sum() < FEWEST:
        return _nothing(int(core.sum()))
    return _judged(site, np.flatnonzero(core)[:MOST], paired=False)


def _nothing(n: int) -> SenseCheck:
    sentence = f"Too few core readings ({n}) to check the sense of beta."
    return SenseCheck(dict.fromkeys(SENSES, 0.0), "as stated", False, n, 0, False, sentence)


def _readings(site: Site, rows: NDArray[np.intp]) -> dict[str, Array]:
    """Poles of core readings under each sense."""
    table = site.fractures.iloc[rows]
    lines = hole_directions(site, table)
    radial = np.empty_like(lines)
    references = site.references(table)
    north = site.settings.bearing_of("fractures")
    for reference in dict.fromkeys(references):
        own = references == reference
        radial[own] = reference_lines(lines[own], reference, north_deg=north)
    alpha, beta = table["alpha_deg"].to_numpy(float), table["beta_deg"].to_numpy(float)
    offset = run_lines(site.tables.get("runs"), table).offset_deg
    return {
        sense: poles_in_hole(alpha, as_azimuth(sign * beta + turn + offset), lines, radial)
        for sense, (sign, turn) in SENSES.items()
    }


def _judged(site: Site, rows: NDArray[np.intp], *, paired: bool) -> SenseCheck:
    oriented = orient_fractures(site)
    holes = oriented["hole"].to_numpy(object)
    found = Fractures(oriented)
    image = (oriented["oriented_from"] != "alpha and beta").to_numpy() & found.is_oriented
    poles = found.poles
    each: dict[str, Array] = {}
    used = np.zeros(len(rows), dtype=bool)
    for sense, read in _readings(site, rows).items():
        if paired:
            angle = np.radians(axis_angles_deg(read, poles[rows]))
            # The floor keeps one pair that is no pair from outweighing all the others.
            each[sense] = np.logaddexp(-KERNEL_KAPPA * (1.0 - np.cos(angle)), np.log(0.05))
            used[:] = True
            continue
        score = np.zeros(len(rows))
        for hole in dict.fromkeys(holes[rows]):
            own = np.flatnonzero(holes[rows] == hole)
            other = poles[image & (holes == hole)][:MOST]
            if len(other) >= FEWEST:
                used[own] = True
                kernel = np.exp(-KERNEL_KAPPA * (1.0 - np.abs(read[own] @ other.T)))
                # The floor keeps one stray reading from deciding.
                score[own] = np.log(kernel.mean(axis=1) + 0.005)
        each[sense] = score
    if used.sum() < FEWEST:
        return _nothing(int(used.sum()))
    n_other = len(rows) if paired else int(image.sum())
    return _verdict({sense: score[used] for sense, score in each.items()}, n_other, paired)


def _verdict(each: dict[str, Array], n_other: int, paired: bool) -> SenseCheck:
    scores = {sense: float(score.mean()) for sense, score in each.items()}
    best = max(scores, key=lambda sense: scores[sense])
    n = len(each[best])
    # Compared reading by reading: what is hard to place under either sense cancels out.
    lead = each[best] - each["as stated"]
    error = lead.std(ddof=1) / np.sqrt(n)
    clear = best != "as stated" and lead.mean() > CLEAR_LEAD * max(error, 1e-12)
    against = "their own true dips" if paired else "the image logs of the same holes"
    if clear:
        sentence = (
            f"The {n} core readings fit {against} much better if beta was {best}: check how it "
            "was read, and state it (columns looking and end_for_end, or the reference line)."
        )
    else:
        sentence = f"The {n} core readings do not contradict {against} in the sense of beta."
    return SenseCheck(scores, best, bool(clear), n, n_other, paired, sentence)
