"""Holes and fractures as a GeoPackage, for geographic information systems."""

from __future__ import annotations

import os
import tempfile
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from jointstats.errors import InputError
from jointstats.export.geojson import features_of, named_system, planes_of
from jointstats.export.places import left_out_sentence
from jointstats.tables.output import output_file, write_file

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis


def write_geopackage(
    result: SiteAnalysis,
    path: str | os.PathLike[str],
    *,
    coordinate_system: str | None = None,
) -> Path:
    """Write holes as lines, fractures as points and short planes, and the cautions, as layers of one file.

    Parameters
    ----------
    result : SiteAnalysis
    path : path
        The file, by custom ending in .gpkg.
    coordinate_system : str or None
        The system of the coordinates in a form that pyproj knows, such as "EPSG:25832"; None takes that
        of the title block of the site.

    Returns
    -------
    Path
        What was written: the layers holes (with the domain of each where there are several) and
        fractures, with the columns of fractures.csv; planes, a square metre of each oriented fracture
        about its place; and the table cautions, whose last row is the notice.

    Raises
    ------
    InputError
        If geopandas is not installed (the extra ``geo``), the system is not named or not known, no
        collar is known, or the place can't be written to.

    Notes
    -----
    GeoPackage is an OGC standard (12-128); geopandas writes it with pyogrio.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.read_site("examples/dam_site"))
    >>> write_geopackage(result, "site.gpkg", coordinate_system="EPSG:25832")  # doctest: +SKIP
    PosixPath('site.gpkg')
    """
    layers = (*features_of(result), planes_of(result))
    system = named_system(result, coordinate_system)
    if find_spec("geopandas") is None:
        raise InputError('a GeoPackage needs geopandas; install it with: pip install "jointstats[geo]"')
    import geopandas
    from pyproj.exceptions import CRSError

    target = output_file(path, result.site.sources)
    told = [(one.about, one.text) for one in result.cautions]
    told += [("left out", one) for one in [left_out_sentence(result)] if one]
    cautions = pd.DataFrame([*told, ("notice", result.notice)], columns=["about", "text"])
    with tempfile.TemporaryDirectory() as place:
        file = Path(place) / "site.gpkg"
        for name, features in zip(("holes", "fractures", "planes"), layers, strict=True):
            if not features:
                continue
            try:
                frame = geopandas.GeoDataFrame.from_features(features, crs=system)
            except CRSError as error:
                raise InputError(f"the coordinate system {system!r} is not known: {error}") from None
            frame.to_file(file, layer=name, driver="GPKG")
        geopandas.GeoDataFrame(cautions).to_file(file, layer="cautions", driver="GPKG")
        write_file(target, file.read_bytes())
    return target
