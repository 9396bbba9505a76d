"""Literature numbers of the road, the air and the sun, each with its unit and its key in ``sources/road.py``."""

from typing import Final

# --- course: own_defaults unless said
EARTH_RADIUS_M: Final = 6_371_008.8  # iugg1980
COURSE_STEP_M: Final = 50.0  # own_defaults: 1 km grids ride 6-10 points too fast
SMOOTHING_POINTS: Final = 5  # own_defaults
SMALLEST_STEP_M: Final = 0.01  # own_defaults
GRADIENT_LIMIT_FRAC: Final = 0.25  # own_defaults

# --- power and speed
GRAVITY_M_PER_S2: Final = 9.81  # martin1998
WHEEL_DRAG_AREA_M2: Final = 0.0044  # martin1998
WHEEL_INERTIA_KG_M2: Final = 0.14  # martin1998
WHEEL_RADIUS_M: Final = 0.311  # martin1998
BEARING_CONSTANT_N: Final = 0.091  # martin1998
BEARING_SLOPE_N_S_PER_M: Final = 0.0087  # martin1998
DRIVETRAIN_EFFICIENCY_FRAC: Final = 0.976  # martin1998
ROLLING_RESISTANCE_FRAC: Final = 0.004  # own_defaults
BIKE_AND_KIT_KG: Final = 8.0  # own_defaults
BOTTLE_ON_BIKE_KG: Final = 0.55  # own_defaults
DRAG_AREA_ROAD_M2: Final = 0.32  # own_defaults
DRAG_AREA_TIME_TRIAL_M2: Final = 0.24  # own_defaults
SPEED_CAP_M_PER_S: Final = 20.8  # own_defaults: descents
SPEED_FLOOR_M_PER_S: Final = 1.5  # own_defaults
CLIMB_POWER_LIMIT_W_PER_KG: Final = 6.5  # own_defaults
CLIMB_GRADIENT_FRAC: Final = 0.04  # own_defaults
CLIMB_SHELTER_LOSS_FRAC: Final = 0.25  # own_defaults: a bunch shelters less uphill
COASTING_GRADIENT_FRAC: Final = -0.04  # own_defaults: no pedalling below
FINAL_STRETCH_M: Final = 10_000.0  # own_defaults
FINAL_FACTOR_FLAT: Final = 1.10  # own_defaults
FINAL_FACTOR_MOUNTAIN: Final = 1.15  # own_defaults
SCALE_FACTOR_LOW: Final = 0.85  # own_defaults
SCALE_FACTOR_HIGH: Final = 1.20  # own_defaults
SEGMENT_H: Final = 5.0 / 60.0  # own_defaults

# --- recorded rides, ride_rules
RIDE_GAP_S: Final = 5.0  # ride_rules: a longer gap is a pause or a lost recording
RIDE_RECORD_S: Final = 1.0  # ride_rules: what a record before such a gap stands for
RIDE_STANDING_M_PER_S: Final = 1.0  # own_defaults: slower across a gap has stood still
RIDE_POWER_LIMIT_W: Final = 2500.0  # own_defaults: more is a fault of the meter
RIDE_MISSING_FRAC: Final = 0.05  # ride_rules: of riding time
RIDE_WORK_FRAC: Final = 0.015  # ride_rules: off the device's own work
RIDE_STEP_S: Final = 120.0  # own_defaults
RIDE_STRETCH_FRAC: Final = 0.02  # ride_rules: distance of the ride against that of the course

# --- power weight by gradient: upper edges and one weight per bin (own_defaults)
GRADIENT_EDGES_FRAC: Final = (-0.02, 0.01, 0.04, 0.07)
GRADIENT_WEIGHTS: Final = (0.35, 0.90, 1.15, 1.35, 1.45)

# --- mean power [W/kg] by stage kind and race role: vogt2007, sanmillan2021, own_defaults
TARGET_POWER_W_PER_KG: Final = {
    "flat": {"leader": 2.9, "domestique": 3.2, "breakaway": 3.7, "sprinter": 2.9},
    "hilly": {"leader": 3.5, "domestique": 3.6, "breakaway": 4.0, "sprinter": 3.3},
    "mountain": {"leader": 3.8, "domestique": 3.7, "breakaway": 3.9, "sprinter": 3.4},
    "time_trial": {"leader": 5.2, "domestique": 4.2, "breakaway": 4.2, "sprinter": 4.1},
    "mountain_time_trial": {"leader": 5.7, "domestique": 4.3, "breakaway": 4.3, "sprinter": 4.1},
    "rest": {"leader": 2.2, "domestique": 2.2, "breakaway": 2.2, "sprinter": 2.0},
}
TYPICAL_SPEED_KM_PER_H: Final = {
    "flat": 44.0, "hilly": 41.5, "mountain": 35.5, "time_trial": 50.0, "mountain_time_trial": 24.0, "rest": 30.0,
}
SHELTER_ON_DRAG_FRAC: Final = {"leader": 0.52, "domestique": 0.60, "breakaway": 0.72, "sprinter": 0.52}
SHELTER_GRUPPETTO_FRAC: Final = 0.65  # own_defaults: a sprinter's mountain day
SHELTER_SOLO_FRAC: Final = 1.0  # own_defaults
AIR_SPEED_BUNCH_FRAC: Final = 0.6  # own_defaults: settled for heat exchange
AIR_SPEED_SMALL_GROUP_FRAC: Final = 0.9  # own_defaults
AIR_SPEED_SOLO_FRAC: Final = 1.0  # own_defaults

# --- air
DRY_AIR_GAS_J_PER_KG_K: Final = 287.058  # icao7488
VAPOUR_GAS_J_PER_KG_K: Final = 461.495  # icao7488
KELVIN_AT_ZERO_C: Final = 273.15  # icao7488
SEA_LEVEL_PRESSURE_PA: Final = 101_325.0  # icao7488
SEA_LEVEL_TEMPERATURE_C: Final = 15.0  # icao7488
PRESSURE_LAPSE_PER_M: Final = 2.25577e-5  # icao7488
PRESSURE_EXPONENT: Final = 5.25588  # icao7488
LAPSE_K_PER_KM: Final = 6.5  # icao7488
PRESSURE_HALF_LAPSE_K_PER_M: Final = 0.0065 / 2.0  # ashrae2017
SCALE_HEIGHT_M_PER_K: Final = 29.263  # ashrae2017: hypsometric constant
HUMIDITY_RATIO: Final = 0.621945  # ashrae2017
PSYCHROMETRIC_WATER_J_PER_G: Final = (2501.0, 2.326, 1.006, 1.86, 4.186)  # ashrae2017, eq. 33
BUCK_PA: Final = 611.21  # buck1996
BUCK_SLOPE: Final = 18.678  # buck1996
BUCK_CURVE_C: Final = 234.5  # buck1996
BUCK_OFFSET_C: Final = 257.14  # buck1996
MAGNUS_PA: Final = 611.2  # wmo_cimo
MAGNUS_SLOPE: Final = 17.62  # wmo_cimo
MAGNUS_OFFSET_C: Final = 243.12  # wmo_cimo

# --- wind
WIND_LOG_NUMERATOR: Final = 4.87  # fao56
WIND_LOG_SLOPE_PER_M: Final = 67.8  # fao56
WIND_LOG_OFFSET: Final = 5.42  # fao56
WIND_AT_RIDER_OPEN_FRAC: Final = 0.6  # own_defaults: chest height over 10 m, open country
WIND_LIMIT_M_PER_S: Final = 35.0  # own_defaults
UNCOVERED_LIMIT_H: Final = 1.0  # own_defaults: beyond the first or last forecast hour

# --- sun
SOLAR_CONSTANT_W_PER_M2: Final = 1361.0  # kopp2011
HAURWITZ_W_PER_M2: Final = 1098.0  # haurwitz1945
HAURWITZ_EXTINCTION: Final = 0.059  # haurwitz1945
CLEAR_SKY_GAIN_PER_KM: Final = 0.08  # own_defaults
CLEAR_SKY_GAIN_LIMIT: Final = 1.2  # own_defaults
CLOUDY_SHARE_FRAC: Final = 0.35  # larson2016
KASTEN_CLOUD: Final = (0.75, 3.4)  # kasten1980, from memory; comparison only
SOLAR_LIMIT_RATIO: Final = 1.15  # own_defaults: given against clear sky
JUDGED_ELEVATION_DEG: Final = 10.0  # own_defaults: lower suns are not judged against clear sky
SHADE_FRAC: Final = 0.1  # own_defaults: trees and gorges, on the direct beam
DIRECT_LOWEST_ELEVATION_DEG: Final = 3.0  # erbs1982: the split is undefined near the horizon
ERBS_OVERCAST_SLOPE: Final = 0.09  # erbs1982
ERBS_OVERCAST_BELOW: Final = 0.22  # erbs1982
ERBS_CLEAR_ABOVE: Final = 0.80  # erbs1982
ERBS_CLEAR_FRAC: Final = 0.165  # erbs1982
ERBS_POLYNOMIAL: Final = (0.9511, -0.1604, 4.388, -16.638, 12.336)  # erbs1982, rising powers

# --- sun position, noaa2011: polynomials in Julian centuries, rising powers, degrees
UNIX_EPOCH_JULIAN_DAY: Final = 2_440_587.5
J2000_JULIAN_DAY: Final = 2_451_545.0
DAYS_PER_CENTURY: Final = 36_525.0
MEAN_LONGITUDE_DEG: Final = (280.46646, 36000.76983, 0.0003032)
MEAN_ANOMALY_DEG: Final = (357.52911, 35999.05029, -0.0001537)
ECCENTRICITY: Final = (0.016708634, -0.000042037, -0.0000001267)
CENTRE_FIRST_DEG: Final = (1.914602, -0.004817, -0.000014)
CENTRE_SECOND_DEG: Final = (0.019993, -0.000101)
CENTRE_THIRD_DEG: Final = 0.000289
NODE_DEG: Final = (125.04, -1934.136)
ABERRATION_DEG: Final = 0.00569
NUTATION_DEG: Final = 0.00478
OBLIQUITY_DEG: Final = (23.439291111, -0.013004167, -0.000000164, 0.000000504)
OBLIQUITY_NUTATION_DEG: Final = 0.00256
MINUTES_PER_DEGREE: Final = 4.0
REFRACTION_DEG: Final = (1.02 / 60.0, 10.3, 5.11)  # noaa2011: Saemundsson form
