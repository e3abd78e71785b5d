"""The decisions of an analysis, to be kept beside the site and replayed."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Literal, NamedTuple

from jointstats.checks import check_choice
from jointstats.errors import InputError
from jointstats.recipe.given_set import GivenSet
from jointstats.schema import DECISIONS
from jointstats.tables.found import bytes_of

__all__ = ["Recipe", "Step", "read_recipe", "recipe_toml"]

#: Most megabytes of decisions; a long file has a thousandth of it.
_MAX_MB = 1.0
#: How many sets each kind of step names.
STEPS = {"remove": 1, "merge": 2, "split": 1}
_CHANGE_NO_SET = ("confidence", "domains", "random_state")
_SETTINGS_OF_GIVEN = ("dip_deg", "dip_direction_deg", "name", "hold", "only")


class Step(NamedTuple):
    """One change of the sets, by the names they had before it.

    Attributes
    ----------
    kind : "remove", "merge" or "split"
    sets : tuple of str

    Examples
    --------
    >>> print(Step("merge", ("J1", "J4")))
    merge J1 and J4
    """

    kind: str
    sets: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.kind} {' and '.join(self.sets)}"


@dataclass(frozen=True)
class Recipe:
    """What the analyst decided; facts are in the site.

    Parameters
    ----------
    n_sets, shape, given, blind_angle_deg, confidence, max_sets, criterion, domains, include, random_state
        As for `analyse`.
    steps : sequence of Step
        Changes of the sets after the fit, in their order.

    Raises
    ------
    InputError
        If a step is of no known kind, or names too few sets or too many.

    Examples
    --------
    >>> recipe = Recipe(n_sets=4, steps=[Step("merge", ("J3", "J4"))])
    >>> recipe.decisions
    ('n sets: 4', 'merge J3 and J4')
    """

    n_sets: int | Literal["auto"] = "auto"
    shape: Literal["auto", "round", "elliptical"] = "auto"
    given: Sequence[GivenSet] = ()
    blind_angle_deg: float | None = None
    confidence: float = 0.95
    max_sets: int = 8
    criterion: Literal["bic", "icl"] = "bic"
    domains: Literal["auto", "none"] = "auto"
    include: Sequence[str] | None = None
    random_state: int | None = 0
    steps: Sequence[Step] = ()

    def __post_init__(self) -> None:
        for name in ("given", "steps"):
            object.__setattr__(self, name, tuple(getattr(self, name)))
        for step in self.steps:
            check_choice(step.kind, "a step", tuple(STEPS))
            if len(set(step.sets)) != STEPS[step.kind]:
                raise InputError(
                    f"{step.kind} takes {STEPS[step.kind]} of the sets; got {', '.join(step.sets)}"
                )

    @property
    def decisions(self) -> tuple[str, ...]:
        """Each decision that can change a set and is not the default, in words."""
        told = [
            f"{name.replace('_', ' ')}: {_told(value)}"
            for name, value in _changed(self).items()
            if name not in ("given", "steps", *_CHANGE_NO_SET)
        ]
        told += [_given_words(one) for one in self.given]
        return (*told, *map(str, self.steps))


def one_recipe(n_sets: int | Literal["auto"] | Recipe, **settings: Any) -> Recipe:
    """The decisions that arguments make: a recipe alone, or a number of sets and other settings."""
    stated = Recipe("auto" if isinstance(n_sets, Recipe) else n_sets, **settings)
    if not isinstance(n_sets, Recipe):
        return stated
    if stated != Recipe():
        raise InputError("a recipe says all settings; change it by dataclasses.replace, and give it alone")
    return n_sets


def _changed(recipe: Recipe) -> dict[str, Any]:
    standard = Recipe()
    values = {one.name: getattr(recipe, one.name) for one in fields(Recipe)}
    return {name: value for name, value in values.items() if value != getattr(standard, name)}


def _told(value: object) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, Sequence):
        return ", ".join(map(str, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def _given_words(one: GivenSet) -> str:
    told = f"given {one.name or 'set'} at {one.dip_deg:g}/{one.dip_direction_deg:g}"
    told += ", held" if one.hold else ""
    for column, values in one.only.items():
        told += f", open to {column} {' or '.join(values)} only"
    return told


def read_recipe(path: str | os.PathLike[str]) -> Recipe:
    """The decisions of an analysis, from an analysis.toml.

    Parameters
    ----------
    path : path
        The file, or the directory of the site that it stands in.

    Returns
    -------
    Recipe

    Raises
    ------
    InputError
        If the file can't be read, or a key or a value of it is not known.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as place:
    ...     file = Path(place) / "analysis.toml"
    ...     _ = file.write_text('n_sets = 3\\n[[steps]]\\nremove = "J3"\\n')
    ...     read_recipe(place).decisions
    ('n sets: 3', 'remove J3')
    """
    file = Path(path)
    file = file / DECISIONS if file.is_dir() else file
    found = _toml(file)
    _check_keys(found, [one.name for one in fields(Recipe)], file.name)
    try:
        return Recipe(
            **{
                **found,
                "given": [_given(one, file.name) for one in _list(found, "given", file.name)],
                "steps": [_step(one, file.name) for one in _list(found, "steps", file.name)],
            }
        )
    except InputError as error:
        raise InputError(f"{file.name}: {error}") from None


def _toml(file: Path) -> dict[str, Any]:
    data = bytes_of(file, _MAX_MB)
    try:
        return tomllib.loads(data.decode("utf-8-sig").replace("\r\n", "\n"))
    except ValueError as error:
        raise InputError(f"{file.name} can't be read: {error}") from None
    except RecursionError:
        raise InputError(f"{file.name} can't be read: it is nested too deep") from None


def _list(found: Mapping[str, Any], key: str, name: str) -> list[Mapping[str, Any]]:
    rows = found.get(key, [])
    if not isinstance(rows, list) or not all(isinstance(one, dict) for one in rows):
        raise InputError(f"{name}: {key} must be written as [[{key}]], one a time")
    return rows


def _check_keys(found: Mapping[str, Any], known: Sequence[str], name: str) -> None:
    for key in found:
        if key not in known:
            close = get_close_matches(key, known, n=1)
            near = f"; the nearest is {close[0]}" if close else f"; it knows {', '.join(known)}"
            raise InputError(f"{name}: the key {key!r} is not known{near}")


def _given(row: Mapping[str, Any], name: str) -> GivenSet:
    _check_keys(row, _SETTINGS_OF_GIVEN, f"{name}, given")
    if not {"dip_deg", "dip_direction_deg"} <= set(row):
        raise InputError(f"{name}: a given set needs dip_deg and dip_direction_deg")
    return GivenSet(**row)


def _step(row: Mapping[str, Any], name: str) -> Step:
    _check_keys(row, tuple(STEPS), f"{name}, steps")
    if len(row) != 1:
        raise InputError(f"{name}: each of [[steps]] is one of {', '.join(STEPS)}; got {len(row)}")
    (kind, sets), = row.items()
    return Step(kind, (sets,) if isinstance(sets, str) else tuple(map(str, sets)))


def recipe_toml(recipe: Recipe) -> str:
    """The text of an analysis.toml that gives the recipe back; defaults are left out.

    Parameters
    ----------
    recipe : Recipe

    Returns
    -------
    str

    Examples
    --------
    >>> print(recipe_toml(Recipe(n_sets=3, steps=[Step("remove", ("J3",))])), end="")
    # Decisions of the analyst; facts are in site.toml.
    n_sets = 3
    <BLANKLINE>
    [[steps]]
    remove = "J3"
    """
    lines = ["# Decisions of the analyst; facts are in site.toml."]
    kept = _changed(recipe)
    given, steps = kept.pop("given", ()), kept.pop("steps", ())
    lines += [f"{name} = {_value(value)}" for name, value in kept.items() if value is not None]
    for one in given:
        lines += ["", "[[given]]"]
        standard = replace(one, name=None, hold=False, only={})
        for key in _SETTINGS_OF_GIVEN:
            value = getattr(one, key)
            if key.startswith("dip") or value != getattr(standard, key):
                lines.append(f"{key} = {_value(value)}")
    for step in steps:
        sets = step.sets[0] if len(step.sets) == 1 else list(step.sets)
        lines += ["", "[[steps]]", f"{step.kind} = {_value(sets)}"]
    return "\n".join(lines) + "\n"


def _value(value: object) -> str:
    """A value as TOML writes it; a JSON string is a TOML string."""
    import json

    if isinstance(value, Mapping):
        parts = ", ".join(f"{json.dumps(str(key))} = {_value(one)}" for key, one in value.items())
        return "{ " + parts + " }"
    if isinstance(value, str | bool | int | float):
        return json.dumps(value, ensure_ascii=False)
    assert isinstance(value, Sequence | set | frozenset)
    return "[" + ", ".join(_value(one) for one in value) + "]"
