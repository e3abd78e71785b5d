"""A hole out of line with the others: which fault of reading would bring it into line?

The sets of all other holes are fitted without it. Its fractures are then set against them as they
are, and as they would be had β been read 180° off or the other way round, or had the azimuth of the
hole been wrong by an angle. Intensities are free in the hole, so only orientation counts.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from jointstats.fit.block_fits import BlockFits, fit_blocks, group_values
from jointstats.fit.grouped import GroupedPoles
from jointstats.fit.likelihood import RoundSets
from jointstats.results import Result
from jointstats.sphere.angles import turn_in_azimuth
from jointstats.types import Array

#: What is tried, and how it is told.
CAUSES = {
    "beta_180": "β turned by 180° (or the high side taken for the low as reference line)",
    "beta_mirrored": "β counted the other way round",
    "azimuth": "the azimuth of the hole, or of its readings, is logged {off_deg:.0f}° too {way}",
}
#: Gain of log likelihood, less the cost of what was estimated, from which a cause is named: in
#: simulated rock without faults one site in a hundred reaches it.
_NAMED = 7.0
#: ΔBIC by which sets of its own must describe a hole better than a fault does, to be preferred.
_OWN_SETS = 10.0
#: Two causes, or two holes, whose gains lie nearer than this are not told apart.
_ALIKE = 3.0
_COARSE = np.arange(-180.0, 180.0, 3.0)
_FINE = np.arange(-3.0, 3.01, 0.25)
_ENOUGH = 200  # readings, of which the rough angle is found
_FEWEST = 8  # readings of a hole, below which no cause is looked for


class FaultyHole(Result):
    """A hole out of line, and what would bring it into line.

    Attributes
    ----------
    hole : int
    cause : str
        Key of `CAUSES`.
    turn_deg, turn_error_deg : float or None
        Azimuth to be added to the hole's, with its standard error.
    gain : float
        Log likelihood gained by the cause.
    delta_bic : float
        Change of the information criterion by it: negative where it is the better description.
    gains : dict of str to float
        Log likelihood gained by each cause tried on this hole.
    also : tuple of (int, str)
        Other holes and causes that explain as much: they are not told apart.
    """

    hole: int
    cause: str
    turn_deg: float | None
    turn_error_deg: float | None
    gain: float
    delta_bic: float
    gains: dict[str, float]
    also: tuple[tuple[int, str], ...] = ()

    @property
    def told(self) -> str:
        """The cause in words."""
        turn = self.turn_deg or 0.0
        way = "small" if turn > 0 else "large"
        return CAUSES[self.cause].format(off_deg=abs(turn), way=way)


def find_faults(
    data: GroupedPoles,
    hole: NDArray[np.intp],
    start: RoundSets,
    lines: Array,
    beta_read: NDArray[np.bool_],
) -> tuple[tuple[FaultyHole, ...], GroupedPoles]:
    """Holes out of line with their likely causes, the surest first, and the poles put right.

    `hole` (G,) is the number of each group's hole, `lines` (n, 3) the hole's direction at each
    fracture, and `beta_read` (n,) says which were read by β. At most half of the holes are named.
    """
    found: list[FaultyHole] = []
    number = int(hole.max()) + 1
    while number > 1 and len(found) < max(number // 2, 1):
        whole, single = data.taken_together(hole), np.eye(number, dtype=bool)
        # Each hole is judged by sets that it had no part in, and held against sets of its own.
        fits = fit_blocks(whole, np.vstack([~single, single]), start)
        left = [g for g in range(number) if g not in {one.hole for one in found}]
        tried = [one for g in left for one in _tried(whole, fits, g, lines, beta_read)]
        best = max(tried, key=_worth, default=None)
        if best is None or _worth(best) < _NAMED or not _in_line(whole, fits, best):
            break
        also = tuple(
            (one.hole, one.cause)
            for one in tried
            if one is not best and _worth(one) > max(_worth(best) - _ALIKE, _NAMED)
        )
        found.append(replace(best, also=also))
        data, lines = _put_right(data, hole == best.hole, best, lines, beta_read)
        start = fits.parameters(best.hole)
    return tuple(found), data


def _worth(fault: FaultyHole) -> float:
    return -0.5 * fault.delta_bic


def _in_line(data: GroupedPoles, fits: BlockFits, fault: FaultyHole) -> bool:
    """Whether the cause explains the hole about as well as sets of its own would."""
    alone = data.n_groups + fault.hole
    cost = 3.0 * fits.present[alone].sum() * np.log(len(data.poles))
    own = 2.0 * (float(fits.log_likelihood[alone]) - fault.gains["as it is"])
    return own - cost <= _OWN_SETS - fault.delta_bic


def _tried(
    data: GroupedPoles, fits: BlockFits, g: int, lines: Array, beta_read: NDArray[np.bool_]
) -> list[FaultyHole]:
    own = data.group == g
    if own.sum() < _FEWEST:
        return []
    rock = fits.parameters(g)
    mine, line, read = data.only([g]), lines[own], beta_read[own]
    poles = mine.poles
    as_it_is = _value(mine, rock, poles[np.newaxis], np.zeros(1))[0]
    causes: dict[str, tuple[float, float | None, float | None]] = {}
    if read.sum() >= _FEWEST:
        for name, changed in (("beta_180", _half_turn), ("beta_mirrored", _mirrored)):
            other = np.where(read[:, np.newaxis], changed(poles, line), poles)
            value = _value(mine, rock, other[np.newaxis], np.zeros(1))[0]
            causes[name] = float(value - as_it_is), None, None
    turn, error, value = _best_turn(mine, rock)
    causes["azimuth"] = value - as_it_is, turn, error
    gains = {name: one[0] for name, one in causes.items()} | {"as it is": float(as_it_is)}
    penalty = np.log(len(data.poles))
    return [
        FaultyHole(
            hole=g,
            cause=name,
            turn_deg=turn,
            turn_error_deg=error,
            gain=gain,
            delta_bic=(penalty if turn is not None else 0.0) - 2.0 * gain,
            gains=gains,
        )
        for name, (gain, turn, error) in causes.items()
    ]


def _half_turn(poles: Array, lines: Array) -> Array:
    """Poles as they are with β 180° on: turned half round about the hole."""
    return 2.0 * (poles * lines).sum(axis=1, keepdims=True) * lines - poles


def _mirrored(poles: Array, lines: Array) -> Array:
    """Poles as they are with −β, counted from the low or high side, or north in a plumb hole."""
    across = np.cross(lines, [0.0, 0.0, 1.0])
    plumb = np.linalg.norm(across, axis=1) < np.sin(np.radians(1.0))
    across[plumb] = np.cross(lines[plumb], [0.0, 1.0, 0.0])
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    return poles - 2.0 * (poles * across).sum(axis=1, keepdims=True) * across


def _best_turn(hole: GroupedPoles, rock: RoundSets) -> tuple[float, float, float]:
    """Angle to add to azimuths, its standard error, and the log likelihood there."""

    def values(angles: Array, rows: Array) -> Array:
        turned = np.array([rows @ turn_in_azimuth(float(one)).T for one in angles])
        return _value(hole, rock, turned, angles)

    poles = hole.poles
    coarse = float(_COARSE[int(np.argmax(values(_COARSE, poles[:: 1 + len(poles) // _ENOUGH])))])
    angles = coarse + _FINE
    fine = values(angles, poles)
    top = int(np.clip(np.argmax(fine), 2, len(fine) - 3))
    step = _FINE[1] - _FINE[0]
    # The curvature of the log likelihood at its top is one over the variance of the angle.
    bend = (fine[top - 2] - 2.0 * fine[top] + fine[top + 2]) / (2.0 * step) ** 2
    error = float(1.0 / np.sqrt(max(-bend, 1e-6)))
    turn = (float(angles[top]) + 180.0) % 360.0 - 180.0
    return turn, error, float(fine.max())


def _value(hole: GroupedPoles, rock: RoundSets, poles: Array, turns: Array) -> Array:
    """Log likelihood of one hole's poles (m, n, 3) among given sets, its intensities free, (m,)."""
    variant = np.repeat(np.arange(len(poles)), poles.shape[1])
    return group_values(poles.reshape(-1, 3), variant, rock, _exposures(hole, rock, turns))


def _exposures(hole: GroupedPoles, rock: RoundSets, turns: Array) -> Array:
    """Exposure of a hole to each component, its azimuth turned by each angle, (m, K + 1)."""
    met = np.empty((len(turns), len(rock.kappas) + 1))
    met[:, -1] = hole.of_uniform()[0]
    # To turn the hole one way is to turn the sets the other way.
    means = np.concatenate([rock.means @ turn_in_azimuth(-float(one)).T for one in turns])
    kappas = np.tile(rock.kappas, len(turns))
    met[:, :-1] = hole.of_sets(means, kappas)[0].reshape(len(turns), -1)
    return met


def _put_right(
    data: GroupedPoles,
    groups: NDArray[np.bool_],
    fault: FaultyHole,
    lines: Array,
    beta_read: NDArray[np.bool_],
) -> tuple[GroupedPoles, Array]:
    own = groups[data.group]
    if fault.cause == "azimuth":
        matrix = turn_in_azimuth(fault.turn_deg or 0.0)
        moved = np.where(own[:, np.newaxis], lines @ matrix.T, lines)
        return data.turned(groups, matrix), moved
    change = _half_turn if fault.cause == "beta_180" else _mirrored
    changed = np.where((own & beta_read)[:, np.newaxis], change(data.poles, lines), data.poles)
    return replace(data, poles=changed), lines
