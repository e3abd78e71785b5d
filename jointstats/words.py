"""Numbers and findings in words, and the glossary that page, help and documents share.

Limits and thresholds are not here: each stands with the module that applies it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Sequence

#: To whom every figure defers. It stands on each page, in each file and below each printed table.
NOTICE = (
    "These figures support the judgement of a qualified engineer or geologist; they do not replace "
    "it, nor local codes and licensed practice. Before use a licensed professional who knows the "
    "site must check the tables, the settings and every caution. A borehole samples a line: "
    "figures of the volume assume that the sets continue between the holes."
)


#: Terms with their meaning, in the order in which a reader needs them.
GLOSSARY: dict[str, str] = {
    "dip, dip direction": "Steepest slope of a plane below level, and the azimuth it slopes to, "
    "clockwise from north.",
    "pole": "Normal of a plane, drawn by its lower end. A plane has no front or back, so a steep "
    "set shows at both sides of the net.",
    "discontinuity": "Any break with little or no tensile strength: joint, bedding, shear, fault. "
    "The sets hold whatever the tables list.",
    "set": "Fractures scattered about one orientation. J1, J2, … stand in order of fitted P32.",
    "random fractures": "Fractures of no set (ISRM 1978): a uniform background in the fit. One "
    "that is nearer to it than to any set is unassigned.",
    "confidence cone": "Cone about the mean pole that covers the true mean at the stated "
    "confidence. It tells how well the mean is known, not how far fractures scatter.",
    "95 % spread cone": "Cone about the mean pole that holds 95 % of the poles of the set.",
    "kappa": "Concentration of the Fisher distribution of a set (κ), the sampling allowed for. "
    "The 95 % spread cone is about 140° / √κ: 31° for κ 20, 20° for κ 50.",
    "measurement error": "Error of each reading of an orientation, as stated in the tables. Where "
    "stated, κ is also given without it.",
    "axial ratio": "Long over short axis of the spread of an elliptical set; 1 for a round one.",
    "girdle": "Poles spread along a great circle, as of a fold; it has an axis and no mean pole.",
    "heavy tails": "More fractures far from the mean than the Fisher distribution has; sets share "
    "one weight of the tails, told as degrees of freedom of a t: few are heavy, 30 next to none.",
    "P10": "Fractures per metre along a line (Dershowitz & Herda 1992). It depends on the "
    "direction of the line.",
    "P32": "Fracture area per volume of rock, m²/m³ (Dershowitz & Herda 1992). It does not depend "
    "on the direction of the holes.",
    "equivalent length square to the set": "Length of hole, square to the planes, that would "
    "intersect as many of them as the holes did: logged length times the cosine of the angle "
    "between hole and pole, below the blind angle nothing.",
    "blind angle": "Angle between hole and plane below which readings are not trusted. They stay "
    "out of the fit and keep their place in P10, RQD, spacing and condition.",
    "blind zone": "Orientations within the blind angle of a hole.",
    "observable share": "Of the fractures of a set that the holes intersected, the share that the "
    "fit expects at more than the blind angle.",
    "normal set spacing": "Distance between neighbours of one set along its mean normal (ISRM "
    "1978). Spacings censored by an end of the log count with the length seen.",
    "censored": "Of a spacing: an end of the logged length came before its second fracture.",
    "survival function": "Probability that a spacing is longer than a length.",
    "theoretical RQD": "RQD that the frequency along a hole implies for fractures at random and a "
    "threshold of 0.1 m; not measured on core.",
    "membership": "Probability that a fracture is of the set named, given its orientation.",
    "detection probability": "Probability that a method records a fracture that is there.",
    "standardised residual": "Observed less expected count, over the square root of the expected.",
    "Holm-adjusted p": "p-value allowed for the number of tests (Holm 1979).",
    "ΔBIC": "Bayesian information criterion above the best one; 10 or more is strong evidence.",
}


def number(value: float | None, digits: int = 3) -> str:
    """A figure to so many significant digits, without an exponent; a dash if it is not known.

    >>> number(1234.5), number(0.012345), number(1.1), number(float("nan"))
    ('1230', '0.0123', '1.10', '–')
    """
    if value is None or not math.isfinite(value):
        return "–"
    if value == 0:
        return "0"
    mantissa, exponent = f"{value:.{digits - 1}e}".split("e")
    decimals = digits - 1 - int(exponent)
    return f"{float(f'{mantissa}e{exponent}'):.{max(0, decimals)}f}"


def within(interval: tuple[float | None, float | None], digits: int = 2) -> str:
    """An interval as "low to high"; "over" or "up to" where one end is not known.

    >>> within((0.8, 1.25)), within((0.8, None))
    ('0.80 to 1.2', 'over 0.80')
    """
    low, high = (None if end is None or not math.isfinite(end) else end for end in interval)
    if high is None:
        return "–" if low is None else f"over {number(low, digits)}"
    if low is None:
        return f"up to {number(high, digits)}"
    return f"{number(low, digits)} to {number(high, digits)}"


def only_limit(value: float, interval: tuple[float, float]) -> bool:
    """Whether a figure is next to nothing beside its interval, so that the upper limit alone tells.

    >>> only_limit(1e-9, (0.0, 0.05)), only_limit(0.02, (0.01, 0.05))
    (True, False)
    """
    return value < 0.01 * interval[1]


def of_lines(text: str, kinds: Collection[str]) -> str:
    """A text that speaks of holes, for the kinds of line there are: of scanlines where none is a borehole.

    >>> of_lines("Holes of D1; boreholes", ["scanline"]), of_lines("the hole", ["borehole", "circle"])
    ('Scanlines of D1; scanlines', 'the hole')
    """
    if not kinds or "borehole" in kinds:
        return text
    return _HOLES.sub(lambda found: f"{'S' if found[0][0].isupper() else 's'}canline{found[1]}", text)


#: Not the table holes.csv.
_HOLES = re.compile(r"\b(?:bore)?hole(s?)\b(?!\.csv)", re.IGNORECASE)


def percent(share: float) -> str:
    """A share in per cent, with a decimal where it is small; never zero for what is not.

    >>> percent(0.942), percent(0.0042), percent(0.0), percent(1e-9)
    ('94 %', '0.4 %', '0 %', 'under 0.1 %')
    """
    if 0 < share < 0.0005:
        return "under 0.1 %"
    return f"{100 * share:.1f} %" if 0 < share < 0.0995 else f"{100 * share:.0f} %"


def listed(words: Sequence[str]) -> str:
    """Words joined as in a sentence.

    >>> listed(["J1", "J2", "J3"])
    'J1, J2 and J3'
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def counted(n: int, noun: str) -> str:
    """A number with its noun, in the plural where it is not one.

    >>> counted(1, "hole"), counted(3, "hole")
    ('1 hole', '3 holes')
    """
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"


def plane(dip_deg: float, dip_direction_deg: float) -> str:
    """A plane in words: dip, and three digits of dip direction.

    >>> plane(61.6, 8.2)
    'dip 62° toward 008°'
    """
    return f"dip {dip_deg:.0f}° toward {round(dip_direction_deg) % 360:03d}°"


def p_value(value: float) -> str:
    """A p-value to two digits, or that it is below 0.0001.

    >>> p_value(0.1234), p_value(1e-9)
    ('p 0.12', 'p below 0.0001')
    """
    return "p below 0.0001" if value < 1e-4 else f"p {value:.2g}"


def short(name: str, most: int = 16) -> str:
    """A name cut to so many letters, where a drawing has room for no more.

    >>> short("B1"), short("a hole of a very long name")
    ('B1', 'a hole of a ver…')
    """
    return name if len(name) <= most else f"{name[: most - 1]}…"
