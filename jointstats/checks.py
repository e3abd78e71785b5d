"""Checks of arguments that all rooms share."""

from __future__ import annotations

import operator
from collections.abc import Collection

import numpy as np

from jointstats.errors import InputError
from jointstats.types import Array, ArrayLike, RandomState

#: Most characters of a wrong value that an error shows.
_SHOWN = 200


def real_array(values: ArrayLike, name: str, each: str = "") -> Array:
    """Real numbers as a new array; what is masked, complex or text is no number.

    `each` says how they stand, for the error.
    """
    if np.ma.is_masked(values):
        raise InputError(f"{name} has masked values, which would be lost; take them out first")
    try:
        given = np.asarray(values)
        # Only an array of objects can hide text among its numbers.
        mixed = given.dtype.kind == "O" and any(isinstance(one, str) for one in given.flat)
        text = mixed or given.dtype.kind not in "biufO"
        numbers = None if text and given.size else np.array(values, dtype=np.float64)
    except (TypeError, ValueError):
        numbers = None
    if numbers is None:
        shown = repr(values)
        shown = shown if len(shown) <= _SHOWN else f"{shown[:_SHOWN]}…"
        raise InputError(f"{name} must be numbers{each}; got {shown}")
    return numbers


def as_numbers(
    values: ArrayLike,
    name: str,
    *,
    low: float = -np.inf,
    high: float = np.inf,
    open_end: bool = False,
    min_n: int = 0,
) -> Array:
    """Finite numbers from `low` (above it if `open_end`) to `high` as a new array, shape (n,)."""
    numbers = np.atleast_1d(real_array(values, name))
    if numbers.ndim != 1:
        raise InputError(f"{name} must be one-dimensional; got shape {numbers.shape}")
    if len(numbers) < min_n:
        raise InputError(f"{name} needs at least {min_n} values; got {len(numbers)}")
    wrong = ~np.isfinite(numbers) | (numbers <= low if open_end else numbers < low)
    wrong |= numbers > high
    if wrong.any():
        at = int(np.flatnonzero(wrong)[0])
        rule = "be finite"
        if np.isfinite(high):
            rule = f"lie between {low:g} and {high:g}"
        elif np.isfinite(low):
            rule += f" and {'above' if open_end else 'at least'} {low:g}"
        raise InputError(f"{name} must {rule}; value {at} is {numbers[at]:g}")
    return numbers


def check_lengths(first: Array, second: Array, names: str) -> None:
    """Two arrays go together row by row, or one of them has one row."""
    if len(first) != len(second) and 1 not in (len(first), len(second)):
        raise InputError(
            f"{names} must have the same length, or one; got {len(first)} and {len(second)}"
        )


def check_number(value: float, name: str, *, low: float = -np.inf, open_end: bool = False) -> float:
    """One number under the rules of `as_numbers`."""
    numbers = as_numbers(value, name, low=low, open_end=open_end)
    if np.ndim(value) != 0:
        raise InputError(f"{name} must be one number; got shape {np.shape(value)}")
    return float(numbers[0])


def check_count(value: int, name: str, least: int) -> int:
    """A whole number of at least `least`."""
    try:
        number = operator.index(value)
    except TypeError:
        raise InputError(f"{name} must be a whole number; got {value!r}") from None
    if number < least:
        raise InputError(f"{name} must be {least} or more; got {number}")
    return number


def check_confidence(value: float, name: str = "confidence") -> float:
    """A level of confidence, or a share, above 0 and below 1."""
    level = check_number(value, name)
    if not 0 < level < 1:
        raise InputError(f"{name} must lie between 0 and 1, as in 0.95 for 95 %; got {value}")
    return level


def check_interval(from_m: float, to_m: float) -> tuple[float, float]:
    """One interval of depth, metres, the second end beyond the first."""
    low, high = check_number(from_m, "from_m"), check_number(to_m, "to_m")
    if not high > low:
        raise InputError(f"to_m must lie beyond from_m; got {low:g} to {high:g}")
    return low, high


def check_choice(value: str, name: str, choices: Collection[str]) -> str:
    """One of a few words."""
    if value not in choices:
        raise InputError(f"{name} must be one of {', '.join(choices)}; got {value!r}")
    return value


def as_seed(random_state: RandomState) -> int | None:
    """A whole number that a `random_state` stands for; None stays, for a new one each time."""
    if random_state is None or type(random_state) is int and random_state >= 0:
        return random_state
    if isinstance(random_state, np.integer) and random_state >= 0:
        return int(random_state)
    return int(as_generator(random_state).integers(2**32))


def as_random_state(random_state: RandomState) -> np.random.RandomState:
    """The same for libraries that know the older kind of source."""
    if isinstance(random_state, np.random.RandomState):
        return random_state
    if random_state is None:
        return np.random.RandomState()
    try:
        seed = operator.index(random_state)  # type: ignore[arg-type]
    except TypeError:
        seed = int(as_generator(random_state).integers(2**32))
    if not 0 <= seed < 2**32:
        raise InputError(f"random_state must be from 0 to {2**32 - 1}; got {seed}")
    return np.random.RandomState(seed)


def as_generator(random_state: RandomState) -> np.random.Generator:
    """The source of random numbers that a `random_state` stands for; a generator goes on."""
    if isinstance(random_state, np.random.RandomState):
        return np.random.Generator(random_state._bit_generator)
    try:
        return np.random.default_rng(random_state)
    except (TypeError, ValueError):
        raise InputError(
            "random_state must be a whole number, a numpy Generator or RandomState, or None; "
            f"got {random_state!r}"
        ) from None


def is_whole(value: object, least: int) -> bool:
    """Whether a value is a whole number, `least` or more, and no boolean."""
    if not isinstance(value, (int, np.integer)) or isinstance(value, bool):
        return False
    return bool(value >= least)
