"""Labels, batches and their checks: every number with unit and source key."""

from typing import Final

# --- labels
LABEL_SALT_PER_SODIUM_N: Final = 2.5  # eu1169_2011: a label's salt is a convention, not sodium chloride's 2.54
USUAL_SODIUM_MG_PER_L: Final = (200.0, 1150.0)  # own_defaults, upper end as drinks are preferred
USUAL_CARBOHYDRATE_G_PER_L: Final = (10.0, 120.0)  # own_defaults
USUAL_SODIUM_MG_PER_G: Final = (2.0, 30.0)  # own_defaults: a drink powder without its strength on the label
USUAL_CARBOHYDRATE_G_PER_G: Final = (0.3, 1.0)  # own_defaults
DISAGREE_FRAC: Final = 0.10  # own_defaults: two lines of one label differ
HABIT_SODIUM_UNIT: Final = "mg"  # own_defaults: labels print sodium in milligrams and salt in grams
MG_PER_L_PER_100_ML_N: Final = 10.0  # definition

# --- sodium chloride in water at 25 C
NACL_LIMIT_S_CM2_PER_MOL: Final = 126.45  # crc_conductivity
ONSAGER_A: Final = 60.2  # onsager1927 [S cm2 mol-1 (mol/L)-1/2]
ONSAGER_B: Final = 0.229  # onsager1927 [(mol/L)-1/2]
NACL_NEXT_TERM: Final = 88.0  # own_defaults: fitted to crc_conductivity up to 0.1 mol/L [S cm2 mol-1 (mol/L)-1]
CONDUCTIVITY_PER_K: Final = 0.020  # own_defaults: 1.9-2.1 % per kelvin for dilute salts
REFERENCE_C: Final = 25.0  # definition

# --- spread of a batch's reading, own_defaults
SCALE_SD_G: Final = 1.0
WATER_SD_FRAC: Final = 0.015
METER_SD_FRAC: Final = 0.03
BARE_METER_SD_FRAC: Final = 0.25  # without a batch known to be right: citrate, potassium and acid conduct too
REFRACTOMETER_SD_G_PER_100_G: Final = 0.2
REFRACTOMETER_SD_FRAC: Final = 0.04
UNSEEN_SALT_SD_FRAC: Final = 0.20  # salt spooned in beside the powder does not show in a refractometer

# --- buckets
SAME_VOLUME_L: Final = 1e-9  # definition: below any measure, above rounding

# --- ice
FUSION_KJ_PER_KG: Final = 333.4  # iapws_ice
WATER_KJ_PER_KG_K: Final = 4.19  # iapws_ice
BOX_LEAK_W: Final = 12.0  # own_defaults: one closed cool box in the shade
BOX_L: Final = 30.0  # own_defaults: litres of bottles in one box

# --- stock, own_defaults
USE_CORRELATION_FRAC: Final = 0.3
"""How much two riders' or two days' deviations from their forecasts go together: weather and the team's offset."""
USE_Z: Final = 1.2816  # standard normal quantile of 0.9
