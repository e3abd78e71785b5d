"""What was drilled, seen and measured: tables in, oriented fractures and exposure out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.borehole.bedding import mean_bedding as mean_bedding
    from jointstats.borehole.condition import condition_summary as condition_summary
    from jointstats.borehole.condition import condition_terms as condition_terms
    from jointstats.borehole.cone import chances_on_cone as chances_on_cone
    from jointstats.borehole.cone import poles_on_cone as poles_on_cone
    from jointstats.borehole.core_sense import SenseCheck as SenseCheck
    from jointstats.borehole.core_sense import check_core_sense as check_core_sense
    from jointstats.borehole.depth import stretched_depth as stretched_depth
    from jointstats.borehole.depth import tied_depth as tied_depth
    from jointstats.borehole.fractures import Fractures as Fractures
    from jointstats.borehole.fractures import Status as Status
    from jointstats.borehole.hole import LoggedInterval as LoggedInterval
    from jointstats.borehole.ledger import Fracture as Fracture
    from jointstats.borehole.ledger import corrections_of as corrections_of
    from jointstats.borehole.ledger import explain_fracture as explain_fracture
    from jointstats.borehole.ledger import ledger_of as ledger_of
    from jointstats.borehole.ledger import station_residuals as station_residuals
    from jointstats.borehole.rotation import roll_at as roll_at
    from jointstats.borehole.sampling import SampledLength as SampledLength
    from jointstats.borehole.sampling import SampledLine as SampledLine
    from jointstats.borehole.sampling import Sampling as Sampling
    from jointstats.borehole.settings import ReadingErrors as ReadingErrors
    from jointstats.borehole.simulate import simulate_fractures as simulate_fractures
    from jointstats.borehole.spans import Spans as Spans
    from jointstats.borehole.trace import TracePlane as TracePlane
    from jointstats.borehole.wall_points import ring_points as ring_points

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
