"""Random riders on random stages, wide enough to meet every limit."""

import numpy as np
from brinebook.engine.plan.balance import targets, watson_tbw_l
from brinebook.engine.plan.bottles import BottlePlanInput, DrinkOption, FoodOption, PlanLimits
from brinebook.engine.plan.drinks import water_fraction_frac

N_ROAD = 61


def _curve(r, n_climbs, road_h):
    """A loss rate along the road: even, with climbs and descents."""
    rate = np.ones(N_ROAD - 1)
    for _ in range(n_climbs):
        at, width = r.uniform(0, road_h[-1]), r.uniform(0.1, 0.6)
        middle = (road_h[1:] + road_h[:-1]) / 2
        rate += r.uniform(-0.6, 0.9) * np.exp(-(((middle - at) / width) ** 2))
    rate = np.maximum(rate, 0.15) * np.diff(road_h)
    return np.concatenate([[0.0], np.cumsum(rate) / rate.sum()])


def _drinks(r):
    offer = [DrinkOption(bottle_l=0.5, water_frac=1.0)]
    for _ in range(r.integers(1, 4)):
        sugar = float(r.choice([0.0, 40.0, 60.0, 80.0, 110.0]))
        offer.append(DrinkOption(
            bottle_l=float(r.choice([0.5, 0.5, 0.6, 0.75])), water_frac=float(water_fraction_frac(sugar)),
            sodium_mg_per_l=float(r.choice([200.0, 460.0, 800.0, 1400.0, 1500.0, 2600.0])), carbohydrate_g_per_l=sugar,
            sugar=str(r.choice(["mixed", "single"])), flavour=str(r.choice(["", "lemon", "cola"])),
            taste_u=float(r.choice([0.0, 0.0, 0.3])), is_allowed=bool(r.random() < 0.93),
            most_n=None if r.random() < 0.8 else int(r.integers(0, 6)),
        ))
    return tuple(offer)


def _foods(r):
    return tuple(
        FoodOption(carbohydrate_g=float(r.uniform(18, 40)), water_l=float(r.uniform(0, 0.1)),
                   sodium_mg=float(r.choice([20.0, 60.0, 320.0, 480.0, 900.0])),
                   sugar=str(r.choice(["mixed", "single"])))
        for _ in range(r.integers(0, 5)))


def random_stage(seed):
    """A rider and a stage, and the road on which the loss between the feeds is known."""
    r = np.random.default_rng(seed)
    sex = "f" if r.random() < 0.4 else "m"
    mass = float(r.uniform(46, 66) if sex == "f" else r.uniform(56, 86))
    hours, K = float(r.uniform(0.5, 6.5)), int(r.integers(1, 9))
    inner = np.sort(r.uniform(0.12, 0.95, K - 1)) * hours
    times = np.concatenate([[0.0], inner[np.diff(inner, prepend=0.0) > 0.08], [hours]])
    K = len(times) - 1
    road_h = np.linspace(0.0, hours, N_ROAD)
    q50 = float(r.uniform(0.25, 2.0)) * hours * _curve(r, int(r.integers(0, 4)), road_h)
    low, high = np.exp(-1.2816 * r.uniform(0.06, 0.28)), np.exp(1.2816 * r.uniform(0.06, 0.28))
    road = (road_h, (low * q50, q50, high * q50))
    sodium = float(r.uniform(15.0, 87.0))
    aim = targets(float(q50[-1]), mass_kg=mass, sodium_mmol_per_l=sodium)
    limits = PlanLimits(
        max_intake_l_per_h=float(r.choice([1.0, 1.0, 0.7])),
        max_drink_sodium_mg_per_l=float(r.choice([1500.0, 1500.0, 3000.0])),
        max_drink_carbohydrate_g_per_l=float(r.choice([80.0, 120.0])),
        max_carbohydrate_g_per_h=float(r.choice([60.0, 90.0, 90.0, 120.0])),
    )
    at = lambda curve: np.interp(times, road_h, curve)
    return BottlePlanInput(
        times_h=times, sweat_q10_l=at(road[1][0]), sweat_q50_l=at(road[1][1]), sweat_q90_l=at(road[1][2]),
        road_h=road_h, road_q10_l=road[1][0],
        tbw_l=watson_tbw_l(mass, height_m=float(r.uniform(1.6, 1.9)), age_years=26.0, sex=sex), mass_kg=mass,
        start_deficit_l=float(r.choice([0.0, 0.0, 0.5])), sodium_mmol_per_l=sodium,
        sodium_high_mmol_per_l=sodium + 1.2816 * float(r.uniform(2.0, 12.0)), drinks=_drinks(r), foods=_foods(r),
        max_bottles_per_feed=np.append(r.integers(1, 4), r.integers(0, 3, K - 1)),
        hand_up_odds_frac=np.append(1.0, r.choice([0.6, 0.85], K - 1)),
        target_water_l=aim.water_l, target_sodium_mg=aim.sodium_mg,
        carbohydrate_target_g_per_h=float(r.choice([0.0, 60.0, 75.0, 90.0])),
        is_cool=bool(r.random() < 0.2), is_sodium_needed=aim.needed_sodium_share_frac > 0.0, limits=limits,
    ), road
