"""Use the sets of a site in a stability design: orientations, frequency and a first block size.

Prints, for the invented dam site, each set with its interval, how often a level tunnel of a given
trend would meet a joint, and the volume of the block that the three sets bound. What it prints is
input for a design, not a design: see the cautions in the report.
"""

from __future__ import annotations

from pathlib import Path

import jointstats as js

site = js.read_site(Path(__file__).resolve().parent / "dam_site")
result = js.analyse(site, random_state=0)

for one in result.sets:
    low, high = one.p32_interval
    print(
        f"{one.name}: {one.dip_deg:.0f}/{one.dip_direction_deg:03.0f} within {one.cone_deg:.0f} deg, "
        f"P32 {one.p32_per_m:.2f} ({low:.2f} to {high:.2f}) per m, spacing {one.spacing_term}"
    )

tunnel = js.lines_from_trend([0, 45, 90, 135], 0)
met, rqd = js.design.frequency_along(result, tunnel), js.design.rqd_along(result, tunnel)
for k, trend in enumerate([0, 45, 90, 135]):
    print(
        f"tunnel toward {trend:03d}: {met.estimate[k]:.2f} ({met.low[k]:.2f} to {met.high[k]:.2f}) "
        f"joints per m, theoretical RQD {rqd.estimate[k]:.0f} ({rqd.low[k]:.0f} to {rqd.high[k]:.0f})"
    )

# Mean normal spacing of parallel, persistent joints is the reciprocal of P32.
spacings = [1.0 / one.p32_per_m for one in result.sets[:3]]
normals = [one.mean for one in result.sets[:3]]
print(
    f"block of the first three sets: {js.design.block_volume(spacings, normals):.1f} m3, "
    f"volumetric joint count {js.line.volumetric_joint_count(spacings):.1f} per m3"
)

for caution in result.cautions:
    print(f"Caution, {caution.about}: {caution.text}")
print(result.notice)
