"""Rocks that the data leave possible: each a rock whose sets bear the names of the analysis."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol, overload

from jointstats.fit.rock import Rock, RockSet

__all__ = ["HasRocks", "NamedRock", "Rocks"]


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
