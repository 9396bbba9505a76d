"""Numbers of the sweat and heat models kept for comparison only; none of them enters a forecast."""

OSE_FACTOR = 27.9  # [g/m2/h per W/m2 at 1 W/m2], source key ``shapiro1982``
OSE_EXPONENT = -0.455  # [1], of the evaporative capacity, source key ``shapiro1982``
OSEC_FACTOR_G_PER_M2_H = 147.0  # [g/m2/h], source key ``gonzalez2009``
OSEC_PER_OSE = 0.0012  # [1 per g/m2/h], source key ``gonzalez2009``
PW_BASE_G_PER_M2_H = 147.0  # [g/m2/h], source key ``gonzalez2009``
PW_PER_REQUIRED = 1.527  # [g/m2/h per W/m2], source key ``gonzalez2009``
PW_PER_CAPACITY = 0.87  # [g/m2/h per W/m2], source key ``gonzalez2009``
PW_COOL_BASE_G_PER_M2_H = 350.0  # [g/m2/h], source key ``gonzalez2012``

# What the family was fitted in: quantity to (low, high)
SHAPIRO_FAMILY_RANGES: dict[str, tuple[float, float]] = {  # source key ``gonzalez2009``
    "air_temperature_c": (15.0, 46.0),
    "vapour_pressure_kpa": (0.27, 4.45),
    "air_speed_m_per_s": (0.4, 2.5),
    "metabolic_rate_w_per_m2": (0.0, 450.0),
}

# Convection [W/m2/K at 1 m/s] of three authors, exponent 0.6 each
CONVECTION_W_PER_M2_K: dict[str, float] = {"kerslake1972": 8.3, "iso7933": 8.7, "dedear1997": 10.3}
CONVECTION_EXPONENT = 0.6  # [1], source key ``kerslake1972``

# Wet-bulb globe temperature from measured temperatures, source key ``iso7243``
WBGT_SUN = (0.7, 0.2, 0.1)  # [1], natural wet bulb, globe, air
WBGT_PRESSURE_PA = (50_000.0, 110_000.0)  # [Pa], of any road, source key ``liljegren2008``
WBGT_SHADE = (0.7, 0.3)  # [1], natural wet bulb, globe

# Solar gain of a sitting person, source key ``ashrae55``
DIFFUSE_PER_BEAM_FRAC = 0.2  # [frac], diffuse on the horizontal per direct-normal
SITTING_AREA_FRAC = 0.696  # [frac], of the body that sees its surroundings
LONG_WAVE_ABSORPTIVITY_FRAC = 0.95  # [frac]
RADIATIVE_W_PER_M2_K = 6.0  # [W/m2/K]
FLOOR_REFLECTANCE_FRAC = 0.6  # [frac]
# Projected area of a sitting person [frac]: a row per 15 deg of the sun's angle from the front, a column per 15 deg of
# its height, the last one the zenith
SUN_ANGLES_DEG = (0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0, 105.0, 120.0, 135.0, 150.0, 165.0, 180.0)
SUN_HEIGHTS_DEG = (0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0)
SITTING_PROJECTED_FRAC = (
    (0.290, 0.324, 0.305, 0.303, 0.262, 0.224, 0.177),
    (0.292, 0.328, 0.294, 0.288, 0.268, 0.227, 0.177),
    (0.288, 0.332, 0.298, 0.290, 0.264, 0.222, 0.177),
    (0.274, 0.326, 0.294, 0.289, 0.252, 0.214, 0.177),
    (0.254, 0.308, 0.280, 0.276, 0.241, 0.202, 0.177),
    (0.230, 0.282, 0.262, 0.260, 0.233, 0.193, 0.177),
    (0.216, 0.260, 0.248, 0.244, 0.220, 0.186, 0.177),
    (0.234, 0.258, 0.236, 0.227, 0.208, 0.180, 0.177),
    (0.262, 0.260, 0.224, 0.208, 0.196, 0.176, 0.177),
    (0.280, 0.260, 0.210, 0.192, 0.184, 0.170, 0.177),
    (0.298, 0.256, 0.194, 0.174, 0.168, 0.168, 0.177),
    (0.306, 0.250, 0.180, 0.156, 0.156, 0.166, 0.177),
    (0.300, 0.240, 0.168, 0.152, 0.152, 0.164, 0.177),
)
