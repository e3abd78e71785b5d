"""Draw the two figures of theory.md: theory_exposure.svg and theory_p32.svg.

    python examples/make_theory_figures.py

The figures are written beside the script. The simulation is seeded; the same versions of the
libraries give the same bytes.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

import jointstats as js
from jointstats.plots import new_figure
from jointstats.plots.palette import LIGHT, styled

Array = NDArray[np.float64]

HERE = Path(__file__).resolve().parent
DOWN = np.array([0.0, 0.0, -1.0])
TRUE_P32, KAPPA = 1.2, 40.0
DIPS_DEG = (30.0, 60.0, 75.0, 83.0, 90.0)
REPEATS = 12
LOOK = (
    ("weights", "Terzaghi weights, cut at 10°", 3, "s"),
    ("combined exposure", "1 / E of each fracture", 1, "^"),
    ("likelihood", "likelihood", 0, "o"),
)


def draw_exposure() -> None:
    """Exposure of one vertical hole, and with an inclined one beside it, against dip."""
    dip = np.linspace(0.0, 90.0, 901)
    poles = js.poles_from_dip(dip, 90.0)
    inclined = js.lines_from_trend(270.0, 60.0)[0]
    figure = new_figure(6.2, 3.4)
    ax = figure.add_subplot()
    one = js.LineExposure([DOWN], [100.0])
    two = js.LineExposure([DOWN, inclined], [100.0, 60.0])
    ax.plot(dip, two.at(poles), color=LIGHT.sets[1], label="with 60 m toward 270, plunge 60")
    ax.plot(dip, one.at(poles), color=LIGHT.sets[0], linestyle="--", label="100 m, vertical")
    set_mean = [one.of_set(pole, KAPPA) for pole in poles[::30]]
    ax.plot(
        dip[::30],
        set_mean,
        "o",
        markersize=3.5,
        color=LIGHT.sets[0],
        label=f"vertical, mean over a set of κ {KAPPA:.0f}",
    )
    ax.axvspan(80.0, 90.0, color=LIGHT.blind, alpha=0.15, linewidth=0)
    ax.text(
        79.3,
        152.0,
        "blind zone of\nthe vertical hole",
        color=LIGHT.blind,
        ha="right",
        va="top",
        fontsize=8,
    )
    ax.set(
        xlabel="dip of a plane that dips east, degrees",
        ylabel="exposure E(n), m",
        xlim=(0, 90),
        ylim=(0, 160),
        title="What the holes sample of each orientation",
    )
    ax.legend(frameon=False, loc="lower left", fontsize=8)
    _write(figure, "theory_exposure.svg")


def met_by_vertical_hole(mean: Array, metres: float, generator: np.random.Generator) -> Array:
    """Poles of the fractures that a vertical line meets in rock of one set."""
    crowd = js.sphere.AxialFisher(mean, KAPPA).rvs(generator.poisson(TRUE_P32 * metres), generator)
    # A line meets each at a rate in proportion to |n · d|: keep that share of them.
    return crowd[generator.random(len(crowd)) < np.abs(crowd @ DOWN)]


def estimates(metres: float = 400.0) -> dict[str, Array]:
    """P32 by each method, one row a dip and one column a simulated log."""
    generator = np.random.default_rng(11)
    hole = js.LineExposure([DOWN], [metres])
    found: dict[str, list[list[float]]] = {key: [] for key, *_ in LOOK}
    for dip in DIPS_DEG:
        mean = js.poles_from_dip(dip, 90.0)[0]
        logs = [met_by_vertical_hole(mean, metres, generator) for _ in range(REPEATS)]
        frames = [js.sets.p32_estimates(log, [DOWN], hole).to_frame() for log in logs]
        for key, rows in found.items():
            rows.append([float(f.set_index("estimator").loc[key, "p32_per_m"]) for f in frames])
    return {key: np.array(rows) for key, rows in found.items()}


def draw_p32(found: dict[str, Array]) -> None:
    """P32 of simulated logs of a vertical hole, by three methods, against the dip of the set."""
    figure = new_figure(6.2, 3.6)
    ax = figure.add_subplot()
    for shift, (key, label, tone, marker) in zip((-0.8, 0.0, 0.8), LOOK, strict=True):
        low, middle, high = np.quantile(found[key], [0.0, 0.5, 1.0], axis=1)
        ax.errorbar(
            np.array(DIPS_DEG) + shift,
            middle,
            [middle - low, high - middle],
            color=LIGHT.sets[tone],
            fmt=marker,
            markersize=4.5,
            linewidth=1.2,
            label=label,
        )
    ax.axhline(TRUE_P32, color=LIGHT.quiet, linewidth=1)
    ax.text(23.5, TRUE_P32 + 0.03, "truth", color=LIGHT.quiet, fontsize=8)
    ax.set(
        xlabel="dip of the set, degrees",
        ylabel="P32, 1/m",
        xlim=(23, 93),
        ylim=(0, 2.2),
        title=f"One vertical hole of 400 m: median and range of {REPEATS} simulated logs",
    )
    ax.legend(frameon=False, loc="lower left", fontsize=8)
    _write(figure, "theory_p32.svg")


def _write(figure: Figure, name: str) -> None:
    figure.tight_layout()
    figure.savefig(HERE / name, metadata={"Date": None})
    print(f"wrote {name}")


if __name__ == "__main__":
    simulated = estimates()
    for method, values in simulated.items():
        print(method, dict(zip(DIPS_DEG, np.median(values, axis=1).round(2).tolist(), strict=True)))
    with styled():
        draw_exposure()
        draw_p32(simulated)
