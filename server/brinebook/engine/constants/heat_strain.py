"""Numbers of ISO 7933 predicted heat strain, both editions. Source key ``iso7933`` unless a line says otherwise."""

from dataclasses import dataclass

BODY_SURFACE_FACTOR = 0.202  # [m2], mass in kg and height in m
STILL_AIR_LAYER_M2_K_PER_W = 0.111  # [m2 K/W], boundary layer in still air
STATIC_PERMEABILITY_FRAC = 0.38  # [frac], moisture permeability index of the clothing at rest
PERMEABILITY_MAX_FRAC = 0.9  # [frac]
PERMEABILITY_WIND = (2.6, 6.5, 4.9)  # [1], square, linear and constant term of the wind correction
LEWIS_K_PER_KPA = 16.7  # [K/kPa]

# Wind and walking thin out clothing and air layer: exp((a v - b) v + (c w - d) w)
CLOTHING_CORRECTION = (1.044, 0.066, 0.398, 0.094, 0.378)  # [1], factor, a, b, c, d, from 0.6 clo up
AIR_LAYER_CORRECTION = (1.0, 0.047, 0.472, 0.117, 0.342)  # [1], factor, a, b, c, d, at 0 clo
CLOTHED_FROM_CLO = 0.6  # [clo], correction and skin temperature of a clothed body from here
NUDE_UP_TO_CLO = 0.2  # [clo], skin temperature of a nude body up to here
CORRECTION_AIR_MAX_M_PER_S = 3.0  # [m/s], the clothing correction takes no faster air
CORRECTION_WALK_MAX_M_PER_S = 1.5  # [m/s], no correction takes a faster walk
WALK_PER_W_PER_M2 = 0.0052  # [m/s per W/m2], walk guessed from metabolic rate
WALK_FROM_W_PER_M2 = 58.0  # [W/m2], metabolic rate of rest
WALK_GUESS_MAX_M_PER_S = 0.7  # [m/s]

NATURAL_CONVECTION = 2.38  # [W/m2/K per K^0.25]
FORCED_SLOW = (3.5, 5.2)  # [W/m2/K, W/m2/K per m/s], up to 1 m/s
FORCED_FAST = (8.7, 0.6)  # [W/m2/K, 1], power law above 1 m/s
CLOTH_EMISSIVITY_FRAC = 0.97  # [frac], cloth without a reflective layer
REFLECTIVE_AREA_FRAC = 0.54  # [frac], of the body under reflective cloth
RADIATION_ZERO_C = 273.0  # [K at 0 C], as printed in the standard's code
RADIATING_AREA_FRAC: dict[str, float] = {"standing": 0.77, "sitting": 0.70, "crouching": 0.67}

SKIN_CLOTHED = (12.165, 0.02017, 0.04361, 0.19354, 0.25315, 0.005346, 0.51274)  # [C] base; per air C, radiant C,
# kPa, minus per m/s, per W/m2, per rectal C
CORE_BALANCE_C = 36.6  # [C], core temperature in balance at no metabolic rate
CORE_BALANCE_PER_W_PER_M2 = 0.0036  # [C per W/m2]
CORE_TIME_MIN = 10.0  # [min], lag of balance core temperature and of the sweat rate
SKIN_TIME_MIN = 3.0  # [min], lag of the skin temperature
START_SKIN_C = 34.1  # [C]
START_CORE_C = 36.8  # [C]
SHELL_SHARE_MAX_FRAC = 0.3  # [frac], share of the body at skin temperature, at 36.8 C
SHELL_SHARE_MIN_FRAC = 0.1  # [frac]
SHELL_SHARE_PER_C = 0.09  # [1/C]
RECTAL_PER_CORE = 2.0  # [1], rectal temperature follows (2 core - 1.962 rectal - 1.31) / 9 a minute
RECTAL_PER_RECTAL = 1.962  # [1]
RECTAL_BASE_C = 1.31  # [C]
RECTAL_DIVISOR = 9.0  # [1]
RECTAL_LIMIT_C = 38.0  # [C]

WETTEDNESS_STREAMING = 1.7  # [frac], above it the sweat rate stands at its maximum
EFFICIENCY_MIN_FRAC = 0.05  # [frac]
WETTEDNESS_MAX_FRAC = 0.85  # [frac], not acclimatised; 1 when acclimatised
WATER_G_PER_W_MIN = 2.67 / 1.8 / 60.0  # [g/W/min], evaporative heat to water, as printed in the standard's code
DRY_TIME_FRAC = 0.6  # [frac], of the time limit without drink, 2004


@dataclass(frozen=True, slots=True)
class HeatStrainEdition:
    """What one edition of ISO 7933 says its own way; ranges are Annex A, quantity to (low, high)."""

    model: str
    clothing_area_per_clo: float
    reflective_emissivity_frac: float
    has_sweat_cap_by_rate: bool
    is_skin_settled_at_start: bool
    is_convection_from_skin: bool
    mean_loss_frac: float
    cautious_loss_frac: float
    dry_loss_frac: float
    dry_time_frac: float
    ranges: dict[str, tuple[float, float]]
    body_heat_w_min_per_kg_k: float = 57.83
    sweat_max_w_per_m2: float = 400.0
    sweat_min_cap_w_per_m2: float = 250.0
    sweat_cap_offset_w_per_m2: float = 32.0
    acclimatised_gain_frac: float = 1.25


_RANGES = {
    "air_temperature_c": (15.0, 50.0),
    "radiant_excess_c": (0.0, 60.0),
    "air_speed_m_per_s": (0.0, 3.0),
    "clothing_clo": (0.1, 1.0),
}
EDITION_2004 = HeatStrainEdition(
    model="iso7933_2004",
    clothing_area_per_clo=0.30,
    reflective_emissivity_frac=0.97,
    has_sweat_cap_by_rate=True,
    is_skin_settled_at_start=False,
    is_convection_from_skin=True,
    mean_loss_frac=0.075,
    cautious_loss_frac=0.05,
    dry_loss_frac=0.05,
    dry_time_frac=DRY_TIME_FRAC,
    ranges=_RANGES | {"metabolic_rate_w_per_m2": (100.0, 450.0), "vapour_pressure_kpa": (0.0, 4.5)},
)
EDITION_2023 = HeatStrainEdition(
    model="iso7933_2023",
    clothing_area_per_clo=0.28,
    reflective_emissivity_frac=0.58,
    has_sweat_cap_by_rate=False,
    is_skin_settled_at_start=True,
    is_convection_from_skin=False,
    mean_loss_frac=0.05,
    cautious_loss_frac=0.05,
    dry_loss_frac=0.03,
    dry_time_frac=1.0,
    ranges=_RANGES | {"metabolic_rate_w_per_m2": (56.0, 250.0), "vapour_pressure_kpa": (0.5, 4.5)},
)
