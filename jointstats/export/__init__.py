"""Results for other programs, and read back: the record of a result, maps, tables, planes in space."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.export.ags import write_ags as write_ags
    from jointstats.export.geojson import write_geojson as write_geojson
    from jointstats.export.geopackage import write_geopackage as write_geopackage
    from jointstats.export.load import RecordedResult as RecordedResult
    from jointstats.export.load import RecordedSet as RecordedSet
    from jointstats.export.parquet import write_parquet as write_parquet
    from jointstats.export.vtk import write_vtk as write_vtk

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
