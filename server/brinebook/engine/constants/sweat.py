"""Numbers of sweat composition, sweat loss and what weighings teach. Unit and source key stand with each."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SiteEquation:
    """Whole-body from regional sodium, y = slope x + intercept."""

    slope_frac: float
    intercept_mmol_per_l: float
    source: str


@dataclass(frozen=True, slots=True)
class SitePrior:
    """Population level of a forearm site, and what its equation leaves unexplained."""

    log_mean: float
    calibration_sd_mmol_per_l: float
    source: str


# Slope [mmol/L per mmol/L], intercept [mmol/L]. Ventral samples never take the dorsal equation: raw, they already
# stand at the whole-body level (source key ``baker2020``).
SITE_EQUATIONS: dict[str, SiteEquation] = {
    "dorsal_forearm": SiteEquation(0.57, 11.05, "baker2016"),
    "ventral_forearm": SiteEquation(1.0, 0.0, "baker2020"),
    "thigh": SiteEquation(0.75, 11.37, "baker2009"),
    "five_site": SiteEquation(0.68, 0.44, "baker2009"),
}

# Mean of ln forearm sodium [ln mmol/L], calibration sd [mmol/L]; only these sites can carry an estimate.
SITE_PRIORS: dict[str, SitePrior] = {
    "dorsal_forearm": SitePrior(3.695, 6.5, "sodium_estimator"),
    "ventral_forearm": SitePrior(3.50, 9.0, "sodium_estimator"),
}

# Sodium estimator, source key ``sodium_estimator``
RIDER_LOG_SD = 0.36  # [ln], lasting difference between riders
SEASON_LOG_SD = 0.17  # [ln], season, acclimation and diet drift
SEASON_TIME_DAYS = 40.0  # [days], correlation time, source key ``daanen2018``
DAY_LOG_SD = 0.12  # [ln], day to day
ARM_LOG_SD = 0.08  # [ln], one arm, electrode included
WHOLE_BODY_LOW_MMOL_PER_L = 10.0  # [mmol/L], interval cut
WHOLE_BODY_HIGH_MMOL_PER_L = 105.0  # [mmol/L], interval cut
INTERVAL_Z = 1.96  # [sd], 95 % of a normal

# Sample rules, source key ``sample_rules``; the minimum rate from source key ``clsi_c34``
LOCAL_RATE_MIN_MG_PER_CM2_MIN = 0.1  # [mg/cm2/min], below it the sample is refused
LOCAL_RATE_LOW_MG_PER_CM2_MIN = 0.25  # [mg/cm2/min], flagged below
LOCAL_RATE_HIGH_MG_PER_CM2_MIN = 2.5  # [mg/cm2/min], flagged above
ANALYSER_RESERVE = 1.2  # [1], volume over what the analyser asks for
FIRST_SWEAT_MIN = 20.0  # [min], collection should start later than this into the effort
STORED_FRESH_DAYS = 1.0  # [days], no extra spread up to here
STORED_MAX_DAYS = 7.0  # [days], refused beyond
STORED_SD_MMOL_PER_L = 3.5  # [mmol/L], source key ``goulet2018_storage``
CONDUCTIVITY_SD_MMOL_PER_L = 7.0  # [mmol/L], sodium read as conductivity
SODIUM_LOW_MMOL_PER_L = 7.0  # [mmol/L], lowest of 663 people
SODIUM_HIGH_MMOL_PER_L = 105.0  # [mmol/L], highest of 663 people
SODIUM_REPEAT_MMOL_PER_L = 120.0  # [mmol/L], set aside until repeated
SODIUM_IMPOSSIBLE_MMOL_PER_L = 140.0  # [mmol/L], the gland's primary fluid
FIRST_SWEAT_LOG_SD = 0.10  # [ln]
RATE_LOG_SD = 0.10  # [ln], sample with a doubtful local rate
RANGE_LOG_SD = 0.15  # [ln], sample outside the observed span
PAIR_ACCEPT_FRAC = 0.25  # [frac], left/right ratio less one
PAIR_ACCEPT_MMOL_PER_L = 6.0  # [mmol/L], left/right difference
PAIR_REJECT_FRAC = 0.40  # [frac]

# What hands may note about a collection: added spread [ln], none where only the volume is in doubt
REMARK_LOG_SDS: dict[str, float] = {
    "VOL_FULL": 0.0,
    "LEAK": 0.10,
    "DETACHED": 0.10,
    "TATTOO_OR_WOUND": 0.48,  # source key ``luetkemeier2017``
    "CAL_SLOPE": 0.10,
    "QC_WARN": 0.075,
    "QC_FAIL": 0.0,
    "DUP_READ": 0.07,
    "NA_CL": 0.10,
}

# Electrode and control solutions, source key ``sample_rules``
SLOPE_LOW_MV_PER_DECADE = 52.0  # [mV/decade]
SLOPE_HIGH_MV_PER_DECADE = 62.0  # [mV/decade]
CALIBRATION_LOW_MMOL_PER_L = 10.0  # [mmol/L], a calibration brackets these two
CALIBRATION_HIGH_MMOL_PER_L = 100.0  # [mmol/L]
CALIBRATION_SAMPLES_N = 10  # [1], readings before the next calibration
CALIBRATION_CHANGE_C = 5.0  # [C], change of temperature before the next calibration
CONTROL_LOW_MMOL_PER_L = (20.0, 30.0)  # [mmol/L], low control solution
CONTROL_HIGH_MMOL_PER_L = (80.0, 90.0)  # [mmol/L], high control solution
CONTROL_ACCEPT_FRAC = 0.05  # [frac], off nominal
CONTROL_STOP_FRAC = 0.10  # [frac], off nominal
DUPLICATE_FRAC = 0.07  # [frac], two readings of one sample, source key ``goulet2017``
DUPLICATE_MMOL_PER_L = 2.0  # [mmol/L], the same for dilute samples

# Ions beside sodium, source key ``sample_rules``
CHLORIDE_PER_SODIUM = (0.55, 1.10)  # [1]
SODIUM_LESS_CHLORIDE_MMOL_PER_L = (-5.0, 20.0)  # [mmol/L]
CHLORIDE_IMPOSSIBLE_MMOL_PER_L = 160.0  # [mmol/L], an error of analysis or collection
POTASSIUM_MMOL_PER_L = (2.5, 10.0)  # [mmol/L], outside: skin debris
SALTY_MMOL_PER_L = 90.0  # [mmol/L], sodium above it twice, with chloride below, is for the team's physician
SALTY_CHLORIDE_MMOL_PER_L = 60.0  # [mmol/L], source key ``clsi_c34``
SALTY_TESTS_N = 2  # [1]

# Classes of runners, source key ``lara2016``
CLASS_BOUNDS_MMOL_PER_L = (30.0, 60.0)  # [mmol/L]
CLASS_SHARES_FRAC = (0.27, 0.54, 0.20)  # [frac], below, between, above; rounded in the source

# Heat and effort, source key ``sodium_modifiers``
ADAPTED_LOG = -0.35  # [ln], forearm sodium of a fully heat-adapted rider
ADAPTATION_ONSET_DAYS = 4.0  # [days], of heat exposure
ADAPTATION_DECAY_DAYS = 40.0  # [days], source key ``daanen2018``
STALE_DAYS = 60.0  # [days], an older test is said to be old
DIET_EXPONENT = 0.12  # [1], sodium with sodium eaten
ARM_PAIRS_N = 20  # [1], left/right pairs before a team's own arm spread counts
INTENSITY_EXPONENT = 0.5  # [1], sodium with sweat rate
INTENSITY_EXPONENT_SD = 0.3  # [1]
INTENSITY_RATIO = (0.5, 2.0)  # [1], of sweat rates, clipped
INTENSITY_UNKNOWN_LOG_SD = 0.15  # [ln], when a sweat rate is unknown

# Two sites at once: spread of whole-body sodium from one site, source key ``baker2020``
SITE_SD_MMOL_PER_L: dict[str, float] = {"dorsal_forearm": 7.1, "ventral_forearm": 9.7, "thigh": 6.6}
SITES_SD_MIN_MMOL_PER_L = 6.0  # [mmol/L], no average of sites is better than this

# Chemistry; conductivity from source key ``cf_conductivity``
CONDUCTIVITY_RANGE_MMOL_PER_L = (57.0, 84.0)  # [mmol/L], equivalents the chloride line was read in
CONDUCTIVITY_SODIUM_LESS_MMOL_PER_L = 12.0  # [mmol/L], equivalents less sodium, until own pairs exist
CONDUCTIVITY_INTERCEPT_MMOL_PER_L = 30.0  # [mmol/L], source key ``cf_conductivity``
CONDUCTIVITY_SLOPE = 0.9  # [mmol/L per mmol/L], source key ``cf_conductivity``
NERNST_MV_PER_DECADE_K = 0.1984  # [mV/decade/K], monovalent ion
FOREARM_RATE_SLOPE = 59.7  # [mmol/L per mg/cm2/min], source key ``buono2008``
FOREARM_RATE_INTERCEPT_MMOL_PER_L = 6.7  # [mmol/L], source key ``buono2008``
HEAT_DECAY_FRAC_PER_DAY = 0.025  # [1/day], source key ``daanen2018``

# Mass balance, source key ``mitchell1972``
RESPIRATION_G_PER_L_MMHG = 0.019  # [g per L oxygen per mmHg]
BREATH_VAPOUR_PRESSURE_MMHG = 44.0  # [mmHg], of expired air
CARBON_DIOXIDE_G_PER_L = 1.9769  # [g/L]
OXYGEN_G_PER_L = 1.4290  # [g/L]
OXYGEN_J_PER_L = 20900.0  # [J/L], source key ``iom1996``
RESPIRATORY_EXCHANGE_FRAC = 0.90  # [frac], carbon dioxide per oxygen on a ride, source key ``sodium_estimator``
RIDE_MIN_H = 1.0  # [h], shorter rides give no sweat rate, source key ``sodium_estimator``
NON_SWEAT_KG_PER_KCAL = 0.20e-3  # [kg/kcal], source key ``cheuvront2017``
NON_SWEAT_SD_FRAC = 0.10  # [frac], source key ``reconciliation``

# Heat balance
STEFAN_BOLTZMANN_W_PER_M2_K4 = 5.67e-8  # [W/m2/K4], source key ``iso7933``
LATENT_HEAT_J_PER_G = 2426.0  # [J/g], source key ``iso7933``
SATURATION_KPA = 0.6105  # [kPa], source key ``iso7933``
SATURATION_SLOPE = 17.27  # [1], source key ``iso7933``
SATURATION_OFFSET_C = 237.3  # [C], source key ``iso7933``
DUBOIS_FACTOR = 0.007184  # [m2], mass in kg and height in cm, source key ``dubois1916``
DUBOIS_MASS_EXPONENT = 0.425  # [1], source key ``dubois1916``
DUBOIS_HEIGHT_EXPONENT = 0.725  # [1], source key ``dubois1916``
INSULATION_M2_K_PER_W_CLO = 0.155  # [m2 K/W per clo], source key ``iso7933``
CONVECTION_MIN_W_PER_M2_K = 3.1  # [W/m2/K], still air, source key ``kerslake1972``
EXPIRED_BASE_C = 28.56  # [C], expired air temperature, source key ``iso7933``
EXPIRED_PER_C = 0.115  # [C/C], source key ``iso7933``
EXPIRED_PER_KPA = 0.641  # [C/kPa], source key ``iso7933``
BREATH_CONVECTION = 0.001516  # [1/C], source key ``iso7933``
BREATH_EVAPORATION = 0.00127  # [1], source key ``iso7933``
BREATH_EVAPORATION_BASE = 59.34  # [1], source key ``iso7933``
BREATH_EVAPORATION_PER_C = 0.53  # [1/C], source key ``iso7933``
BREATH_EVAPORATION_PER_KPA = 11.63  # [1/kPa], source key ``iso7933``
SKIN_BASE_C = 7.191  # [C], nude regression, source key ``iso7933``
SKIN_PER_AIR_C = 0.064  # [C/C], source key ``iso7933``
SKIN_PER_RADIANT_C = 0.061  # [C/C], source key ``iso7933``
SKIN_PER_KPA = 0.198  # [C/kPa], source key ``iso7933``
SKIN_PER_M_PER_S = 0.348  # [C per m/s], source key ``iso7933``
SKIN_PER_CORE_C = 0.616  # [C/C], source key ``iso7933``
SKIN_RADIANT_EXCESS_MAX_C = 10.0  # [C], clip of radiant above air temperature, source key ``sweat_chain``
WETTEDNESS_NO_EVAPORATION = 9.0  # [frac], stands for air that takes no water, source key ``sweat_chain``
SWEAT_TIME_H = 1 / 6  # [h], lag of the sweat rate, 10 min, source key ``iso7933``
BODY_ABSORPTIVITY = 0.7  # [frac], solar, source key ``dinapoli2020``
BODY_EMISSIVITY = 0.97  # [frac], long-wave, source key ``dinapoli2020``
PROJECTED_AREA_FRAC = 0.308  # [frac], source key ``dinapoli2020``
PROJECTED_AREA_ANGLE = 0.998  # [1], source key ``dinapoli2020``
PROJECTED_AREA_DEG2 = 50000.0  # [deg2], source key ``dinapoli2020``
GROSS_EFFICIENCY_FRAC = 0.22  # [frac], source key ``lucia2002``
METABOLIC_FLOOR_W = 160.0  # [W], coasting, source key ``sweat_chain``


@dataclass(frozen=True, slots=True)
class ChainParameters:
    """Parameters of the sweat chain; one published or chosen set, not universal (source key ``sweat_chain``)."""

    insulation_clo: float = 0.33
    permeability_frac: float = 0.90
    lewis_k_per_kpa: float = 16.5
    convection_w_per_m2_k: float = 8.3
    convection_exponent_n: float = 0.6
    clothing_area_per_clo: float = 0.28
    emissivity_frac: float = 0.97
    radiating_area_frac: float = 0.70
    skin_air_speed_max_m_per_s: float = 3.0
    core_temperature_c: float = 38.3
    softness_w_per_m2: float = 40.0
    efficiency_min_frac: float = 0.30
    base_g_per_m2_h: float = 105.0
    cap_g_per_m2_h: float = 1190.0
    storage_w_per_m2: float = 0.0


# Ranges the chain was looked at in, source key ``sweat_chain``: quantity -> (low, high)
CHAIN_RANGES: dict[str, tuple[float, float]] = {
    "power_w": (0.0, 450.0),
    "air_temperature_c": (0.0, 40.0),
    "air_speed_m_per_s": (1.0, 20.0),
}

# Simple wet-bulb globe temperature, source key ``wbgt_simple``
WBGT_PER_C = 0.567  # [C/C]
WBGT_PER_HPA = 0.393  # [C/hPa]
WBGT_BASE_C = 3.94  # [C]

# Form of a forecast: enough draws for a smooth 10 % tail, one dot of the Lane per twentieth
N_DRAWS = 256  # [1], chosen, source key ``sweat_chain``
N_DOTS = 20  # [1], chosen, source key ``sweat_chain``
QUANTILES = (0.1, 0.5, 0.9)  # [frac], the 80 % band and its middle, source key ``sweat_chain``

# Spread of a forecast and learning from weighings, source key ``sweat_chain``
FACTOR_PRIOR_LOG_SD = 0.25  # [ln], between riders
TEAM_PRIOR_LOG_SD = 0.20  # [ln], offset of the whole team
STAGE_DAY_LOG_SD = 0.15  # [ln], same rider, other day
INPUT_MEASURED_LOG_SD = 0.08  # [ln], power measured
INPUT_ESTIMATED_LOG_SD = 0.15  # [ln], power estimated
STAGE_NOISE_PRIOR_N = 40.0  # [1], chosen: rider-days that the default spread of a stage is worth
STAGE_NOISE_FLOOR_LOG_SD = 0.10  # [ln], chosen: no team's days are taken for more alike than this
STRUCTURE_LOG_SD_PER_WETTEDNESS = 0.25  # [ln], per unit of wettedness above the next line
STRUCTURE_WETTEDNESS = 0.6  # [frac]
FACTOR_DRIFT_LOG_SD_PER_DAY = 0.03  # [ln], random walk
MODEL_DAY_LOG_SD = 0.10  # [ln], source key ``reconciliation``
BELIEVABLE_RATIO = (0.3, 3.0)  # [1], weighed over model; beyond, weigh again, source key ``reconciliation``
GATE_SD = 3.0  # [sd], a weighing further off than this is not learnt from, source key ``reconciliation``

# Settling, source key ``reconciliation``
SCALE_SD_KG = 0.10  # [kg], one weighing around a stage
RIDE_SCALE_SD_KG = 0.05  # [kg], one towelled weighing around a test ride
URINE_SD_L = 0.10  # [L], urine and kit
WET_KIT_SD_KG = 0.15  # [kg], sweat in clothes nobody weighed
BOTTLE_SD_FRAC = 0.12  # [frac], of a bottle's volume, fill and dregs
WEIGHED_SD_L = 0.01  # [L], one bottle on a kitchen scale
COUNTED_SD_L = 0.06  # [L], what one returned bottle still held, by eye
TAPPED_SD_FRAC = 0.12  # [frac], of one tapped level
RECALLED_SD_FRAC = 0.30  # [frac], of one recalled volume
NOTHING_NOTED_SD_L = 1.0  # [L], nobody noted anything
AGREE_SD = 2.0  # [sd], two lines of evidence agree within this

# Morning check, source key ``wut2005``
MORNING_MASS_FRAC = 0.01  # [frac], outside this band of the baseline
MORNING_MASS_SD_FRAC = 0.0066  # [frac], one morning around the next, source key ``cheuvront2004``
BASELINE_MORNINGS_N = 7  # [1], last mornings of the rolling line
BASELINE_LEAST_N = 3  # [1], source key ``mcdermott2017``
BASELINE_AFTER_ILLNESS_N = 5  # [1], well mornings before the line moves again
BASELINE_OUTLIER_FRAC = 0.03  # [frac], a scale or a typing error, over four spreads off
THIRST_LINE = (0.3, 281.0)  # [cm per mosm/kg], [mosm/kg], source key ``thompson1986``
VASOPRESSIN_LINE = (0.4, 285.0)  # [pmol/L per mosm/kg], [mosm/kg], source key ``thompson1986``
URINE_COLOUR_ABOVE = 5  # [1], 8-point chart
THIRST_FROM = 5  # [1], scale 1-9
