"""What to do against the heat of a stage, in codes; each is common practice unless its sentence names a source."""

import numpy as np

from brinebook.engine.loss.wbgt import wbgt_simple_c
from brinebook.engine.stage.air import vapour_pressure_pa
from brinebook.engine.stage.segments import SegmentTable

WARM_WBGT_C, HOT_WBGT_C, EXTREME_WBGT_C = 18.0, 23.0, 28.0
"""Bands of a published protocol for racing in the heat, second-hand: yellow, orange, red; to be confirmed."""
STEPS = (
    (WARM_WBGT_C, ("ice_vest", "cold_bottles")),
    (HOT_WBGT_C, ("ice_socks", "pour_water", "ask_for_relaxed_feeding", "watch_signs")),
    (EXTREME_WBGT_C, ("doctor_on_duty", "shorten_warm_up")),
)


def heat_codes(segments: SegmentTable) -> list[str]:
    """List what to do for the hottest place of the road, mildest first; nothing on a cool day."""
    vapour_kpa = vapour_pressure_pa(
        segments.air_temperature_c, relative_humidity_frac=segments.relative_humidity_frac
    ) / 1000.0
    hottest_c = float(np.max(wbgt_simple_c(segments.air_temperature_c, vapour_pressure_kpa=vapour_kpa)))
    return [code for from_c, codes in STEPS if hottest_c >= from_c for code in codes]
