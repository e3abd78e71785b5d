"""What each mapped face gives beside the holes: P32 of each set, and whether the two agree."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.special import log_softmax, ndtr, ndtri

from jointstats.borehole.fractures import UNASSIGNED
from jointstats.borehole.site import Site
from jointstats.faces.intensity import FaceIntensity, blind_share, p32_on_face
from jointstats.faces.site_faces import MappedFace, mapped_faces
from jointstats.faces.trace_length import TraceLength, mean_trace_length
from jointstats.fit.rock import Rock
from jointstats.intervals import holm
from jointstats.results import Result
from jointstats.types import Array, Interval
from jointstats.words import p_value, within

#: Traces of equal weight below which a face is not held against the holes.
FEWEST_TRACES = 5.0
#: Level of the tests of a face against the holes, all of them together.
DIFFERS = 0.05
_DRAWS, _SEED, _LEAST_SEEN = 4000, 1, 1e-9


class FaceSet(Result):
    """One set on one face, beside the holes.

    Attributes
    ----------
    name : str
        Of the set, or "unassigned": random fractures.
    n : int
        Traces that are most probably of it, beyond the blind angle.
    on_face : FaceIntensity
    holes_per_m : float
        P32 by the holes, 1/m.
    ratio : float
        P32 of the face over that of the holes; nan where either is nothing.
    ratio_interval : (float, float)
        Nothing said of it, (0, inf), where too few traces count.
    pvalue : float
        That both are of one P32, before it is allowed for the number of tests; nan where too few count.

    Examples
    --------
    >>> import jointstats as js
    >>> js.analyse(js.simulate_site(random_state=1)).faces
    ()
    """

    _SHORT = "{name}: {n} traces, ratio {ratio:.2f}"

    name: str
    n: int
    on_face: FaceIntensity
    holes_per_m: float
    ratio: float
    ratio_interval: Interval
    pvalue: float


class FaceBeside(Result):
    """What a face gives beside the holes.

    Attributes
    ----------
    mapped : MappedFace
    n_oriented, n_blind : int
        Traces with an orientation, and those of them below the blind angle to the face.
    sets : tuple of FaceSet
        Those of the fit, random fractures last.
    length : TraceLength or None
        Mean length of the traces that have an orientation; None without one.

    Examples
    --------
    >>> import jointstats as js
    >>> js.analyse(js.simulate_site(random_state=1)).faces
    ()
    """

    mapped: MappedFace
    n_oriented: int
    n_blind: int
    sets: tuple[FaceSet, ...]
    length: TraceLength | None

    @property
    def name(self) -> str:
        """Name of the face."""
        return self.mapped.face.name

    @property
    def caution(self) -> str:
        """Why its mean trace length may be wrong, or empty."""
        return "" if self.length is None else self.length.caution

    def __repr__(self) -> str:
        return f"FaceBeside({self.name}, {len(self.mapped.length_m)} traces)"

    def to_frame(self) -> pd.DataFrame:
        """One row a set: face, set, n, p32_per_m and its ends, the holes' P32, ratio and its ends, pvalue."""
        return pd.DataFrame(
            [
                {
                    "face": self.name,
                    "set": one.name,
                    "n": one.n,
                    "p32_per_m": one.on_face.p32_per_m,
                    "p32_low_per_m": one.on_face.p32_interval[0],
                    "p32_high_per_m": one.on_face.p32_interval[1],
                    "holes_p32_per_m": one.holes_per_m,
                    "ratio": one.ratio,
                    "ratio_low": one.ratio_interval[0],
                    "ratio_high": one.ratio_interval[1],
                    "pvalue": one.pvalue,
                }
                for one in self.sets
            ]
        )


class HolesSay(NamedTuple):
    """What the fit to the holes says: names of sets, their rock as read, intervals, random fractures last."""

    names: tuple[str, ...]
    rock: Rock
    intervals: tuple[Interval, ...]
    blind_angle_deg: float
    confidence: float


def faces_beside(site: Site, holes: HolesSay) -> tuple[FaceBeside, ...]:
    """Every mapped face of a site beside its holes; nothing where none was mapped."""
    return tuple(_beside(holes, one) for one in mapped_faces(site))


def _beside(holes: HolesSay, mapped: MappedFace) -> FaceBeside:
    oriented, blind = mapped.is_oriented, holes.blind_angle_deg
    poles, lengths = mapped.poles[oriented], mapped.length_m[oriented]
    known = float(lengths.sum() / mapped.length_m.sum()) if len(lengths) else 1.0
    shares = _shares(holes.rock, poles)
    beyond = mapped.face.sines(poles) > np.sin(np.radians(blind))
    best = np.bincount(shares[beyond].argmax(axis=1), minlength=shares.shape[1])
    p32 = [*holes.rock.intensities.tolist(), holes.rock.background_per_m]
    sets = []
    for k, name in enumerate((*holes.names, UNASSIGNED)):
        found = p32_on_face(
            mapped.face,
            lengths,
            poles,
            memberships=shares[:, k],
            blind_angle_deg=blind,
            seen_share=max(known * _beyond(holes.rock, k, mapped, blind), _LEAST_SEEN),
            confidence=holes.confidence,
        )
        # Random fractures of the fit are what no set explains, so they are shown and not tested.
        held = holes.intervals[k] if name != UNASSIGNED else (0.0, np.inf)
        sets.append(FaceSet(name, int(best[k]), found, p32[k], *_ratio(found, p32[k], held, holes.confidence)))
    words = [word for word, there in zip(mapped.ends_seen, oriented, strict=True) if there]
    size = None
    if words:
        size = mean_trace_length(mapped.face, lengths, words, poles, confidence=holes.confidence)
    return FaceBeside(mapped, int(oriented.sum()), int((~beyond).sum()), tuple(sets), size)


def _shares(rock: Rock, poles: Array) -> Array:
    """Memberships (n, K + 1) of traces: the sine to the face is the same for every set."""
    if not len(poles):
        return np.empty((0, len(rock.sets) + 1))
    return np.exp(log_softmax(rock.log_rates(poles), axis=1))


def _beyond(rock: Rock, k: int, mapped: MappedFace, blind_angle_deg: float) -> float:
    """Share of a set's fractures beyond the blind angle to a face; the last is of any orientation."""
    if k == len(rock.sets):
        return float(np.cos(np.radians(blind_angle_deg)))
    drawn = rock.densities[k].sample(_DRAWS, np.random.default_rng([_SEED, k]))
    return blind_share(mapped.face, drawn, blind_angle_deg)


def _ratio(
    found: FaceIntensity, p32: float, interval: Interval, confidence: float
) -> tuple[float, Interval, float]:
    """P32 of a face over that of holes, its interval and the p-value of one, on logarithms."""
    if found.n_effective < FEWEST_TRACES or not 0 < interval[0] < interval[1] < np.inf or not p32 > 0:
        return (found.p32_per_m / p32 if p32 > 0 else np.nan), (0.0, np.inf), np.nan
    reach = float(ndtri(0.5 * (1.0 + confidence)))
    of_holes = np.log(interval[1] / interval[0]) / (2.0 * reach)
    error = float(np.hypot(found.relative_error, of_holes))
    ratio = found.p32_per_m / p32
    ends = (ratio * np.exp(-reach * error), ratio * np.exp(reach * error))
    return ratio, ends, float(2.0 * ndtr(-abs(np.log(ratio)) / error))


def adjusted(faces: tuple[FaceBeside, ...]) -> list[Array]:
    """p-values of the sets of each face, allowed for the number of all tests; nan where not tested."""
    raw = np.concatenate([[one.pvalue for one in face.sets] for face in faces])
    tested = np.isfinite(raw)
    raw[tested] = holm(raw[tested])
    return np.split(raw, np.cumsum([len(face.sets) for face in faces])[:-1])


def differing(faces: tuple[FaceBeside, ...]) -> list[tuple[str, str]]:
    """Set, and sentence, where a face has another P32 than the holes beyond chance in even rock."""
    if not faces:
        return []
    return [
        (
            one.name,
            f"On face {face.name} P32 of {one.name} is {one.ratio:.2g} times that of the holes "
            f"({within(one.ratio_interval)}; {p_value(pvalue)}, allowed for the number of tests): the "
            "rock is uneven there, or the face or the holes miss fractures.",
        )
        for face, pvalues in zip(faces, adjusted(faces), strict=True)
        for one, pvalue in zip(face.sets, pvalues, strict=True)
        if pvalue < DIFFERS
    ]
