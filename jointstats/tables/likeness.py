"""Names that are nearly those that were looked for."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

__all__ = ["nearest"]


def nearest(name: str, found: Iterable[object], where: str = "there") -> str:
    """A clause that names the most similar of the names found; empty if none is similar.

    Examples
    --------
    >>> nearest("dip_deg", ["dipp", "remark"])
    "; the nearest there is 'dipp'"
    """
    names = sorted(str(one) for one in found)
    lowered = {one.lower(): one for one in reversed(names)}
    close = get_close_matches(name.lower(), sorted(lowered), n=1, cutoff=0.5)
    return f"; the nearest {where} is {lowered[close[0]]!r}" if close else ""
