"""The fractures of a result as Parquet, types and empty cells kept."""

from __future__ import annotations

import io
import os
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from jointstats.errors import InputError
from jointstats.tables.output import output_file, write_file

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis


def write_parquet(result: SiteAnalysis, path: str | os.PathLike[str]) -> Path:
    """Write the table of fractures, unrounded, as a Parquet file.

    Parameters
    ----------
    result : SiteAnalysis
    path : path

    Returns
    -------
    Path
        What was written; `pandas.read_parquet` gives the columns of `result.fractures`, with the
        cautions and the notice in its ``attrs``.

    Raises
    ------
    InputError
        If pyarrow is not installed (the extra ``parquet``), or `result` is of poles alone.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), 3)
    >>> write_parquet(result, "fractures.parquet")  # doctest: +SKIP
    PosixPath('fractures.parquet')
    """
    if not hasattr(result, "site"):
        raise InputError(f"result must be what analyse gave; got {type(result).__name__}")
    if find_spec("pyarrow") is None:
        raise InputError('Parquet needs pyarrow; install it with: pip install "jointstats[parquet]"')
    target = output_file(path, result.site.sources)
    table = result.fractures.copy(deep=False)
    words = {
        name: table[name].astype("str").where(table[name].notna(), None)
        for name in table
        if table[name].dtype == object
    }
    table = table.assign(**words)
    table.attrs = {
        "cautions": [f"{one.about}: {one.text}" for one in result.cautions],
        "notice": result.notice,
    }
    stream = io.BytesIO()
    table.to_parquet(stream, engine="pyarrow", index=False)
    write_file(target, stream.getvalue())
    return target
