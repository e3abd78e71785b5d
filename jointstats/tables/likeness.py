"""Names that are nearly those that were looked for."""

from __future__ import annotations

from difflib import get_close_matches

__all__ = ["nearest"]


def nearest(name: str, found: object) -> str:
    """A clause that names the most similar of the names found; empty if none is similar.

    Parameters
    ----------
    name : str
        What was looked for.
    found : iterable of str
        What there is.

    Returns
    -------
    str

    Examples
    --------
    >>> nearest("dip_deg", ["dipp", "remark"])
    "; the nearest there is 'dipp'"
    """
    names = sorted(str(one) for one in found)  # type: ignore[attr-defined]
    lowered = {one.lower(): one for one in reversed(names)}
    close = get_close_matches(name.lower(), sorted(lowered), n=1, cutoff=0.5)
    return f"; the nearest there is {lowered[close[0]]!r}" if close else ""
