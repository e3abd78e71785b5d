"""Mapped faces: windows on a plane with the traces that fractures leave there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.faces.face import Face as Face
    from jointstats.faces.intensity import FaceIntensity as FaceIntensity
    from jointstats.faces.intensity import p32_on_face as p32_on_face
    from jointstats.faces.site_faces import MappedFace as MappedFace
    from jointstats.faces.site_faces import mapped_faces as mapped_faces
    from jointstats.faces.simulate import simulate_face_traces as simulate_face_traces
    from jointstats.faces.trace_length import TraceLength as TraceLength
    from jointstats.faces.trace_length import mean_trace_length as mean_trace_length

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
