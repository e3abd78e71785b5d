"""The share of the fractures logged that have an orientation: by method, hole and stretch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from jointstats.borehole.fractures import Mask
from jointstats.borehole.sampling import SampledLength
from jointstats.observed.shares import pooled_shares
from jointstats.types import Array

#: Fractures of a stretch within which the share is taken as one.
STRETCH = 12


def with_shares(
    lengths: Sequence[SampledLength], hole: Array, depth_m: Array, oriented: Mask
) -> tuple[SampledLength, ...]:
    """The lengths with the share oriented of each; cut into stretches where it varies along a hole.

    `hole`, `depth_m` and `oriented`, shape (n,), are of the fractures that count. A site without
    any orientation has shares of one: there is nothing to fit.
    """
    if not oriented.any() or oriented.all():
        return tuple(lengths)
    found: list[SampledLength] = []
    for method in dict.fromkeys(one.method for one in lengths):
        found += _of_method(
            [one for one in lengths if one.method == method], hole, depth_m, oriented
        )
    place = {name: k for k, name in enumerate(dict.fromkeys(one.line for one in lengths))}
    return tuple(sorted(found, key=lambda one: (place[one.line], one.from_m)))


def _of_method(
    lengths: Sequence[SampledLength], hole: Array, depth: Array, oriented: Mask
) -> list[SampledLength]:
    """Shares of the holes of one method, drawn together, and of the stretches of each."""
    names = list(dict.fromkeys(one.line for one in lengths))
    inside = {
        name: _inside([one for one in lengths if one.line == name], hole, depth) for name in names
    }
    found = [np.count_nonzero(oriented[inside[name]]) for name in names]
    shares = pooled_shares(found, [np.count_nonzero(inside[name]) for name in names]).shares
    return [
        part
        for name, share in zip(names, shares, strict=True)
        for part in _of_hole(
            [one for one in lengths if one.line == name],
            depth[inside[name]],
            oriented[inside[name]],
            float(share),
        )
    ]


def _inside(lengths: Sequence[SampledLength], hole: Array, depth: Array) -> Mask:
    own = np.zeros(len(hole), dtype=bool)
    for one in lengths:
        own |= (hole == one.line) & one.holds(depth)
    return own


def _of_hole(
    lengths: Sequence[SampledLength], depth: Array, oriented: Mask, share: float
) -> list[SampledLength]:
    """Lengths of one hole and method, cut into stretches if the share differs between those."""
    whole = [replace(one, oriented=share) for one in lengths]
    cuts = _cuts(depth)
    if not len(cuts):
        return whole
    place = np.searchsorted(cuts, depth)
    of = np.bincount(place, minlength=len(cuts) + 1)
    by_stretch = pooled_shares(np.bincount(place, oriented, len(cuts) + 1), of)
    if by_stretch.p_alike > 0.5:
        return whole
    edges = np.concatenate([[-np.inf], cuts, [np.inf]])
    parts = [
        replace(one.clip(edges[j], edges[j + 1]), oriented=float(by_stretch.shares[j]))
        for one in lengths
        for j in range(len(edges) - 1)
    ]
    return [part for part in parts if part.length_m > 0]


def _cuts(depth: Array) -> Array:
    """Depths, each between two fractures, that part them into stretches of about one number."""
    ordered = np.sort(depth)
    number = len(ordered) // STRETCH
    after = np.round(np.arange(1, number) * len(ordered) / max(number, 1)).astype(int)
    between = 0.5 * (ordered[after - 1] + ordered[after])
    return np.unique(between[ordered[after] > ordered[after - 1]])
