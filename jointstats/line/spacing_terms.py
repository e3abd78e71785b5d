"""The terms of the ISRM for spacing."""

from __future__ import annotations

from bisect import bisect_right

from jointstats.checks import check_number

#: Class edges in metres (ISRM 1978, in Brady & Brown, Rock Mechanics for Underground Mining, p. 54).
SPACING_EDGES_M = (0.02, 0.06, 0.2, 0.6, 2.0, 6.0)
SPACING_TERMS = (
    "extremely close",
    "very close",
    "close",
    "moderate",
    "wide",
    "very wide",
    "extremely wide",
)


def spacing_term(spacing_m: float) -> str:
    """Term of the ISRM for a spacing.

    Parameters
    ----------
    spacing_m : float
        Spacing in metres, zero or more. The source gives no rule for a value at a class edge;
        here it belongs to the wider class.

    Returns
    -------
    str
        "extremely close" (below 20 mm), "very close" (60), "close" (200), "moderate" (600),
        "wide" (2 m), "very wide" (6 m) or "extremely wide".

    Raises
    ------
    InputError
        If the spacing is not a number, not finite or negative.

    References
    ----------
    ISRM (1978), Suggested methods for the quantitative description of discontinuities in rock
    masses, in Brady & Brown, Rock Mechanics for Underground Mining, p. 54.

    Examples
    --------
    >>> spacing_term(0.3), spacing_term(0.6)
    ('moderate', 'wide')
    """
    spacing = check_number(spacing_m, "spacing_m", low=0)
    return SPACING_TERMS[bisect_right(SPACING_EDGES_M, spacing)]
