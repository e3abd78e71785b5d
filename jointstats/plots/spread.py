"""Pictures of spacing: the normal spacing of each set on a logarithmic axis, with ISRM terms."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.typing import NDArray

from jointstats.errors import InputError
from jointstats.line.spacing_fits import FEWEST, fit_spacings
from jointstats.line.spacing_survival import spacing_curve
from jointstats.line.spacing_terms import SPACING_EDGES_M
from jointstats.plots.drawn import drawn
from jointstats.plots.palette import (
    INK,
    SetStyle,
    plain_axes,
    set_style,
    styled,
)
from jointstats.types import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.oriented_set import OrientedSet
    from jointstats.sets.result import SiteAnalysis

OneSet = TypeVar("OneSet", bound="OrientedSet")

_SHORT_TERMS = ("", "very\nclose", "close", "moderate\n", "wide", "very\nwide", "")


def find_set(sets: tuple[OneSet, ...], name: str) -> tuple[int, OneSet]:
    """The set of a name, and its place among the sets.

    Gives `position`; `joint_set`.
    """
    for position, one in enumerate(sets):
        if one.name == name:
            return position, one
    known = ", ".join(one.name for one in sets) or "none"
    raise InputError(f"set must be one of those found ({known}); got {name!r}")


@drawn
def spacing_histogram(
    result: SiteAnalysis, name: str, ax: Axes | None = None, *, terms: bool = True
) -> Axes:
    """Histogram of the normal spacings of one set, its mean with interval, and the ISRM terms.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    name : str
        Name of the set.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.
    terms : bool
        Whether to write the ISRM terms above.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If there is no set of this name.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> plots.spacing_histogram(result, "J1", plots.new_figure().add_subplot()).ax.get_xscale()
    'log'
    """
    position, one = find_set(result.sets, name)
    with styled():
        ax = plain_axes(ax, (4.2, 2.9))
        _draw_terms(ax, named=terms)
        spacings = np.asarray(one.spacing.spacings_m, dtype=float)
        if len(spacings):
            _draw_bars(ax, spacings, set_style(position))
            _draw_mean(ax, one)
        else:
            ax.text(0.5, 0.4, "no two neighbours observed", transform=ax.transAxes, ha="center")
            ax.set_ylim(0, 1)
        ax.set(xlabel="normal set spacing, m", ylabel="number of spacings")
        ax.locator_params(axis="y", nbins=5, integer=True)
    return ax


def _draw_terms(ax: Axes, *, named: bool) -> None:
    ax.set(xscale="log", xlim=(0.01, 12.0))
    ax.set_xticks(SPACING_EDGES_M, [f"{limit:g}" for limit in SPACING_EDGES_M])
    ax.set_xticks([], minor=True)
    edges = (0.01, *SPACING_EDGES_M, 12.0)
    for limit in SPACING_EDGES_M:
        ax.axvline(limit, color=INK.faint, linewidth=0.8, zorder=0.5)
    if not named:
        return
    for low, high, term in zip(edges[:-1], edges[1:], _SHORT_TERMS, strict=True):
        ax.text(np.sqrt(low * high), 1.02, term, transform=ax.get_xaxis_transform(), ha="center",
                va="bottom", fontsize=7.5, color=INK.quiet, linespacing=0.95)


def _draw_bars(ax: Axes, spacings: Array, style: SetStyle) -> None:
    # Four bars to a factor of ten's half: the terms' limits (ratios of 3 and 3.3) fall on edges
    # closely enough to be read.
    edges = np.concatenate([
        np.geomspace(low, high, 4)[:-1]
        for low, high in zip((0.006, *SPACING_EDGES_M), (*SPACING_EDGES_M, 20.0), strict=True)
    ] + [[20.0]])
    ax.hist(np.clip(spacings, edges[0], edges[-1]), bins=edges.tolist(), color=style.colour,
            edgecolor=INK.paper, linewidth=0.6, zorder=2)
    ax.set_ylim(0, None)


def _draw_mean(ax: Axes, one: JointSet) -> None:
    spacing = one.spacing
    for at, width, dashes in ((spacing.mean_m, 1.6, ()), (spacing.median_m, 1.2, (3, 2))):
        if at is not None:
            ax.axvline(at, color=INK.ink, linewidth=width, linestyle=(0, dashes), zorder=3)
    low, high = one.spacing_interval_m or (None, None)
    if low is not None and high is not None:
        ax.axvspan(low, high, color=INK.ink, alpha=0.13, linewidth=0, zorder=1)


@drawn
def spacing_survival(
    result: SiteAnalysis, name: str, ax: Axes | None = None, *, key: bool = True
) -> Axes:
    """Survival function of the spacings, censored ones allowed for, and two fitted laws.

    The steps are those of `spacing_curve` with their interval; the curves are the exponential
    (fractures at random) and the Weibull law, as `fit_spacings` gives them.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    name : str
        Name of the set.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.
    key : bool
        Whether to explain the lines.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If there is no set of this name.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> plots.spacing_survival(result, "J1", plots.new_figure().add_subplot()).ax.get_xlabel()
    'normal set spacing, m'
    """
    position, one = find_set(result.sets, name)
    with styled():
        ax = plain_axes(ax, (4.2, 2.9))
        if one.spacing.n >= 3:
            _draw_survival(ax, one, set_style(position))
            if key:
                # Survival falls to the right; a place sought among thousands of points takes minutes.
                ax.legend(fontsize=8.5, loc="upper right")
        else:
            ax.text(0.5, 0.5, "fewer than three spacings", transform=ax.transAxes,
                    ha="center")
        ax.set(ylim=(0, 1), xlabel="normal set spacing, m", ylabel="probability of a longer one")
    return ax


def thinned(n: int, most: int = 500) -> NDArray[np.intp]:
    """Places of at most so many of n ordered points, evenly spread, first and last among them."""
    return np.unique(np.linspace(0, max(n - 1, 0), min(n, most)).round().astype(np.intp))


def _draw_survival(ax: Axes, one: JointSet, style: SetStyle) -> None:
    curve = spacing_curve(one.spacing)
    kept = thinned(len(curve.spacing_m))
    edges = np.concatenate([[0.0], curve.spacing_m[kept]])
    wider = np.concatenate([[1.0], curve.wider[kept]])
    low, high = (np.concatenate([[1.0], side[kept]]) for side in curve.limits())
    ax.fill_between(edges, low, high, step="post", color=style.colour, alpha=0.18, linewidth=0)
    ax.step(edges, wider, where="post", color=style.colour, linewidth=1.8, label="observed")
    if one.spacing.n >= FEWEST:
        length = np.linspace(0.0, edges[-1], 200)
        fits = fit_spacings(one.spacing, ("exponential", "Weibull"), n_bootstrap=0)
        shape = fits["Weibull"].parameters["shape"]
        for law, dashes, label in (
            ("exponential", "-", "exponential"),
            ("Weibull", (0, (4, 2)), f"Weibull, shape {shape:.2f}"),
        ):
            share = 1.0 - fits[law].share_below(length)
            ax.plot(length, share, color=INK.ink, linewidth=1.2, linestyle=dashes, label=label)
    ax.set_xlim(0, max(edges[-1], 1e-3))
