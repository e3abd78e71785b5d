"""Whether a set is as frequent everywhere in the rock, in words: what the fit of the counts says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.words import number, percent, within

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet

#: A set whose probability of being even is lower than the first is called uneven, with a caution;
#: lower than the second, perhaps uneven. Our own choice, no source.
UNEVEN_BELOW, DOUBTFUL_BELOW = 0.1, 0.5


def evenness_word(one: JointSet) -> str:
    """"uneven", "perhaps uneven", or "even" where the counts are consistent with it."""
    if one.even_probability < UNEVEN_BELOW:
        return "uneven"
    return "perhaps uneven" if one.even_probability < DOUBTFUL_BELOW else "even"


def even_chance(one: JointSet) -> str:
    """The probability that the set is even, in words."""
    shown = one.even_probability
    told = "below 0.1 %" if shown < 0.001 else percent(shown)
    return f"probability of even rock {told}"


def evenness_sentence(one: JointSet) -> str:
    """How even the set is between the holes and along them, and by how much the holes differ."""
    word = {
        "uneven": "uneven between the holes or along them",
        "perhaps uneven": "perhaps uneven between the holes or along them",
        "even": "consistent with an even rock",
    }[evenness_word(one)]
    middle, *limits = one.variation_between_lines
    return (
        f"Counts: {word} ({even_chance(one)}; coefficient of variation between holes "
        f"{number(middle, 2)}, {within((limits[0], limits[1]))})."
    )
