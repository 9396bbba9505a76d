"""Water, sodium and carbohydrate balance: every literature number, with unit and source key."""

from typing import Final

# --- plasma sodium
NK_OFFSET_MMOL_PER_L: Final = 23.8  # kurtz_nguyen2003
NK_SLOPE: Final = 1.03  # kurtz_nguyen2003
PLASMA_SODIUM_DEFAULT_MMOL_PER_L: Final = 140.0  # nguyen_kurtz2005
SWEAT_POTASSIUM_DEFAULT_MMOL_PER_L: Final = 5.0  # montain2006
PLASMA_SODIUM_FLOOR_MMOL_PER_L: Final = 138.0  # hew_butler2015 plus the model error of baker_lang_kenney2008
HYPONATRAEMIA_MMOL_PER_L: Final = 135.0  # hew_butler2015
TENTH_SD_N: Final = 1.2816  # standard normal
TAIL_SD_N: Final = 3.09  # standard normal, one in a thousand
PLASMA_SODIUM_CEILING_MMOL_PER_L: Final = 148.0  # own_defaults

# --- total body water, watson1980: offset [L], per year, per cm, per kg
WATSON_MEN: Final = (2.447, -0.09516, 0.1074, 0.3362)
WATSON_WOMEN: Final = (-2.097, 0.0, 0.1069, 0.2466)

# --- osmolality of plasma, osm_teaching
OSMOLALITY_GLUCOSE_DIVISOR: Final = 18.0
OSMOLALITY_UREA_DIVISOR: Final = 2.8

# --- targets
TOLERATED_DEFICIT_FRAC: Final = 0.02  # mcdermott2017
TOLERATED_DEFICIT_COOL_FRAC: Final = 0.03  # mosler2020
WARNING_DEFICIT_FRAC: Final = 0.04  # mcdermott2017
MAX_REPLACED_FRAC: Final = 0.80  # mosler2020
PREFERRED_SODIUM_SHARE_FRAC: Final = 0.5  # own_defaults

# --- limits of a plan
STOMACH_ALLOWANCE_L: Final = 0.25  # own_defaults
MAX_MEAN_INTAKE_L_PER_H: Final = 1.0  # lambert2008, ryan1989
MAX_ANY_HOUR_L_PER_H: Final = 1.2  # own_defaults
MAX_STOMACH_L: Final = 0.6  # mcdermott2017
EMPTYING_PER_H: Final = 1.5  # lambert2008: 12 mL/min at about 0.5 L
MAX_SODIUM_MG_PER_H: Final = 1000.0  # mccubbin_costa2018
RELEASED_SODIUM_MG_PER_H: Final = 1500.0  # own_defaults: most a physician may release
MAX_DRINK_SODIUM_MG_PER_L: Final = 1500.0  # merritt_sse262
MAX_CARBOHYDRATE_G_PER_H: Final = 90.0  # thomas2016
SINGLE_SOURCE_CARBOHYDRATE_G_PER_H: Final = 60.0  # thomas2016
TRAINED_CARBOHYDRATE_G_PER_H: Final = 120.0  # podlogar2022
CARBOHYDRATE_ALLOWANCE_G: Final = 15.0  # own_defaults
MAX_DRINK_CARBOHYDRATE_G_PER_L: Final = 80.0  # mosler2020
FLAGGED_DRINK_CARBOHYDRATE_G_PER_L: Final = 120.0  # own_defaults
PLAIN_WATER_SODIUM_MG_PER_L: Final = 100.0  # own_defaults: mineral water still counts as water
CARRIED_BOTTLES_N: Final = 3  # own_defaults: two cages and a pocket
FOODS_PER_FEED_N: Final = 6  # own_defaults: pockets and a musette
SURE_ENOUGH_FRAC: Final = 0.8  # own_defaults: chance at which a run of hand-ups counts as one that succeeds
FLAVOUR_RUN_N: Final = 3.0  # own_defaults: bottles of one flavour in a row before they pall

# --- penalties of a plan, own_defaults; the deficit per step of 0.25 %, the others as named
DEFICIT_STEP_FRAC: Final = 0.0025
WATER_STEP_L: Final = 0.1
SODIUM_STEP_MG: Final = 100.0
CARBOHYDRATE_STEP_G_PER_H: Final = 6.0

# --- after illness of the gut, own_defaults
GUT_TROUBLE_CUT_FRAC: Final = 0.30

# --- drinks
GLUCOSE_G_PER_MOL: Final = 180.156  # iupac_masses
SUCROSE_G_PER_MOL: Final = 342.297  # iupac_masses
MALTODEXTRIN_G_PER_MOL_DE: Final = 18016.0  # own_defaults: mean molar mass times dextrose equivalent
POTASSIUM_CHLORIDE_G_PER_MOL: Final = 74.551  # iupac_masses
SUGAR_VOLUME_L_PER_KG: Final = 0.62  # own_defaults: partial volume of sugar in water
WATER_PER_GLUCOSE_N: Final = (210.0, 260.0)  # loo1996, zeuthen2001: molecules carried with one glucose
WATER_G_PER_MOL: Final = 18.015  # iupac_masses

# --- keeping what is drunk, shirreffs1996 (own fit): intercept, per intake ratio, per mmol/L
URINE_FRACTION_FIT: Final = (0.247, 0.139, -0.00335)
QUICK_RATIO: Final = (1.25, 1.5)  # mcdermott2017: less than 12 h to the next start
SLOW_RATIO: Final = (1.0, 1.25)  # mcdermott2017
QUICK_RECOVERY_H: Final = 12.0  # mcdermott2017
SALTED_DRINK_WITHIN_H: Final = 6.0  # own_defaults
EVENING_DRINK_SODIUM_MMOL_PER_L: Final = 50.0  # shirreffs1996, merson2008
MEAL_DRINK_SODIUM_MMOL_PER_L: Final = 40.0  # own_defaults: density of drink and meal together
MAX_EVENING_INTAKE_L_PER_H: Final = 0.8  # lambert2008
NO_DRINK_BEFORE_BED_H: Final = 1.0  # own_defaults
OBLIGATORY_LOSS_L_PER_H: Final = 1.2 / 24.0  # iom_losses: urine 0.5 L/d and skin with breath 0.7 L/d
PRE_STAGE_DRINK_ML_PER_KG: Final = (5.0, 10.0)  # thomas2016

# --- sweat of running, mosler2020 (own fit of its table): per kg km/h, intercept, per kg
RUNNING_COOL: Final = (0.001326, -0.1119, -0.000437)
RUNNING_WARM: Final = (0.001349, -0.0427, -0.000202)

# --- the mixed-integer programme, own_defaults
PROGRAMME_REL_GAP: Final = 0.01
PROGRAMME_STEPS_N: Final = 6000
"""Steps after which a plan is taken as it is, with the gap it has."""
PROGRAMME_MOST_STEPS_N: Final = 20_000
"""Steps after which a plan is given up when none was found."""
LEAST_GAIN_U: Final = 0.2
"""A remedy that saves less than a bottle's cost is not worth saying."""
LEAST_PRICE_U: Final = 0.1
"""A limit whose loosening by a step saves less does not hold a plan back."""
NEAR_WATER_L: Final = 0.02
NEAR_SODIUM_MG: Final = 25.0
NEAR_CARBOHYDRATE_G: Final = 3.0
NEAR_PLASMA_MMOL_PER_L: Final = 0.1

# --- the pocket rule, own_defaults
POCKET_NEAR_FRAC: Final = 0.05
"""Within so much of a bottle's strength the bottle alone will do."""
POCKET_LEAST_SHARE_FRAC: Final = 0.02
"""Less than one bottle in fifty is none."""
BLEND_LEAST_STEP_MG_PER_L: Final = 1.0

# --- feeding, own_defaults
SHORTEST_STAGE_KM: Final = 0.1
FEED_REACH_KM: Final = 0.15
"""A signed zone stands somewhere within so much of its kilometre."""
