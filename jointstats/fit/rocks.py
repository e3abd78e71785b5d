"""Rocks that the data leave possible: each a rock whose sets bear the names of the analysis."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, overload

import numpy as np

from jointstats.errors import InputError
from jointstats.fit.rock import Rock, RockSet
from jointstats.sphere.set_density import SetDensity
from jointstats.sphere.set_shapes import (
    EllipticalDensity,
    GirdleDensity,
    HeavyTailedDensity,
    RoundDensity,
)

__all__ = ["HasRocks", "NamedRock", "Rocks"]

_KINDS: tuple[type[SetDensity], ...] = (
    RoundDensity,
    EllipticalDensity,
    GirdleDensity,
    HeavyTailedDensity,
)
#: What a record holds of each set of a rock: p and q are the first rows of its frame.
RECORD_COLUMNS = (
    "set shape p32_per_m concentration ellipticity p_east p_north p_up q_east q_north q_up".split()
)


@dataclass(frozen=True)
class NamedRock(Rock):
    """A rock whose sets have names.

    Parameters
    ----------
    sets, background_per_m
        As for `Rock`.
    names : tuple of str
        One a set: that of the set of the analysis that holds the same fractures, or "other 1",
        "other 2", … where a reading of the rock has a set that the first reading has not.

    Examples
    --------
    >>> level = Rock.of_round([[0, 0, -1]], [40.0], [2.0]).sets
    >>> rock = NamedRock(level, 0.1, ("J1",))
    >>> rock.find("J1").p32_per_m, rock.find("J2")
    (2.0, None)
    """

    names: tuple[str, ...] = ()

    def find(self, name: str) -> RockSet | None:
        """The set of a name; None where this rock has it not."""
        return self.sets[self.names.index(name)] if name in self.names else None


@dataclass(frozen=True, eq=False)
class Rocks(Sequence[NamedRock]):
    """Rocks drawn from the posterior of an analysis; a sequence, each as probable as any other.

    Attributes
    ----------
    drawn : tuple of NamedRock
    centre : NamedRock
        The rock as estimated.
    confidence : float
        Level of intervals made of the rocks, unless another is asked for.

    Examples
    --------
    >>> import jointstats as js
    >>> js.analyse(js.simulate_site(random_state=1)).draws(200)
    Rocks(200 drawn, sets J1, J2, J3)
    """

    drawn: tuple[NamedRock, ...]
    centre: NamedRock
    confidence: float

    def __len__(self) -> int:
        return len(self.drawn)

    @overload
    def __getitem__(self, at: int) -> NamedRock: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[NamedRock, ...]: ...
    def __getitem__(self, at: int | slice) -> NamedRock | tuple[NamedRock, ...]:
        return self.drawn[at]

    def __iter__(self) -> Iterator[NamedRock]:
        return iter(self.drawn)

    def to_record(self) -> dict[str, Any]:
        """The rocks in plain types: a row a set, named by `columns`, and each rock's background."""
        return {
            "columns": list(RECORD_COLUMNS),
            "centre": _rows(self.centre),
            "drawn": [_rows(one) for one in self],
            "centre_background_per_m": self.centre.background_per_m,
            "drawn_background_per_m": [one.background_per_m for one in self],
        }

    @classmethod
    def of_record(cls, record: Mapping[str, Any], confidence: float) -> Rocks:
        """The rocks that `to_record` wrote, to its digits."""
        if list(record["columns"]) != list(RECORD_COLUMNS):
            raise InputError(f"columns of rocks must be {', '.join(RECORD_COLUMNS)}")
        if len(record["drawn"]) != len(record["drawn_background_per_m"]):
            raise InputError("each drawn rock must have one background")
        pairs = zip(record["drawn"], record["drawn_background_per_m"], strict=True)
        drawn = tuple(_rock_of(*pair) for pair in pairs)
        return cls(drawn, _rock_of(record["centre"], record["centre_background_per_m"]), confidence)

    def __repr__(self) -> str:
        names = ", ".join(self.centre.names) or "none"
        return f"Rocks({len(self)} drawn, sets {names})"


class HasRocks(Protocol):
    """A result that can draw rocks."""

    @property
    def rock(self) -> Rock:
        """The fitted rock."""

    def draws(self, n_rocks: int = ..., random_state: int = ...) -> Rocks:
        """Rocks from the posterior."""


def _rows(rock: NamedRock) -> list[list[str | float]]:
    return [
        [name, d.shape, p32, d.concentration, d.ellipticity, *d.frame[:2].ravel().tolist()]
        for name, (d, p32) in zip(rock.names, rock.sets, strict=True)
    ]


def _rock_of(rows: Sequence[Sequence[Any]], background: float) -> NamedRock:
    kinds = {kind.shape: kind for kind in _KINDS}
    sets, names = [], []
    for row in rows:
        if len(row) != len(RECORD_COLUMNS) or row[1] not in kinds:
            raise InputError(f"a set of a rock has {', '.join(RECORD_COLUMNS)}; got {str(row)[:100]}")
        name, shape, p32, concentration, ellipticity, *axes = row
        p, q = np.reshape(np.array(axes, dtype=np.float64), (2, 3))
        q = q - (q @ p) * p  # square to p beyond the digits written
        # The third axis follows from two.
        density = kinds[shape](np.array([p, q, np.cross(p, q)]), concentration, ellipticity)
        sets.append(RockSet(density, float(p32)))
        names.append(str(name))
    return NamedRock(tuple(sets), float(background), tuple(names))
