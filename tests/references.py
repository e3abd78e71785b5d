"""Published check values, each with its source; tests compare to half a unit of the last digit.

Every entry is a `Reference`: what was printed, to how many digits, and where it was read.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Reference:
    """A printed number (or several) with its unit, its last printed digit and its source."""

    value: float | tuple[float, ...]
    unit: str
    last_digit: float
    source: str
    obtained: str = "read in the source"

    @property
    def tolerance(self) -> float:
        """Half a unit of the last printed digit."""
        return 0.5 * self.last_digit


# Orientation and sampling

HARRISON_HUDSON_COSINES = Reference(
    (0.484, 0.428, 0.274, 0.536, 0.746, 0.846),
    "-",
    0.001,
    "Harrison & Hudson 2000, Engineering Rock Mechanics Part 2, Question 7.10, pp. 113-114",
)
HARRISON_HUDSON_WEIGHTS = Reference(
    (2.066, 2.338, 3.645, 1.866, 1.340, 1.183),
    "-",
    0.001,
    "Harrison & Hudson 2000, Engineering Rock Mechanics Part 2, Question 7.10, pp. 113-114",
)

# Hole paths and planes seen from a hole

WALL_TRACE_DIP = Reference(
    62.0, "degrees", 1.0, "A logging contractor's technical note: height 0.62 ft, diameter 3.91 in"
)
APPARENT_TO_TRUE_DIP = Reference(
    (44.0, 110.0),
    "degrees",
    1.0,
    "Brady & Brown, Rock Mechanics for Underground Mining, Appendix A (dip, dip direction)",
)
PLANE_INTERSECTIONS = (
    Reference(
        (219.0, 26.0),
        "degrees",
        1.0,
        "Hudson & Harrison 1997, Engineering Rock Mechanics, Appendix: 266/36 x 146/59",
    ),
    Reference(
        (201.0, 21.0),
        "degrees",
        1.0,
        "Brady & Brown, Rock Mechanics for Underground Mining, Appendix A: 130/50 x 250/30",
    ),
)
MINIMUM_CURVATURE_DOGLEG = Reference(
    12.95, "degrees", 0.01, "A drilling-formulas page: 3500 15/20 to 3600 25/45"
)
MINIMUM_CURVATURE_STEP = Reference(
    (27.22, 19.45, 94.01),
    "the unit of depth",
    0.01,
    "A drilling-formulas page: 3500 15/20 to 3600 25/45 (north, east, vertical)",
)

# Spacing, frequency, quality

SPACINGS_NEEDED = (
    # (confidence, precision) and the number printed
    (
        (0.80, 0.2),
        Reference(41.0, "spacings", 1.0, "Priest & Hudson 1981, in Brady & Brown, p. 64"),
    ),
    (
        (0.90, 0.1),
        Reference(271.0, "spacings", 1.0, "Priest & Hudson 1981, in Brady & Brown, p. 64"),
    ),
)
SPACINGS_NEEDED_ROUNDED_UP = (
    ((0.90, 0.1), Reference(271.0, "spacings", 1.0, "Harrison & Hudson 2000, A7.2, p. 103")),
    ((0.95, 0.1), Reference(385.0, "spacings", 1.0, "Harrison & Hudson 2000, A7.2, p. 103")),
)
#: For 128 spacings of mean 0.215 m at 80 % confidence.
SPACING_PRECISION = Reference(0.113, "-", 0.001, "Harrison & Hudson 2000, A7.2, p. 103")
SPACING_LIMITS = Reference((0.191, 0.239), "m", 0.001, "Harrison & Hudson 2000, A7.2, p. 103")
#: Reciprocals of the printed spacings, 0.239 and 0.191 m, not of the unrounded ones.
FREQUENCY_LIMITS = Reference((4.184, 5.236), "1/m", 0.001, "Harrison & Hudson 2000, A7.2, p. 103")
#: (fractures per metre, theoretical RQD, RQD by the linear rule)
RQD_OF_FREQUENCY = Reference(
    ((6.0, 87.810, 88.32), (10.0, 73.576, 73.60), (16.0, 52.493, 51.52)),  # type: ignore[arg-type]
    "percent",
    0.001,
    "Priest & Hudson 1976, Int. J. Rock Mech. Min. Sci. 13:135-148 (the two formulas)",
    "computed from the formulas with a calculator",
)
#: (upper edge in metres, term below it)
ISRM_SPACING_TERMS = (
    (0.02, "extremely close"),
    (0.06, "very close"),
    (0.2, "close"),
    (0.6, "moderate"),
    (2.0, "wide"),
    (6.0, "very wide"),
)  # ISRM 1978, in Brady & Brown, Rock Mechanics for Underground Mining, p. 54

# ---------------------------------------------------------------- statistics on the sphere

_FISHER_1953 = "Fisher 1953, Proc. R. Soc. A 217, and Mardia & Jupp 2000, in scipy's test suite"
#: (declination, inclination) of nine directions.
FISHER_NINE = (
    (343.2, 66.1),
    (62.0, 68.7),
    (36.9, 70.1),
    (27.0, 82.1),
    (359.0, 79.5),
    (5.7, 73.0),
    (50.4, 69.3),
    (357.6, 58.8),
    (44.0, 51.4),
)  # Fisher 1953
#: North, east, down.
FISHER_NINE_MEAN = Reference(
    (0.2984, 0.1346, 0.9449), "-", 0.0001, _FISHER_1953, "second-hand; signs reversed there"
)
FISHER_NINE_RESULTANT = Reference(8.771981, "-", 1e-6, _FISHER_1953, "recomputed independently")
FISHER_NINE_KAPPA = Reference(35.0849, "-", 0.0001, _FISHER_1953, "recomputed independently")
FISHER_NINE_KAPPA_MLE = Reference(39.4705, "-", 0.0001, _FISHER_1953, "recomputed independently")
FISHER_NINE_CONE = Reference(8.8132, "degrees", 0.0001, _FISHER_1953, "recomputed independently")

_PMAGPY = "PmagPy documentation (BSD-3), fisher_mean"
#: (declination, inclination) of ten directions.
TEN_DIRECTIONS = (
    (20.5, 41.3),
    (19.0, 35.4),
    (345.0, 37.0),
    (12.3, 37.2),
    (350.7, 40.4),
    (20.6, 36.7),
    (9.9, 41.5),
    (8.2, 44.4),
    (21.4, 34.9),
    (18.4, 40.7),
)  # PmagPy documentation
TEN_DECLINATION = Reference(10.78355298, "degrees", 1e-8, _PMAGPY)
TEN_INCLINATION = Reference(39.60258299, "degrees", 1e-8, _PMAGPY)
TEN_RESULTANT = Reference(9.848433231, "-", 1e-9, _PMAGPY)
TEN_KAPPA = Reference(59.379770718, "-", 1e-9, _PMAGPY)
TEN_CONE = Reference(6.320446730, "degrees", 1e-9, _PMAGPY)

#: (n, R at 95 %, R at 99 %) for uniform directions.
WATSON_UNIFORM = tuple(
    (n, Reference(limits, "-", 0.01, "Watson 1956, in Tauxe, Essentials of Paleomagnetism"))
    for n, limits in (
        (5, (3.50, 4.02)),
        (6, (3.85, 4.48)),
        (7, (4.18, 4.89)),
        (8, (4.48, 5.26)),
        (9, (4.76, 5.61)),
        (10, (5.03, 5.94)),
        (15, (6.19, 7.36)),
        (20, (7.17, 8.55)),
    )
)
#: Limits of the statistics of fit at 10, 5 and 1 %.
FISHER_BEST_COLATITUDE = Reference(
    (0.990, 1.094, 1.308), "-", 0.001, "Fisher & Best 1984, Aust. J. Stat. 26", "second-hand"
)
FISHER_BEST_TWO_VARIABLE = Reference(
    (0.819, 0.895, 1.035), "-", 0.001, "Fisher & Best 1984, Aust. J. Stat. 26", "second-hand"
)
#: Mean of each estimate of κ over its true value, n 10 and κ 50: (n−1), (n−2), likelihood.
KAPPA_BIAS = Reference(
    (1.125, 1.000, 1.250), "-", 0.001, "2κ(n − R) ~ χ² with 2n − 2", "simulated and by formula"
)
#: Plane (dip direction, dip) of six fractures met by a hole of trend 136, plunge 55.
HARRISON_PLANES = ((201, 39), (213, 50), (215, 63), (230, 52), (247, 42), (253, 28))
HARRISON_HOLE = (136.0, 55.0)
_HARRISON = "Harrison & Hudson 2000, Engineering Rock Mechanics 2, Q7.10, pp. 113-114"
HARRISON_WEIGHTED_MEAN = Reference((0.483, 0.571, 0.664), "-", 0.001, _HARRISON)
HARRISON_KAPPA = Reference(
    (20.359, 22.461), "-", 0.001, _HARRISON, "recomputed; weights scaled to sum 6"
)
HARRISON_RESULTANT = Reference(
    (5.75441, 5.77739), "-", 0.00001, _HARRISON, "recomputed; weights scaled to sum 6"
)
