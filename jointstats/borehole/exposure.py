"""Exposure: how much rock the logged lengths of all holes sampled, for each orientation.

A line along d meets fractures of unit normal n at a rate proportional to |n · d|. Summed over all
logged metres, and leaving out angles below the blind angle ψ,

    E(n) = Σ lengths · |n · d| · 1(|n · d| ≥ sin ψ)        [m]

is the number of fractures met per unit of P32 (fracture area per volume, 1/m). The reciprocal is
Terzaghi's correction (Terzaghi 1965, Sources of error in joint surveys, Géotechnique 15:287-304).
"""

from __future__ import annotations

import numpy as np

from jointstats.checks import as_numbers, check_number, real_array
from jointstats.errors import InputError
from jointstats.sphere.axes import as_axes, hemisphere_grid
from jointstats.sphere.zonal import (
    FisherMeansSlopes,
    fisher_mean_of_hole,
    hole_mean_table,
    met_by_hole,
    uniform_mean_of_hole,
)
from jointstats.types import Array, ArrayLike

#: Largest blind angle, degrees; beyond it the mean over a set loses its digits.
MOST_BLIND_DEG = 89.0


def sine_of_blind_angle(blind_angle_deg: float) -> float:
    """Sine of a checked blind angle: the smallest cosine |n · d| that counts as seen.

    `blind_angle_deg`: smallest trusted angle between hole and plane, degrees, 0 to 89.
    """
    angle = check_number(blind_angle_deg, "blind_angle_deg")
    if not 0 <= angle <= MOST_BLIND_DEG:
        raise InputError(
            f"blind_angle_deg must lie between 0 and {MOST_BLIND_DEG:g}; got {blind_angle_deg}: "
            "beyond that a hole sees next to nothing"
        )
    return float(np.sin(np.radians(angle)))


def terzaghi_weights(
    poles: ArrayLike, hole_directions: ArrayLike, *, blind_angle_deg: float = 10.0
) -> Array:
    """Terzaghi weights of fractures, each for the hole that met it.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of the fractures, either end.
    hole_directions : array_like, shape (n, 3) or (3,)
        Direction of the hole at each fracture, either end.
    blind_angle_deg : float
        Angle ψ between hole and plane below which the weight grows no further, degrees.

    Returns
    -------
    ndarray, shape (n,)
        1 / max(|cos δ|, sin ψ), δ being the angle between pole and hole.

    Raises
    ------
    InputError
        If the arrays are not axes, their lengths differ, or the angle is out of range.

    Examples
    --------
    A plane that dips 60° in a vertical hole stands for two of those that lie level:

    >>> import jointstats as js
    >>> js.terzaghi_weights(js.poles_from_dip([0, 60], [0, 90]), [0, 0, -1]).round(6)
    array([1., 2.])
    """
    normals, lines = as_axes(poles), as_axes(hole_directions, "hole_directions")
    if len(lines) not in (1, len(normals)):
        raise InputError(
            f"hole_directions must have one row, or one a pole ({len(normals)}); got {len(lines)}"
        )
    smallest = sine_of_blind_angle(blind_angle_deg)
    cosine = np.abs((normals * lines).sum(axis=1))
    if smallest == 0 and (cosine == 0).any():
        raise InputError(
            "a pole is square to its hole and the blind angle is 0, so its weight has no bound; "
            "give a blind_angle_deg above 0"
        )
    return 1.0 / np.maximum(cosine, smallest)


class LineExposure:
    """Exposure of straight pieces of logged hole to fractures of each orientation.

    Curved holes are given as many short straight pieces; `merged` gathers pieces of nearly one
    direction, to keep the sums short.

    Parameters
    ----------
    directions : array_like, shape (m, 3)
        Direction of each piece, either end.
    lengths_m : array_like, shape (m,)
        Logged length of each piece in metres, more than zero.
    blind_angle_deg : float
        Smallest angle ψ between hole and plane that is trusted, degrees, 0 up to 90.
    log_error : float
        Standard error of the log of the lengths, where they count by an estimated share.
    girths : array_like, shape (m,), or None
        Radius of the hole over that of the fractures, of each piece: a thick hole meets more than a
        line, `|n · d| + g P/π + g²` per metre. None takes lines.

    Attributes
    ----------
    directions : ndarray, shape (m, 3)
    lengths_m, girths : ndarray, shape (m,)
    total_m : float
        Their sum in metres.
    blind_angle_deg, log_error : float
    smallest_cosine : float
        Sine of the blind angle: at a smaller abs(n · d) a piece is blind.

    Raises
    ------
    InputError
        If there is no piece, a length is not positive, or an argument is out of range.

    Examples
    --------
    Ten metres of vertical hole meet level planes over ten metres, vertical ones not at all:

    >>> import jointstats as js
    >>> hole = js.LineExposure([[0, 0, -1]], [10.0])
    >>> hole.at(js.poles_from_dip([0, 60, 90], 0)).round(6)
    array([10.,  5.,  0.])
    >>> round(hole.of_set([0, 0, -1], kappa=50.0), 3)
    9.8
    """

    def __init__(
        self,
        directions: ArrayLike,
        lengths_m: ArrayLike,
        *,
        blind_angle_deg: float = 10.0,
        log_error: float = 0.0,
        girths: ArrayLike | None = None,
    ) -> None:
        self.directions = as_axes(directions, "directions", min_rows=1)
        lengths = np.atleast_1d(real_array(lengths_m, "lengths_m"))
        if lengths.shape != (len(self.directions),):
            raise InputError(
                f"lengths_m must have one value a direction ({len(self.directions)}); "
                f"got shape {lengths.shape}"
            )
        if not (np.isfinite(lengths).all() and (lengths > 0).all()):
            raise InputError("lengths_m must be finite and more than zero")
        self.lengths_m = lengths
        self.smallest_cosine = sine_of_blind_angle(blind_angle_deg)
        self.blind_angle_deg = float(blind_angle_deg)
        self.total_m = float(lengths.sum())
        self.log_error = check_number(log_error, "log_error", low=0)
        given = np.zeros(len(lengths)) if girths is None else as_numbers(girths, "girths", low=0)
        if given.shape != lengths.shape:
            raise InputError(f"girths must have one value a direction; got {given.shape}")
        self.girths = given

    def __repr__(self) -> str:
        return (
            f"LineExposure({len(self.lengths_m)} pieces, {self.total_m:.4g} m, "
            f"blind angle {self.blind_angle_deg:g}°)"
        )

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, LineExposure):
            return NotImplemented
        return (
            np.array_equal(self.directions, other.directions)
            and np.array_equal(self.lengths_m, other.lengths_m)
            and self.blind_angle_deg == other.blind_angle_deg
            and self.log_error == other.log_error
            and np.array_equal(self.girths, other.girths)
        )

    __hash__ = None  # type: ignore[assignment]  # holds arrays

    def at(self, poles: ArrayLike) -> Array:
        """Exposure of single orientations.

        Parameters
        ----------
        poles : array_like, shape (n, 3)
            Poles, either end.

        Returns
        -------
        ndarray, shape (n,)
            Metres; zero where every piece is blind to the orientation.
        """
        normals = as_axes(poles)
        total = np.zeros(len(normals))
        for direction, length, girth in zip(
            self.directions, self.lengths_m, self.girths, strict=True
        ):
            cosine = np.abs(normals @ direction)
            met = met_by_hole(cosine, girth) if girth else cosine
            # Below the blind angle a pick is not trusted, so the length counts for nothing there: the fractures left out of the
            # fit and the metres left out here are the same.
            total += np.where(cosine >= self.smallest_cosine, length * met, 0.0)
        return total

    def of_set(self, mean: ArrayLike, kappa: float) -> float:
        """Mean exposure over a Fisher set.

        Parameters
        ----------
        mean : array_like, shape (3,)
            Mean pole of the set, either end.
        kappa : float
            Concentration, zero or more.

        Returns
        -------
        float
            Metres; P32 times this is the expected number of fractures.
        """
        pole = as_axes(mean, "mean")[0]
        cosines = self.directions @ pole
        return float(
            self.lengths_m
            @ fisher_mean_of_hole(
                cosines, kappa, self.girths, blind_angle_deg=self.blind_angle_deg
            )
        )

    def of_sets(self, means: Array, kappas: Array) -> Array:
        """Mean exposures of several sets at once, from a table (within 1e-7 of `of_set`).

        Parameters
        ----------
        means : ndarray, shape (K, 3)
            Mean poles, unit rows; not checked.
        kappas : ndarray, shape (K,)
            Concentrations, 0.5 to 2000.

        Returns
        -------
        ndarray, shape (K,)
            Metres.
        """
        table = hole_mean_table(self.blind_angle_deg, self.girths)
        return table.value_at(means @ self.directions.T, kappas[:, np.newaxis]) @ self.lengths_m

    def of_sets_slopes(self, means: Array, kappas: Array) -> FisherMeansSlopes:
        """Mean exposures of several sets at once, with derivatives by mean pole and κ.

        Parameters
        ----------
        means, kappas
            As for `of_sets`.

        Returns
        -------
        FisherMeansSlopes
            In metres; derivatives by the three components of each mean taken as free.
        """
        table = hole_mean_table(self.blind_angle_deg, self.girths)
        of = table.at(means @ self.directions.T, kappas[:, np.newaxis])
        lengths, lines = self.lengths_m, self.directions
        return FisherMeansSlopes(
            of.value @ lengths,
            (lengths * of.by_cosine) @ lines,
            of.by_kappa @ lengths,
            # The mean enters through t = m · d alone, so its second derivative is f″(t) d dᵀ for each line.
            np.einsum("kd,di,dj->kij", lengths * of.by_cosine_twice, lines, lines),
            (lengths * of.by_cosine_and_kappa) @ lines,
            of.by_kappa_twice @ lengths,
        )

    def of_uniform(self) -> float:
        """Mean exposure over all orientations: that of the background.

        Returns
        -------
        float
            Metres.
        """
        return float(self.lengths_m @ uniform_mean_of_hole(self.blind_angle_deg, self.girths))

    def seen_share(self, mean: ArrayLike, kappa: float) -> float:
        """Share of what the same metres would meet without a blind angle.

        Parameters
        ----------
        mean, kappa
            As for `of_set`.

        Returns
        -------
        float
            0 to 1: expected number met above the blind angle over expected number met in all.
        """
        return self.of_set(mean, kappa) / self.with_blind_angle(0.0).of_set(mean, kappa)

    def with_blind_angle(self, blind_angle_deg: float) -> LineExposure:
        """The same lengths with another blind angle, degrees."""
        return LineExposure(
            self.directions,
            self.lengths_m,
            blind_angle_deg=blind_angle_deg,
            log_error=self.log_error,
            girths=self.girths,
        )

    def largest_cosine(self, poles: ArrayLike) -> Array:
        """Largest |n · d| over the pieces, shape (n,): below sin ψ every piece is blind."""
        return np.minimum(np.abs(as_axes(poles) @ self.directions.T).max(axis=1), 1.0)

    def blind_share(self, points: int = 20_000) -> float:
        """Share of all orientations that no piece can see, 0 to 1.

        By so many evenly spread orientations; the error is a few parts in 10,000.
        """
        return float((self.at(hemisphere_grid(points)) <= 0).mean())

    def merged(self, within_deg: float = 0.5) -> LineExposure:
        """The same lengths with pieces of nearly one direction gathered into one.

        Parameters
        ----------
        within_deg : float
            Pieces gathered lie within this angle of the first of them, degrees.

        Returns
        -------
        LineExposure
            Same total length; each direction is the length-weighted mean of its pieces, so the
            error in |n · d| is of second order in the angle (below 4e-5 at the default).
        """
        cosine = np.cos(np.radians(within_deg))
        # The longest piece first, so that most metres keep the direction that they have.
        left = np.argsort(-self.lengths_m, kind="stable")
        directions, lengths, girths = [], [], []
        while len(left):
            dots = self.directions[left] @ self.directions[left[0]]
            near = (np.abs(dots) >= cosine) & (self.girths[left] == self.girths[left[0]])
            # A line has no sense: up and down the same hole meet the same planes.
            signed = np.sign(dots[near])[:, np.newaxis] * self.directions[left[near]]
            # The metre-weighted mean direction, which makes the error of |n · d| one of second order in the angle.
            directions.append(self.lengths_m[left[near]] @ signed)
            lengths.append(self.lengths_m[left[near]].sum())
            girths.append(self.girths[left[0]])
            left = left[~near]
        return LineExposure(
            directions,
            lengths,
            blind_angle_deg=self.blind_angle_deg,
            log_error=self.log_error,
            girths=girths,
        )
