"""The axial Fisher distribution: density, cumulative, quantiles and draws.

A Fisher distribution with both ends of each direction taken together. Over the hemisphere, with
respect to solid angle,

    f(n) = κ cosh(κ μ · n) / (2π sinh κ),

the folded form of Fisher (1953), Dispersion on a sphere, Proc. R. Soc. A 217: 295-305. The angle θ
to the mean axis, 0 to 90°, has P(θ ≤ t) = 1 − sinh(κ cos t) / sinh κ.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from jointstats.checks import as_generator
from jointstats.errors import InputError
from jointstats.sphere.axes import as_axes, frame_about, lower_hemisphere
from jointstats.types import Array, ArrayLike, RandomState


def check_kappa(kappa: ArrayLike) -> Array:
    """Return concentrations as an array, or say which rule they break.

    `kappa`: concentrations. Gives float64, of the same shape.
    """
    try:
        values = np.array(kappa, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError(f"kappa must be a number; got {kappa!r}") from None
    if not np.isfinite(values).all() or (values < 0).any():
        raise InputError(f"kappa must be finite and not negative; got {kappa!r}")
    return values


def log_sinh_ratio(kappa: ArrayLike) -> Array:
    """log(sinh κ / κ) − κ, which neither overflows nor loses digits.

    `kappa`: concentrations, zero or more. Gives zero at κ = 0, falling like −log 2κ.
    """
    twice = 2.0 * np.asarray(kappa, dtype=np.float64)
    safe = np.where(twice > 0, twice, 1.0)
    return np.where(twice > 0, np.log(-np.expm1(-safe) / safe), 0.0)


def log_density(poles: ArrayLike, mean: ArrayLike, kappa: ArrayLike) -> Array:
    """Log density of the axial Fisher distribution over the hemisphere.

    `poles` (n, 3): axes, either end; `mean` (3,) or (m, 3): mean axis, or several; `kappa` (m,):
    concentration, zero or more. Gives (n,) or (n, m): natural logarithm of the density per
    steradian; −log 2π where κ = 0. One column for each mean if `mean` has two dimensions.
    Accurate for κ from 0 to 1e6 and beyond.
    """
    rows = as_axes(poles)
    means = as_axes(mean, "mean")
    concentrations = check_kappa(kappa)
    if concentrations.size not in (1, len(means)):
        raise InputError(
            f"kappa must have one value, or one for each mean ({len(means)}); "
            f"got {concentrations.size}"
        )
    k = np.broadcast_to(concentrations.ravel(), (len(means),))
    along = np.abs(rows @ means.T)
    # log cosh x = |x| + log(1 + e^(−2|x|)) − log 2, with the large terms taken together.
    fold = np.log1p(np.exp(-2.0 * k * along))
    values = k * (along - 1.0) + fold - np.log(4.0 * np.pi) - log_sinh_ratio(k)
    return values[:, 0] if np.ndim(mean) == 1 else values


def draw_directed(mean: Array, kappa: float, size: int, generator: np.random.Generator) -> Array:
    """Draw directed unit vectors from a Fisher distribution.

    `mean` (3,): mean direction, of unit length; `kappa`: concentration, zero or more; `size`:
    number of rows. Gives (size, 3): unit rows.
    """
    u = generator.random(size)
    # 1 − cos θ by inversion (Fisher, Lewis & Willcox 1981, Commun. Stat. B 10: 175-181).
    drop = -np.log1p(u * np.expm1(-2.0 * kappa)) / kappa if kappa > 0 else 2.0 * u
    across = np.sqrt(np.clip(drop * (2.0 - drop), 0.0, None))
    phi = generator.uniform(0.0, 2.0 * np.pi, size)
    return np.column_stack([across * np.cos(phi), across * np.sin(phi), 1.0 - drop]) @ frame_about(
        mean
    )


def sample(
    mean: ArrayLike,
    kappa: float,
    size: int = 1,
    random_state: RandomState = 0,
) -> Array:
    """Draw poles from the axial Fisher distribution.

    `mean` (3,): mean axis; `kappa`: concentration, zero or more; `size`: number of poles. Gives
    (size, 3): unit poles on the lower hemisphere.
    """
    return AxialFisher(mean, kappa).rvs(size, random_state)


@dataclass(frozen=True, eq=False, init=False)
class AxialFisher:
    """Axial Fisher distribution with a given mean axis and concentration.

    Parameters
    ----------
    mean : array_like, shape (3,)
        Mean axis, either end; kept as the lower-hemisphere unit vector.
    kappa : float
        Concentration, zero or more.

    Raises
    ------
    InputError
        If `mean` is not one axis, or `kappa` is not one number, finite and not negative.

    Examples
    --------
    Half of a set of κ 40 lies within about 11° of its mean:

    >>> AxialFisher([0, 0, -1.0], 40.0).ppf(0.5).round(1)
    array([10.7])
    """

    mean: Array
    kappa: float

    def __init__(self, mean: ArrayLike, kappa: ArrayLike) -> None:
        rows = as_axes(mean, "mean")
        if len(rows) != 1:
            raise InputError(f"mean must be one axis (x, y, z); got {len(rows)} rows")
        values = check_kappa(kappa)
        if values.size != 1:
            raise InputError(f"kappa must be one number; got {values.size}")
        axis = lower_hemisphere(rows)[0]
        axis.flags.writeable = False
        object.__setattr__(self, "mean", axis)
        object.__setattr__(self, "kappa", float(values.ravel()[0]))

    def logpdf(self, poles: ArrayLike) -> Array:
        """Log density per steradian over the hemisphere.

        Parameters
        ----------
        poles : array_like, shape (n, 3)
            Axes, either end.

        Returns
        -------
        ndarray, shape (n,)
            Natural logarithms.

        Examples
        --------
        >>> AxialFisher([0, 0, -1.0], 0.0).logpdf([[1.0, 0, 0]]).round(4)
        array([-1.8379])
        """
        return log_density(poles, self.mean, self.kappa)

    def pdf(self, poles: ArrayLike) -> Array:
        """Density per steradian over the hemisphere.

        Parameters
        ----------
        poles : array_like, shape (n, 3)
            Axes, either end.

        Returns
        -------
        ndarray, shape (n,)
            Densities.

        Examples
        --------
        >>> AxialFisher([0, 0, -1.0], 0.0).pdf([[1.0, 0, 0]]).round(4)
        array([0.1592])
        """
        return np.exp(self.logpdf(poles))

    def cdf(self, angle_deg: ArrayLike) -> Array:
        """Share of poles within an angle of the mean axis.

        Parameters
        ----------
        angle_deg : array_like, shape (m,)
            Angles in degrees; below 0 counts as 0, above 90 as 90.

        Returns
        -------
        ndarray, shape (m,)
            Shares, 0 to 1.

        Examples
        --------
        >>> AxialFisher([0, 0, -1.0], 0.0).cdf(60.0).round(4)
        array([0.5])
        """
        angle = np.radians(np.clip(np.atleast_1d(np.asarray(angle_deg, dtype=float)), 0, 90))
        if self.kappa < 1e-7:
            return 2.0 * np.sin(angle / 2.0) ** 2
        # 1 − sinh(κc)/sinh κ with c = 1 − d: (1 − e^(−κd)) (1 + e^(κd − 2κ)) / (1 − e^(−2κ)).
        fall = self.kappa * 2.0 * np.sin(angle / 2.0) ** 2
        top = -np.expm1(-fall) * (1.0 + np.exp(fall - 2.0 * self.kappa))
        return np.clip(top / -np.expm1(-2.0 * self.kappa), 0.0, 1.0)

    def ppf(self, share: ArrayLike) -> Array:
        """Half-angle of the cone about the mean axis that holds a share of the poles.

        Parameters
        ----------
        share : array_like, shape (m,)
            Shares, 0 to 1.

        Returns
        -------
        ndarray, shape (m,)
            Angles in degrees, 0 to 90.

        Raises
        ------
        InputError
            If a share is not between 0 and 1.

        Examples
        --------
        >>> AxialFisher([0, 0, -1.0], 0.0).ppf([0.0, 0.5, 1.0]).round(4)
        array([ 0., 60., 90.])
        """
        p = np.atleast_1d(np.asarray(share, dtype=float))
        if not ((p >= 0) & (p <= 1)).all():
            raise InputError(f"share must lie between 0 and 1; got {share!r}")
        return np.degrees(2.0 * np.arcsin(np.sqrt(np.clip(self._drop(p), 0.0, 1.0) / 2.0)))

    def _drop(self, p: Array) -> Array:
        """1 − cos θ at the quantile `p`."""
        kappa = self.kappa
        if kappa < 1e-7:
            return p
        if kappa < 15.0:
            return 1.0 - np.arcsinh((1.0 - p) * np.sinh(kappa)) / kappa
        # With y = (1 − p) sinh κ: asinh y = log y + log(1 + √(1 + y⁻²)), so κ cancels exactly.
        log_rest = np.log1p(-np.minimum(p, 1.0 - 2.0**-53))
        edge = np.log1p(-np.exp(-2.0 * kappa))
        log_y = log_rest + kappa + edge - np.log(2.0)
        inverse = np.exp(-2.0 * np.clip(log_y, 0.0, None))
        large = -(log_rest + edge + np.log1p((np.sqrt(1.0 + inverse) - 1.0) / 2.0)) / kappa
        small = 1.0 - np.arcsinh(np.exp(np.clip(log_y, None, 1.0))) / kappa
        return np.where(p >= 1.0, 1.0, np.where(log_y > 0, large, small))

    def rvs(self, size: int = 1, random_state: RandomState = 0) -> Array:
        """Draw poles.

        Parameters
        ----------
        size : int
            Number of poles.
        random_state : int, Generator or None
            Seed or source of random numbers.

        Returns
        -------
        ndarray, shape (size, 3)
            Unit poles on the lower hemisphere.

        Raises
        ------
        InputError
            If `size` is negative.

        Examples
        --------
        >>> from jointstats import axis_angles_deg
        >>> poles = AxialFisher([0, 0, -1.0], 50.0).rvs(4000, random_state=1)
        >>> angles = axis_angles_deg(poles, [0, 0, -1.0])
        >>> round(float((angles < 20).mean()), 2), AxialFisher([0, 0, -1.0], 50.0).cdf(20).round(2)
        (0.95, array([0.95]))
        """
        if size < 0:
            raise InputError(f"size must be zero or more; got {size}")
        generator = as_generator(random_state)
        if size == 0:
            return np.empty((0, 3))
        return lower_hemisphere(draw_directed(self.mean, self.kappa, size, generator))
