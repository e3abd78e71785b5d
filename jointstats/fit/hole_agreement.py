"""Do the holes see one rock? The test, the domains and the holes out of line, in one answer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.exposure import LineExposure
from jointstats.checks import as_generator
from jointstats.errors import InputError
from jointstats.fit.block_fits import BlockFits, fit_blocks
from jointstats.fit.domains import find_domains
from jointstats.fit.faulty_holes import FaultyHole, find_faults
from jointstats.fit.grouped import GroupedPoles, grouped_poles
from jointstats.fit.likelihood import RoundSets
from jointstats.fit.one_rock import OneRockTest, one_rock_test, shaped_criterion, shaped_test
from jointstats.fit.rock import Rock
from jointstats.results import Result
from jointstats.sphere.axes import as_axes
from jointstats.types import Array, ArrayLike, RandomState

#: Level below which holes are taken to differ, and are searched for faults and domains: with it
#: holes, shapes and unevenness together warn of one even, round, faultless site in twenty.
LEVEL = 0.02
#: ΔBIC from which domains are preferred where the test says nothing against one rock.
_DECISIVE = 6.0


class Stretch(Result):
    """A hole, or a stretch of one in order of depth, with its exposure."""

    hole: str
    from_m: float
    to_m: float
    exposure: LineExposure


class Domain(Result):
    """Rock of one orientation: which lengths see it, and its sets.

    Attributes
    ----------
    name : str
        A, B, … in the order of the holes.
    lengths : tuple of (hole, from_m, to_m)
    groups : tuple of int
        Numbers of its stretches.
    sets : RoundSets
        Sets that are there, with intensities over all its lengths.
    """

    name: str
    lengths: tuple[tuple[str, float, float], ...]
    groups: tuple[int, ...]
    sets: RoundSets


class HoleAgreement(Result):
    """Whether the holes see one rock in orientation, and what to make of it where they don't.

    Attributes
    ----------
    pvalue : float
        Test that they do; small where a set lies differently, or (round sets) is wholly absent,
        somewhere.
    tests : dict of str to OneRockTest
        "holes", and "stretches" where holes were given in several.
    faults : tuple of FaultyHole
        Holes out of line that a fault of reading would bring into line, the surest first.
    pvalue_put_right : float or None
        The same test with the faults put right; None without faults.
    domains : tuple of Domain
        One, or more where the logs ask for it, with the faults put right.
    delta_bic : float
        Of the domains against one rock; 0 where there is one.
    hole_names : tuple of str
    declination_deg : float or None
    """

    pvalue: float
    tests: dict[str, OneRockTest]
    faults: tuple[FaultyHole, ...]
    pvalue_put_right: float | None
    domains: tuple[Domain, ...]
    delta_bic: float
    hole_names: tuple[str, ...]
    declination_deg: float | None

    @property
    def one_rock(self) -> bool:
        """Whether nothing speaks against one rock, read without fault."""
        return self.pvalue > LEVEL and not self.faults and len(self.domains) == 1

    @property
    def sentences(self) -> tuple[str, ...]:
        """What was found, in words."""
        if self.one_rock:
            return (
                f"No difference in orientation was found between the holes (p {self.pvalue:.2g}, "
                f"the limit being {LEVEL:g}).",
            )
        told = []
        if self.pvalue <= LEVEL:
            told.append(f"The holes differ in orientation (p {self.pvalue:.2g}).")
        told += [self._of_fault(one) for one in self.faults]
        if self.pvalue_put_right is not None:
            agree = "agree" if self.pvalue_put_right > LEVEL else "still differ"
            told.append(f"With that put right the holes {agree} (p {self.pvalue_put_right:.2g}).")
        if len(self.domains) > 1:
            parts = "; ".join(f"{one.name}: {lengths_told(one)}" for one in self.domains)
            told.append(
                f"The holes are best described as {len(self.domains)} domains ({parts}), each with "
                f"sets of its own (BIC {-self.delta_bic:.0f} below one rock; 10 is strong evidence)."
            )
        elif not self.faults:
            told.append(
                "The difference is too small, or too spread out, to part them into domains."
            )
        return tuple(told)

    def _of_north(self, fault: FaultyHole) -> str:
        """Which confusion of north an azimuth off by the declination points to."""
        declination, turn, error = self.declination_deg, fault.turn_deg, fault.turn_error_deg
        if declination is None or turn is None or error is None or abs(declination) < 2 * error:
            return ""
        for times, words in _NORTHS.items():
            # Within two standard errors, and told only where the declination itself is larger than that.
            if abs(turn - times * declination) <= 2 * error:
                return f" The angle is that of {words}, the declination being {declination:g}°."
        return ""

    def _of_fault(self, fault: FaultyHole) -> str:
        name = self.hole_names[fault.hole]
        error = (
            "" if fault.turn_error_deg is None else f" (standard error {fault.turn_error_deg:.1f}°)"
        )
        text = (
            f"{name} does not agree with the other holes. Likely cause: {fault.told}{error}; it "
            f"would raise the log likelihood by {fault.gain:.0f} and lower the BIC by "
            f"{-fault.delta_bic:.0f}."
        )
        if fault.also:
            names = ", ".join(
                dict.fromkeys(f"{self.hole_names[h]}, {CAUSE_WORDS[c]}" for h, c in fault.also)
            )
            text += f" Not told apart from it: {names}."
        text += self._of_north(fault)
        return text + " Check the reading before the sets are used."


#: Azimuth to be added, in declinations, and what was done to need it.
_NORTHS = {
    1: "magnetic azimuths taken for true ones",
    -1: "a declination added to azimuths that were true already",
    2: "a declination taken with the wrong sign",
}
#: Short words for a cause beside another.
CAUSE_WORDS = {
    "beta_180": "β turned by 180°",
    "beta_mirrored": "β counted the other way round",
    "azimuth": "azimuth off",
}


def lengths_told(domain: Domain) -> str:
    """Which lengths of which holes a domain has."""
    return ", ".join(f"{hole} {low:g}–{high:g} m" for hole, low, high in domain.lengths)


def hole_agreement(
    poles: ArrayLike,
    group: ArrayLike,
    stretches: Sequence[Stretch],
    sets: RoundSets,
    *,
    lines: ArrayLike | None = None,
    beta_read: ArrayLike | None = None,
    declination_deg: float | None = None,
    shaped: Rock | None = None,
    draws: int = 399,
    random_state: RandomState = 0,
) -> HoleAgreement:
    """Test whether holes see one rock; where they don't, look for faulty holes and for domains.

    `poles` (n, 3), `group` (n,): number of each one's stretch. `stretches`: holes in the order wanted;
    several of one hole, in order of depth, let it be cut. `sets`: round sets of the fit of all
    together. `lines` (n, 3): direction of the hole at each fracture (None: that nearest to the whole
    stretch); `beta_read` (n,): which were read by an angle round the core (None: all);
    `declination_deg`: positive to the east, an azimuth off by it is told so; `shaped`: the sets where
    they are not round, which then say whether holes differ at all (faults and domains are looked for
    by round sets); `draws`: simulated logs behind each p-value.

    Three holes of one rock, the core of the last with β turned by 180°:

    >>> import jointstats as js
    >>> from jointstats.fit.hole_agreement import Stretch, hole_agreement
    >>> site = js.simulate_site(random_state=1)
    >>> table = site.fractures
    >>> poles = js.poles_from_dip(table["dip_deg"], table["dip_direction_deg"])
    >>> group = table["hole"].map({"H1": 0, "H2": 1, "H3": 2}).to_numpy()
    >>> lines = np.array([one.path.direction(0.0)[0] for one in site.holes])
    >>> holes = [
    ...     Stretch(one.name, 0.0, one.length_m, js.LineExposure(line, [one.length_m]))
    ...     for one, line in zip(site.holes, lines)
    ... ]
    >>> exposure = js.LineExposure(lines, [one.length_m for one in site.holes])
    >>> def agreement(poles):
    ...     model = js.JointSetMixture(random_state=0).fit(poles, exposure=exposure)
    ...     sets = RoundSets(
    ...         model.means_, model.kappas_, model.intensities_, model.background_
    ...     )
    ...     return hole_agreement(poles, group, holes, sets)
    >>> agreement(poles).one_rock
    True
    >>> turned = poles.copy()
    >>> own = group == 2
    >>> turned[own] = 2 * (poles[own] @ lines[2])[:, None] * lines[2] - poles[own]
    >>> [(one.hole, one.cause) for one in agreement(turned).faults]
    [(2, 'beta_180')]
    """
    data = grouped_poles(poles, group, [one.exposure for one in stretches])
    names = tuple(dict.fromkeys(one.hole for one in stretches))
    hole = np.array([names.index(one.hole) for one in stretches])
    if (np.diff(hole) < 0).any():
        raise InputError("stretches must come hole by hole, in order of depth")
    along = _lines(data, lines)
    read = np.ones(len(along), bool) if beta_read is None else np.asarray(beta_read, bool)
    generator = as_generator(random_state)
    tests, pvalue = _tests(data, hole, sets, draws, generator)
    if shaped is not None:
        # What round sets take for a difference may be the shape of a set, seen from two sides.
        pvalue = shaped_test(data.taken_together(hole), shaped, draws=draws, generator=generator)
    # Sets that are long may be so because a hole was misread: then round ones with that put right are
    # the better description of both.
    long = shaped if pvalue > LEVEL else None
    faults, right = find_faults(data, hole, sets, along, read)
    if long is not None and not faults:
        return _one_rock(stretches, sets, pvalue, tests, names, declination_deg)
    ways = find_domains(data, hole, sets, keep=10_000)
    as_read = ways[0].bic if long is None else shaped_criterion(data, long) - _DECISIVE
    after = None
    if faults:
        better = _refitted(right, sets).parameters(0)
        other = find_domains(right, hole, better, keep=10_000)
        cost = len(faults) * 2.0 * np.log(3 * len(names)) + np.log(len(data.poles)) * sum(
            one.turn_deg is not None for one in faults
        )
        if other[0].bic + cost < min(as_read, ways[0].bic):
            ways = other
            after = _tests(right, hole, better, draws, generator)[1]
        elif long is None:
            faults = ()
        else:
            return _one_rock(stretches, sets, pvalue, tests, names, declination_deg)
    one = next(way for way in ways if len(way.domains) == 1)
    needed = 0.0 if (pvalue if after is None else after) <= LEVEL else _DECISIVE
    best = ways[0] if ways[0].bic < one.bic - needed else one
    domains = tuple(
        Domain(chr(65 + i), _joined(stretches, groups), groups, own)
        for i, (groups, own) in enumerate(zip(best.domains, best.sets, strict=True))
    )
    return HoleAgreement(pvalue, tests, faults, after, domains, best.bic - one.bic, names, declination_deg)


def _one_rock(
    stretches: Sequence[Stretch],
    sets: RoundSets,
    pvalue: float,
    tests: dict[str, OneRockTest],
    names: tuple[str, ...],
    declination_deg: float | None,
) -> HoleAgreement:
    groups = tuple(range(len(stretches)))
    whole = Domain("A", _joined(stretches, groups), groups, sets)
    return HoleAgreement(pvalue, tests, (), None, (whole,), 0.0, names, declination_deg)


def _lines(data: GroupedPoles, lines: ArrayLike | None) -> Array:
    if lines is not None:
        rows = as_axes(lines, "lines")
        if len(rows) != len(data.poles):
            raise InputError(f"lines must have one row a pole ({len(data.poles)}); got {len(rows)}")
        return rows
    longest = data.directions[data.lengths_m.argmax(axis=1)]
    return longest[data.group]


def _refitted(data: GroupedPoles, sets: RoundSets) -> BlockFits:
    return fit_blocks(data, np.ones((1, data.n_groups), bool), sets)


def _tests(
    data: GroupedPoles,
    hole: NDArray[np.intp],
    sets: RoundSets,
    draws: int,
    generator: np.random.Generator,
) -> tuple[dict[str, OneRockTest], float]:
    """The test between holes and, where they are cut, between stretches; the p-value of both."""
    levels = {"holes": data.taken_together(hole)}
    if data.n_groups > len(np.unique(hole)):
        levels["stretches"] = data
    tests = {
        name: one_rock_test(one, _refitted(one, sets), draws=draws, generator=generator)
        for name, one in levels.items()
        if one.n_groups > 1
    }
    found = [one.pvalue for one in tests.values()]
    return tests, min([1.0, len(found) * min(found)]) if found else 1.0


def _joined(
    stretches: Sequence[Stretch], groups: Sequence[int]
) -> tuple[tuple[str, float, float], ...]:
    """Stretches of one hole that touch, as one length."""
    lengths: list[tuple[str, float, float]] = []
    for one in (stretches[g] for g in groups):
        if lengths and lengths[-1][0] == one.hole and lengths[-1][2] >= one.from_m - 1e-9:
            lengths[-1] = (one.hole, lengths[-1][1], one.to_m)
        else:
            lengths.append((one.hole, one.from_m, one.to_m))
    return tuple(lengths)
