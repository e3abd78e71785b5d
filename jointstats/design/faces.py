"""Trace length per area that a rock face of any orientation should show."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.special import ive, legendre_p_all, roots_chebyu

from jointstats.design.estimates import of_rock
from jointstats.fit.rock import Rock
from jointstats.sphere.axes import as_axes
from jointstats.sphere.zonal import KAPPA_LARGEST
from jointstats.types import Array, ArrayLike


@lru_cache(maxsize=8)
def _sine_coefficients(degrees: int) -> Array:
    """Legendre coefficients of √(1 − t²), even degrees 0, 2, … up to `degrees`."""
    # Chebyshev quadrature of the second kind has the weight √(1 − t²) and is exact for P_l.
    nodes, weights = roots_chebyu(degrees // 2 + 2)
    order = np.arange(0, degrees + 1, 2)
    values = legendre_p_all(degrees, nodes)[0][::2]
    coefficients = (order + 0.5) * (values @ weights)
    coefficients.flags.writeable = False
    return coefficients


def _mean_sine(cosines: Array, kappa: float) -> Array:
    """Mean of √(1 − (n · m)²) over a Fisher set, as a Legendre series (see sphere.zonal)."""
    kappa = float(np.clip(kappa, 1e-8, KAPPA_LARGEST))
    # r_l(κ) falls like exp(−l² / 2κ); below 1e-13 nothing is left.
    degrees = 2 * (int(np.sqrt(60.0 * kappa)) // 2 + 8)
    even = np.arange(0, degrees + 1, 2)
    ratio = ive(even + 0.5, kappa) / ive(0.5, kappa)
    legendre = legendre_p_all(degrees, np.clip(cosines, -1.0, 1.0))[0][::2]
    return np.clip((_sine_coefficients(degrees) * ratio) @ legendre, 0.0, 1.0)


@of_rock()
def trace_intensity_on_face(rock: Rock, face_poles: ArrayLike) -> Array:
    """P21 expected on faces: metres of trace per square metre.

    Parameters
    ----------
    rock : Rock, SiteAnalysis or Rocks
        Sets and background; a face shows π/4 of the P32 of the background.
    face_poles : array_like, shape (m, 3) or (3,)
        Pole of each face, either end.

    Returns
    -------
    ndarray, shape (m,)
        1/m: Σ P32_k times the mean sine of the angle between the set's normals and the face's. Of a
        result, or rocks: an `Estimate` of it.

    Raises
    ------
    InputError
        If a pole is not an axis.

    References
    ----------
    Stereology: a plane cuts area into length in proportion to the sine of the angle between the
    two (Underwood 1970, Quantitative Stereology; from memory).

    Examples
    --------
    Level fractures show in full on a vertical face, and by half on one that dips 30°:

    >>> import jointstats as js
    >>> level = Rock.of_round([[0, 0, -1]], [3e4], [2.0])
    >>> trace_intensity_on_face(level, js.poles_from_dip([90, 30], 0)).round(2)
    array([2., 1.])
    """
    faces = as_axes(face_poles, "face_poles")
    total = np.full(len(faces), 0.25 * np.pi * rock.background_per_m)
    for density, p32 in rock.sets:
        # The Fisher sets that make up a set, one for a round one.
        for mean, kappa, share in zip(*density.fisher_sets(), strict=True):
            total += p32 * share * _mean_sine(faces @ mean, float(kappa))
    return total
