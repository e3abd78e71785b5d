"""Hundreds of sites or holes, one task each: on one core, on many, or on a cluster."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

import pandas as pd

from jointstats.checks import as_seed
from jointstats.compare.ledger import Ledger, fingerprint
from jointstats.errors import InputError
from jointstats.recipe.recipe import Recipe, one_recipe
from jointstats.schema import with_units
from jointstats.tables.found import MAX_MB
from jointstats.tables.output import output_file, write_file
from jointstats.types import RandomState

if TYPE_CHECKING:
    from jointstats.borehole.site import Site

Item: TypeAlias = "Site | str | os.PathLike[str]"

_ITEM_COLUMNS = ["item", "status", "message", "n_sets", "n_fractures", "n_in_a_set"]
_ITEM_COLUMNS += ["n_unassigned", "background_per_m", "logged_m"]


@dataclass(frozen=True, eq=False)
class ManyAnalyses:
    """What `analyse_many` found.

    Attributes
    ----------
    sets : pandas.DataFrame
        One row a set, the item it belongs to first; columns as of `SiteAnalysis.to_frame`.
    items : pandas.DataFrame
        One row an item, in the order given: item, status ("done" or "failed"), message (why it
        failed), n_sets, n_fractures, n_in_a_set, n_unassigned, background_per_m, logged_m.

    Examples
    --------
    >>> import jointstats as js
    >>> found = js.analyse_many(js.simulate_site(random_state=1))
    >>> found.items[["item", "status"]].to_dict("records")[0]
    {'item': 'simulated site: H1', 'status': 'done'}
    """

    sets: pd.DataFrame = field(repr=False)
    items: pd.DataFrame = field(repr=False)

    @property
    def failed(self) -> pd.DataFrame:
        """Items that failed, with the reason."""
        return self.items.loc[self.items["status"] == "failed", ["item", "message"]]

    def to_frame(self) -> pd.DataFrame:
        """One row a set; an item without a set, or that failed, has one row and no set."""
        left = self.items[["item", "status", "message"]]
        return with_units(left.merge(self.sets, on="item", how="left"))

    def to_parquet(self, path: str | os.PathLike[str]) -> Path:
        """Write `to_frame` as a Parquet file.

        Parameters
        ----------
        path : path

        Returns
        -------
        pathlib.Path

        Raises
        ------
        InputError
            If pyarrow is not installed.
        """
        from importlib.util import find_spec

        if find_spec("pyarrow") is None:
            raise InputError(
                "Parquet needs the library pyarrow, which is not installed; install it, or use "
                "to_frame().to_csv"
            )
        write_file(output_file(path), self.to_frame().to_parquet(index=False))
        return Path(path)

    def __repr__(self) -> str:
        failed = len(self.failed)
        return f"ManyAnalyses({len(self.items)} items, {len(self.sets)} sets, {failed} failed)"

    def _repr_html_(self) -> str:
        return self.to_frame().round(2).to_html(index=False, border=0)


def analyse_many(
    sites_or_holes: Site | Iterable[Site | str | os.PathLike[str]],
    n_sets: int | Literal["auto"] | Recipe = "auto",
    *,
    n_jobs: int | None = None,
    resume: str | os.PathLike[str] | None = None,
    blind_angle_deg: float | None = None,
    confidence: float = 0.95,
    max_sets: int = 8,
    include: Sequence[str] | None = None,
    max_mb: float = MAX_MB,
    random_state: RandomState = 0,
) -> ManyAnalyses:
    """Analyse many sites, or the holes of one, in parallel; a failure stops no other.

    Parameters
    ----------
    sites_or_holes : Site, or iterable of Site and of paths
        A Site alone stands for its holes, each analysed by itself. Paths are read inside their
        own task, and an iterable may be a generator, so the sites need not fit in memory together.
    n_sets, blind_angle_deg, confidence, max_sets, include, random_state
        As for `analyse`; the same for every item.
    max_mb : float
        Most megabytes of a table of a path, as for `read_site`.
    n_jobs : int or None
        Tasks at a time, in the way of joblib. No backend is named here: within
        ``joblib.parallel_config(backend="dask")`` the tasks go to a dask cluster.
    resume : path or None
        File that keeps each result as it comes. Run again with the same file, items that were
        done and have not changed are taken from it; those that failed are tried again.

    Returns
    -------
    ManyAnalyses
        The same, bit for bit, for any number of jobs, and after an interruption.

    Raises
    ------
    InputError
        If two items have one name, an item is neither a Site nor a path, or `resume` is a file
        that this version of the package did not write.

    Examples
    --------
    >>> import jointstats as js
    >>> sites = [js.simulate_site(random_state=seed) for seed in (1, 2)]
    >>> named = [replace(site, name=f"site {i}") for i, site in enumerate(sites)]
    >>> js.analyse_many([*named, "no such place"])
    ManyAnalyses(3 items, 6 sets, 1 failed)
    """
    from joblib import Parallel, delayed

    if n_jobs is not None and (type(n_jobs) is not int or n_jobs == 0):
        raise InputError(f"n_jobs must be a whole number other than 0, or None; got {n_jobs!r}")
    recipe = one_recipe(
        n_sets,
        blind_angle_deg=blind_angle_deg,
        confidence=confidence,
        max_sets=max_sets,
        include=include,
        random_state=as_seed(random_state),
    )
    ledger = Ledger(resume)
    order: list[str] = []
    waiting = _waiting(sites_or_holes, recipe, ledger, order)
    tasks = (delayed(_one)(name, mark, item, recipe, max_mb) for name, mark, item in waiting)
    for entry in Parallel(n_jobs=n_jobs, return_as="generator")(tasks):
        ledger.add(entry)
    return _gathered([ledger.entries[name] for name in order])


def _waiting(
    sites_or_holes: Site | Iterable[Item],
    recipe: Recipe,
    ledger: Ledger,
    order: list[str],
) -> Iterator[tuple[str, str, Item]]:
    """Items not yet done, as they come; their names are noted in `order`."""
    taken: set[str] = set()
    for name, item in _named(sites_or_holes):
        if name in taken:
            raise InputError(
                f"two items are called {name!r}; names must differ, so that results can be told "
                "apart"
            )
        taken.add(name)
        order.append(name)
        mark = fingerprint(item, repr(recipe))
        if not ledger.has(name, mark):
            yield name, mark, item


def _named(sites_or_holes: Site | Iterable[Item]) -> Iterator[tuple[str, Item]]:
    from jointstats.borehole.fractures import Fractures
    from jointstats.borehole.site import Site

    if isinstance(sites_or_holes, Site):
        site = sites_or_holes
        for hole in site.holes:
            own = Fractures(site.fractures).in_hole(hole.name).table.reset_index(drop=True)
            name = f"{site.name}: {hole.name}"
            yield name, replace(site, name=name, holes=(hole,), fractures=own)
        return
    if isinstance(sites_or_holes, (str, os.PathLike)):
        raise InputError(
            f"analyse_many takes a Site, or several sites or paths; got the one path "
            f"{str(sites_or_holes)!r}: put it in a list, or read it with read_site"
        )
    if not isinstance(sites_or_holes, Iterable):
        raise InputError(
            f"analyse_many takes a Site, or several; got {type(sites_or_holes).__name__}"
        )
    for item in sites_or_holes:
        if isinstance(item, Site):
            yield item.name, item
        elif isinstance(item, (str, os.PathLike)):
            yield str(item), str(item)
        else:
            raise InputError(f"an item must be a Site or a path; got {type(item).__name__}")


def _one(
    name: str, mark: str, item: Item, recipe: Recipe, max_mb: float
) -> dict[str, object]:
    """Analyse one item, and keep only the figures: a result holds all its fractures."""
    from threadpoolctl import threadpool_limits

    from jointstats.sets.analysis import analyse
    from jointstats.tables.read import read_site

    entry: dict[str, Any] = {"item": name, "mark": mark}
    try:
        # One thread, so that sums are made in one order wherever the task runs.
        with threadpool_limits(limits=1):
            if isinstance(item, (str, os.PathLike)):
                item = read_site(item, max_mb=max_mb)
            result = analyse(item, recipe)
    except Exception as error:  # noqa: BLE001  (whatever is wrong with one item, the rest go on)
        kind = "" if isinstance(error, InputError) else f"{type(error).__name__}: "
        message = f"{kind}{error}"
        return entry | {"status": "failed", "message": message, "sets": []}
    counts = result.counts
    return entry | {
        "status": "done",
        "message": "",
        "n_sets": len(result.sets),
        "n_fractures": counts.total,
        "n_in_a_set": counts.in_a_set,
        "n_unassigned": counts.unassigned,
        "background_per_m": None if result.unoriented else result.background_per_m,
        "logged_m": result.sampling.logged_m,
        "sets": [one.to_row() for one in result.sets],
    }


def _gathered(entries: list[dict[str, Any]]) -> ManyAnalyses:
    items = pd.DataFrame(entries, columns=_ITEM_COLUMNS)
    rows = [{"item": entry["item"], **row} for entry in entries for row in entry["sets"]]
    columns = list(rows[0]) if rows else ["item", "set"]
    whole = {name: "Int64" for name in _ITEM_COLUMNS if name.startswith("n_")}
    return ManyAnalyses(pd.DataFrame(rows, columns=columns), items.astype(whole))
