"""The readings of the rock in words: its sets by their shape, and the odds of each other reading."""

from __future__ import annotations

from collections import Counter
from itertools import combinations
from typing import TYPE_CHECKING

from jointstats import plots
from jointstats.report.figures import picture
from jointstats.report.section import Section, Table
from jointstats.sphere.angles import dip_from_poles, trend_from_lines
from jointstats.sphere.axes import axis_angles_deg, lower_hemisphere
from jointstats.words import listed, number, percent, plane

if TYPE_CHECKING:
    from jointstats.fit.rock import Rock
    from jointstats.sets.fitted import HasSets
    from jointstats.sphere.set_density import SetDensity

_COUNT = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_SHAPES = ("girdle", "elliptical", "round", "heavy-tailed")


def fold_axis(density: SetDensity) -> str:
    """Trend and plunge of the fold axis of a girdle, as 039/3."""
    trend, plunge = trend_from_lines(lower_hemisphere(density.frame[0]))
    return f"{round(float(trend[0])) % 360:03d}/{plunge[0]:.0f}"


def rock_words(rock: Rock) -> str:
    """What a rock is made of, by the shape of its sets.

    >>> from jointstats.fit.rock import Rock, RockSet
    >>> from jointstats.sphere.set_shapes import RoundDensity
    >>> one, two = (RockSet(RoundDensity.about(axis, 40.0), 1.0) for axis in ([0, 0, -1], [1, 0, 0]))
    >>> rock_words(Rock((one, two), 0.1))
    'two round sets, 90° apart'
    """
    numbers = Counter(rock.shapes)
    parts = [
        _one_shape(shape, numbers[shape], [s.density for s in rock.sets if s.density.shape == shape])
        for shape in _SHAPES
        if numbers[shape]
    ]
    means = [one.density.mean for one in rock.sets if one.density.mean is not None]
    if len(rock.sets) == len(means) == 2:
        apart = max(float(axis_angles_deg(a, b)[0]) for a, b in combinations(means, 2))
        return f"{listed(parts)}, {apart:.0f}° apart"
    return listed(parts) if parts else "no set"


def _one_shape(shape: str, n: int, densities: list[SetDensity]) -> str:
    count = _COUNT[n] if n < len(_COUNT) else str(n)
    if shape == "girdle":
        axes = listed([fold_axis(one) for one in densities])
        many = "girdles (folds, axes" if n > 1 else "girdle (a fold, axis"
        return f"{count} {many} {axes})"
    noun = "set" if n == 1 else "sets"
    if shape == "heavy-tailed":
        return f"{count} round {noun} with heavy tails"
    ratios = [f"{one.axial_ratio:.1f}" for one in densities if shape == "elliptical"]
    ratio = f" of axial {'ratio' if n == 1 else 'ratios'} {listed(ratios)}" if ratios else ""
    return f"{count} {shape} {noun}{ratio}"


def reading_sentence(result: HasSets) -> str:
    """The sets by shape, each reading with its probability where there are more; no full stop."""
    told = [rock_words(rock) for _, _, rock in _numbered(result)]
    if len(told) > 1:
        told = [
            f"{said} ({percent(one.probability)})"
            for said, one in zip(told, result.readings, strict=True)
        ]
    text = ", or ".join(told)
    return text[0].upper() + text[1:]


def readings_table(result: HasSets) -> Table | None:
    """The readings with their sets and probabilities; None where there is but one."""
    if len(result.readings) < 2:
        return None
    rows = tuple(
        (place, percent(probability), _each(rock, sampled=result.sampling is not None))
        for place, probability, rock in _numbered(result)
    )
    return Table("Readings of this rock", ("Reading", "Probability", "Its sets"), rows,
                 frozenset({2}))


def _numbered(result: HasSets) -> list[tuple[str, float, Rock]]:
    """Each reading by its place, with its probability and its rock."""
    rocks = [result.rock, *(one.rock for one in result.readings[1:])]
    chances = [one.probability for one in result.readings]
    return list(zip(("shown", "second", "third"), chances, rocks, strict=False))


def section(result: HasSets) -> Section | None:
    """A net for each reading, where there are more than one."""
    if len(result.readings) < 2:
        return None
    return Section(
        "readings",
        "The readings of this rock",
        pictures=tuple(
            picture(
                f"reading-{place}",
                (3.3, 3.3),
                lambda figure: plots.reading_net(result, rock, plots.net_axes(figure)),
                finding=f"Net of the reading {place}: {rock_words(rock)}.",
                caption=f"{place.capitalize()}, probability {percent(probability)}: "
                f"{rock_words(rock)}.",
            )
            for place, probability, rock in _numbered(result)
        ),
        notes=("The same poles under each reading. Curves round the poles: what holds 95 % of a set; "
               "great circles: mean planes, or girdles. Every other figure of this page is of the "
               "reading shown.",),
        layout="row",
        wide=True,
    )


def _each(rock: Rock, *, sampled: bool) -> str:
    """The sets of a rock, numbered as on its net where there are more than one, with their amounts."""
    total = rock.background_per_m + sum(one.p32_per_m for one in rock.sets)
    amounts = [
        f"P32 {number(one.p32_per_m, 2)}" if sampled else percent(one.p32_per_m / total)
        for one in rock.sets
    ]
    told = [
        f"{_where(one.density)}, {amount}" for one, amount in zip(rock.sets, amounts, strict=True)
    ]
    if len(told) < 2:
        return "".join(told)
    return "; ".join(f"{place}: {said}" for place, said in enumerate(told, start=1))


def _where(density: SetDensity) -> str:
    if density.mean is None:
        return f"girdle, fold axis {fold_axis(density)}"
    dip, direction = dip_from_poles(density.mean)
    shape = density.shape
    if shape == "elliptical":
        shape += f" of axial ratio {density.axial_ratio:.1f}"
    return f"{shape}, {plane(float(dip[0]), float(direction[0]))}"
