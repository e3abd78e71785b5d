"""Colours keep apart for every eye, and words can be read on what they stand on."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from jointstats.plots.palette import DARK, LIGHT, Tones, set_style

# Machado, Oliveira & Fernandes (2009), IEEE Trans. Vis. Comput. Graph. 15: 1291-1298, table of
# matrices at severity 1.0 (from memory).
_SEEN_BY = {
    "full sight": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
_TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
_WHITE = np.array([0.95047, 1.0, 1.08883])


def _linear(tone: str) -> NDArray[np.float64]:
    part = np.array([int(tone[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


def _lab(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    ratio = _TO_XYZ @ np.clip(linear, 0.0, 1.0) / _WHITE
    f = np.where(ratio > 0.008856, np.cbrt(ratio), 7.787 * ratio + 16.0 / 116.0)
    return np.array([116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])])


def _contrast(a: str, b: str) -> float:
    """Contrast ratio of WCAG 2."""
    low, high = sorted(float(_TO_XYZ[1] @ _linear(tone)) for tone in (a, b))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("tones", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("eye", sorted(_SEEN_BY))
def test_set_colours_keep_apart(tones: Tones, eye: str) -> None:
    """No two of the eight set colours come close for any kind of colour sight."""
    lab = np.array([_lab(_SEEN_BY[eye] @ _linear(tone)) for tone in tones.sets])
    gap = np.linalg.norm(lab[:, None] - lab[None], axis=2) + 1e3 * np.eye(len(lab))
    assert gap.min() >= (15.5 if tones is LIGHT else 11.5)


def test_set_colours_keep_apart_in_greyscale() -> None:
    """On a printer without colour, no two set colours have the same lightness."""
    lightness = np.sort([_lab(_linear(tone))[0] for tone in LIGHT.sets])
    assert np.diff(lightness).min() >= 4.0


@pytest.mark.parametrize("tones", [LIGHT, DARK], ids=["light", "dark"])
def test_words_and_signs_have_contrast(tones: Tones) -> None:
    """Words reach a contrast of 4.5 on paper, signs of 3 (WCAG 2, level AA)."""
    for word in (tones.ink, tones.quiet, tones.warning):
        assert _contrast(word, tones.paper) >= 4.5
    for sign in (*tones.sets, tones.blind):
        assert _contrast(sign, tones.paper) >= 3.0


def test_every_colour_has_one_name() -> None:
    """The page tells colours apart by their code, so no two names may share one."""
    names = LIGHT.named()
    assert len(set(names.values())) == len(names)
    assert list(names) == list(DARK.named())


def test_no_two_sets_look_alike() -> None:
    """Colour, marker and dashes together differ for as many sets as anyone may find."""
    styles = [set_style(i) for i in range(24)]
    assert len({(one.colour, one.marker, str(one.dashes)) for one in styles}) == 24
