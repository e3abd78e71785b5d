"""Core and image of one length: aligned and paired. Knows no sets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.pairs.core_image import CoreMatch as CoreMatch
    from jointstats.pairs.simulate_core import simulate_core_and_image as simulate_core_and_image
    from jointstats.pairs.site_match import SiteMatch as SiteMatch
    from jointstats.pairs.site_match import match_site as match_site

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
