"""P32 from the length of traces on a face: no sizes of fractures are needed."""

from __future__ import annotations

import numpy as np
from scipy.special import gammaincinv

from jointstats.checks import as_numbers, check_confidence, check_number
from jointstats.errors import InputError
from jointstats.faces.face import Face
from jointstats.results import Result
from jointstats.sphere.axes import as_axes
from jointstats.types import Array, ArrayLike, Interval


class FaceIntensity(Result):
    """P32 of a set from its traces on a face.

    Attributes
    ----------
    n : float
        Traces that count, by memberships.
    length_m : float
        Their length in the window, metres.
    p32_per_m : float
        1/m.
    p32_interval : (float, float)
        Its interval in even rock, discs at random; the lower end 0 where no trace counts.
    p21_per_m : float
        Trace length per area, 1/m.
    relative_error : float
        Standard error over the estimate; inf without a trace.
    n_effective : float
        Traces of equal weight that would tell as much.
    confidence : float

    Examples
    --------
    >>> face = Face.rectangle("F1", 90, 0, 10, 5)
    >>> p32_on_face(face, [4.0, 6.0], [[0, 0, 1], [0, 0, 1]])
    FaceIntensity(P32 0.2 /m, 0.023 to 0.73, 2.0 traces)
    """

    _SHORT = "P32 {p32_per_m:.2g} /m, {p32_interval[0]:.2g} to {p32_interval[1]:.2g}, {n:.1f} traces"

    n: float
    length_m: float
    p32_per_m: float
    p32_interval: Interval
    p21_per_m: float
    relative_error: float
    n_effective: float
    confidence: float


def p32_on_face(
    face: Face,
    length_m: ArrayLike,
    poles: ArrayLike,
    *,
    memberships: ArrayLike | None = None,
    blind_angle_deg: float = 0.0,
    seen_share: float = 1.0,
    confidence: float = 0.95,
) -> FaceIntensity:
    """P32 from the traces on a face: each counts by its length over area times sine.

    Parameters
    ----------
    face : Face
    length_m : array_like, shape (n,)
        Length of each trace inside the window, metres.
    poles : array_like, shape (n, 3)
        Pole of the fracture of each, either end.
    memberships : array_like, shape (n,), or None
        Probability that each is of the set, 0 to 1; None counts all in full.
    blind_angle_deg : float
        Traces of planes at less than this to the face are left out, degrees.
    seen_share : float
        Share of the set's fractures that the traces stand for: beyond the blind angle, oriented.
    confidence : float

    Returns
    -------
    FaceIntensity

    Raises
    ------
    InputError
        If arrays differ in length, or an argument is out of range.

    Notes
    -----
    A plane cuts area into length in proportion to the sine of the angle between the two, so that the
    sum of length / (area · sine) has P32 for its mean whatever the sizes (Underwood 1970,
    Quantitative Stereology; from memory). Its variance is estimated by the sum of squared terms: traces of
    discs at random are a Poisson number of independent terms. The interval is that of a gamma law
    with this mean and variance; its upper end counts one more trace of mean squared weight (Fay & Feuer
    1997, Statistics in Medicine 16:791–801, who add the largest; from memory).

    Examples
    --------
    >>> face = Face.rectangle("F1", 90, 0, 10, 5)
    >>> p32_on_face(face, [4.0, 6.0], [[0, 0, 1], [0, 0, 1]]).p32_per_m
    0.2
    """
    lengths = as_numbers(length_m, "length_m", low=0.0)
    normals = as_axes(poles, "poles") if len(lengths) else np.empty((0, 3))
    shares = np.ones(len(lengths)) if memberships is None else as_numbers(memberships, "memberships", low=0.0, high=1.0)
    if not len(lengths) == len(normals) == len(shares):
        raise InputError(
            "length_m, poles and memberships must have a row a trace; "
            f"got {len(lengths)}, {len(normals)} and {len(shares)}"
        )
    blind = float(as_numbers([blind_angle_deg], "blind_angle_deg", low=0.0, high=89.0)[0])
    seen = check_number(seen_share, "seen_share", low=0.0, open_end=True)
    sines = face.sines(normals)
    kept = (sines > np.sin(np.radians(blind))) & (lengths > 0)
    each = lengths[kept] / (face.area_m2 * sines[kept] * seen)
    shares = shares[kept]
    total, variance = float(shares @ each), float(shares @ each**2)
    return FaceIntensity(
        n=float(shares.sum()),
        length_m=float(shares @ lengths[kept]),
        p32_per_m=total,
        p32_interval=_limits(total, variance, float(shares.sum()), face, seen, confidence),
        p21_per_m=float(shares @ lengths[kept]) / face.area_m2,
        relative_error=float(np.sqrt(variance) / total) if total > 0 else np.inf,
        n_effective=total**2 / variance if variance > 0 else 0.0,
        confidence=check_confidence(confidence),
    )


def _limits(
    total: float, variance: float, n: float, face: Face, seen: float, confidence: float
) -> Interval:
    """Gamma limits of a compound Poisson sum."""
    tail = 0.5 * (1.0 - check_confidence(confidence))
    low = 0.0
    if variance > 0:
        low = float(gammaincinv(total**2 / variance, tail)) * variance / total
    # One more trace: of the root mean square weight, or as long as the window is wide if there is none.
    more = np.sqrt(variance / n) if n > 0 and variance > 0 else np.sqrt(face.area_m2) / (face.area_m2 * seen)
    mean, spread = total + more, variance + more**2
    return low, float(gammaincinv(mean**2 / spread, 1.0 - tail)) * spread / mean


def blind_share(face: Face, poles: Array, blind_angle_deg: float) -> float:
    """Share of planes of these poles (n, 3) that lie beyond the blind angle to a face."""
    return float((face.sines(poles) > np.sin(np.radians(blind_angle_deg))).mean())
