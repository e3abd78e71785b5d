"""Mean length of the traces of a face, of which the window cuts off the ends."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.special import stdtrit

from jointstats.checks import as_numbers, check_confidence
from jointstats.errors import InputError
from jointstats.faces.face import Face
from jointstats.results import Result
from jointstats.sphere.axes import as_axes
from jointstats.types import Array, ArrayLike, Interval

#: How many ends of a trace are seen, by the word for it.
ENDS = {"none": 0, "one": 1, "both": 2}
#: Ends seen below which the window is too small for a mean, and the share of all ends.
FEWEST_ENDS, LEAST_SHARE = 10, 0.25


class TraceLength(Result):
    """Mean length of whole traces, estimated from what a window shows.

    Attributes
    ----------
    n_both, n_one, n_none : int
        Traces of which both ends, one or none are seen.
    mean_m : float
        Mean length, metres: twice the length seen over the number of ends seen; inf if none is.
    mean_interval : (float, float)
        Its interval, metres; the upper end inf where the ends seen are too few.
    pahl_m : float
        By the counts alone, metres; nan where the window is not convex, inf where no end is seen.
    observed_m : float
        Plain mean of the lengths in the window, which is too short, metres.
    confidence : float
    caution : str
        Why the mean may be wrong, or empty.

    Examples
    --------
    >>> face = Face.rectangle("F1", 90, 0, 10, 5)
    >>> mean_trace_length(face, [4.0, 2.0], ["one", "both"], [[0, 0, 1], [0, 0, 1]]).mean_m
    4.0
    """

    _SHORT = "mean {mean_m:.2g} m, {mean_interval[0]:.2g} to {mean_interval[1]:.2g}, {n_none} with no end seen"

    n_both: int
    n_one: int
    n_none: int
    mean_m: float
    mean_interval: Interval
    pahl_m: float
    observed_m: float
    confidence: float
    caution: str


def mean_trace_length(
    face: Face,
    length_m: ArrayLike,
    ends_seen: Sequence[str],
    poles: ArrayLike,
    *,
    confidence: float = 0.95,
) -> TraceLength:
    """Mean length of traces, what the window cuts off taken in.

    Parameters
    ----------
    face : Face
    length_m : array_like, shape (n,)
        Length of each trace inside the window, metres.
    ends_seen : sequence of "both", "one" or "none"
        How many ends of each lie in the window.
    poles : array_like, shape (n, 3)
        Pole of the fracture of each, either end.
    confidence : float

    Returns
    -------
    TraceLength

    Raises
    ------
    InputError
        If there is no trace, arrays differ in length, or a word is another.

    Notes
    -----
    Traces of mean length μ, their middles at random with ρ a unit of area, show a length of ρ μ a
    unit of area and 2 ρ ends, whatever the law of length and the shape of the window; so μ is twice the
    length seen over the ends seen (Mauldon 1998, Int. J. Rock Mech. Min. Sci. 35:1201–1216, from memory).
    For lengths of an exponential law it is the estimate of survival analysis, length over ends. In
    a convex window of breadth b square to the traces the ends not seen number 2 ρ μ b / A times the area, which
    gives Pahl's estimate by counts (Pahl 1981, Int. J. Rock Mech. Min. Sci. 18:221–228, from memory; here with
    a breadth for each trace). Traces too short to be mapped make both too long.

    Examples
    --------
    >>> face = Face.rectangle("F1", 90, 0, 10, 5)
    >>> level = [[0, 0, 1]] * 4
    >>> found = mean_trace_length(face, [1, 2, 3, 10], ["both", "both", "one", "none"], level)
    >>> found.mean_m, round(found.pahl_m, 6), found.n_none
    (6.4, 6.0, 1)
    """
    lengths = as_numbers(length_m, "length_m", low=0.0, min_n=1)
    unknown = [word for word in ends_seen if word not in ENDS]
    if unknown:
        raise InputError(f"ends_seen must be one of {', '.join(ENDS)}; got {unknown[0]!r}")
    ends = np.array([ENDS[word] for word in ends_seen], dtype=float)
    normals = as_axes(poles, "poles")
    if not len(lengths) == len(ends) == len(normals):
        raise InputError(
            "length_m, ends_seen and poles must have a row a trace; "
            f"got {len(lengths)}, {len(ends)} and {len(normals)}"
        )
    n, number = len(lengths), ends.sum()
    mean = 2.0 * float(lengths.sum() / number) if number else np.inf
    return TraceLength(
        n_both=int((ends == 2).sum()),
        n_one=int((ends == 1).sum()),
        n_none=int((ends == 0).sum()),
        mean_m=mean,
        mean_interval=_limits(lengths, ends, check_confidence(confidence)),
        pahl_m=_by_counts(face, ends, normals),
        observed_m=float(lengths.mean()),
        confidence=confidence,
        caution=_caution(n, int(number)),
    )


def _by_counts(face: Face, ends: Array, normals: Array) -> float:
    """Pahl's estimate: ends not seen by breadth, over ends seen by area."""
    if not face.is_convex:
        return float("nan")
    breadths = face.breadths_m(face.trace_lines(normals))
    seen = ends.sum() / face.area_m2
    return float(((2.0 - ends) / breadths).sum() / seen) if seen else float("inf")


def _limits(lengths: Array, ends: Array, confidence: float) -> Interval:
    """Limits of the ratio of two sums over a Poisson number of traces, on the scale of logarithms."""
    n, number = len(lengths), ends.sum()
    if number < 2 or n < 3:
        return 0.0, np.inf
    mean = 2.0 * lengths.sum() / number
    error = np.sqrt(((lengths - 0.5 * mean * ends) ** 2).sum()) / lengths.sum()
    reach = float(stdtrit(n - 1, 0.5 * (1.0 + confidence))) * error
    return float(mean * np.exp(-reach)), float(mean * np.exp(reach))


def _caution(n: int, number: int) -> str:
    if number >= max(FEWEST_ENDS, LEAST_SHARE * 2 * n):
        return ""
    return (
        f"{number} of {2 * n} ends of traces are seen: the window is small for traces so long, and "
        "their mean length is hardly known."
    )
