"""
Bodies that ride a plan: an integrator of its own, minute by minute, that shares nothing with the programme.

A body draws its sweat, its sweat sodium, its body water and the luck of its hand-ups. It drinks and eats as planned
from what it was handed, skips what it missed, and takes a strong drink only as far as there is water to go with it.
"""

from dataclasses import dataclass

import numpy as np

MINUTE_H = 1.0 / 60.0
MG_PER_MMOL = 22.98977
SWEAT_POTASSIUM = 5.0
TRACE_L = 1e-9
MOST_SWEAT_Z = 2.5
"""Skin has an end; drawn on without one, a rare body would sweat itself dry."""


@dataclass
class Bodies:
    """N sampled riders of one stage."""

    sweat_z: np.ndarray
    """Standard score of the log sweat; the forecast's own quantiles stand at -1.2816, 0 and 1.2816."""
    sodium: np.ndarray
    tbw: np.ndarray
    luck: np.ndarray
    """Shape (N, K): True where a hand-up succeeded."""


@dataclass
class Ride:
    """What happened, per body and minute."""

    t: np.ndarray
    loss: np.ndarray
    water: np.ndarray
    plasma: np.ndarray
    drunk: np.ndarray
    sodium: np.ndarray
    fuel: np.ndarray
    stomach: np.ndarray
    by_stretch: np.ndarray
    """Drink of each kind per body and stretch, shape (N, K, B)."""


def sample(inp, n, rng, sodium_sd=None):
    """Draw n bodies; sodium from the test's own spread, at its q90 as salty as the plan reckons with."""
    high = inp.sodium_high_mmol_per_l or inp.sodium_mmol_per_l
    sd = (high - inp.sodium_mmol_per_l) / 1.2816 if sodium_sd is None else sodium_sd
    odds = np.ones(len(inp.times_h) - 1) if inp.hand_up_odds_frac is None else inp.hand_up_odds_frac
    return Bodies(
        sweat_z=np.minimum(rng.standard_normal(n), MOST_SWEAT_Z),
        sodium=np.clip(inp.sodium_mmol_per_l + sd * rng.standard_normal(n), 5.0, 130.0),
        tbw=inp.tbw_l * np.exp(0.04 * rng.standard_normal(n)),
        luck=rng.random((n, len(odds))) < odds,
    )


def _loss(road_h, road, t, z):
    """Sweat so far: between q10, q50 and q90 by the standard score on the log scale, beyond them further the same."""
    q10, q50, q90 = (np.interp(t, road_h, curve) for curve in road)
    is_wet = q10 > TRACE_L
    safe = [np.where(is_wet, q, 1.0) for q in (q10, q50, q90)]
    down, up = np.log(safe[1] / safe[0]) / 1.2816, np.log(safe[2] / safe[1]) / 1.2816
    slope = np.where(z[:, None] < 0, down[None], up[None])
    return q50[None] * np.exp(z[:, None] * slope)


def _available(inp, plan, bodies):
    """Drink and food each body really has on each stretch, taken as planned and no more than it holds."""
    n, K = bodies.luck.shape
    bottle = np.array([d.bottle_l for d in inp.drinks])
    held_d, held_f = np.zeros((n, len(inp.drinks))), np.zeros((n, len(inp.foods)))
    drunk, eaten = np.zeros((n, K, len(inp.drinks))), np.zeros((n, K, len(inp.foods)))
    for k in range(K):
        held_d += bodies.luck[:, k : k + 1] * plan.bottles[k] * bottle
        held_f += bodies.luck[:, k : k + 1] * plan.foods[k]
        drunk[:, k] = np.minimum(plan.drunk_l[k], held_d)
        _spare_the_strong(inp, drunk[:, k])
        eaten[:, k] = np.minimum(plan.eaten[k], held_f)
        held_d -= drunk[:, k]
        held_f -= eaten[:, k]
    return drunk, eaten


def _spare_the_strong(inp, drunk):
    """Drink a strong bottle only with the water that thins it to what is drunk straight."""
    sodium = np.array([d.sodium_mg_per_l for d in inp.drinks]) / 1500.0
    sugar = np.array([d.carbohydrate_g_per_l for d in inp.drinks]) / 80.0
    is_water = (sodium <= 100.0 / 1500.0) & (sugar == 0.0)
    for strength in (sodium, sugar):
        is_strong = strength > 1.0
        if is_strong.any():
            need = drunk[:, is_strong] @ (strength[is_strong] - 1.0)
            have = drunk[:, is_water] @ (1.0 - strength[is_water])
            drunk[:, is_strong] *= np.minimum(1.0, have / np.maximum(need, 1e-12))[:, None]


def ride(inp, plan, bodies, road=None):
    """Integrate minute by minute; ``road`` gives instants and the three quantiles of the loss there."""
    road_h, curves = (inp.times_h, (inp.sweat_q10_l, inp.sweat_q50_l, inp.sweat_q90_l)) if road is None else road
    T = inp.times_h[-1]
    t = np.unique(np.concatenate([np.arange(0.0, T, MINUTE_H * 3), inp.times_h, [T]]))
    drunk, eaten = _available(inp, plan, bodies)
    share = np.clip((t[:, None] - inp.times_h[:-1]) / np.diff(inp.times_h), 0.0, 1.0)
    of = lambda options, field: np.array([getattr(one, field) for one in options])
    single = inp.limits.max_carbohydrate_g_per_h / 60.0
    weigh = lambda options: np.array([single if one.sugar == "single" else 1.0 for one in options])

    def so_far(drink_values, food_values):
        return (drunk @ drink_values + eaten @ food_values) @ share.T

    none = np.zeros(len(inp.foods))
    volume = so_far(np.ones(len(inp.drinks)), none)
    water = so_far(of(inp.drinks, "water_frac"), of(inp.foods, "water_l"))
    sodium = so_far(of(inp.drinks, "sodium_mg_per_l"), of(inp.foods, "sodium_mg"))
    fuel = so_far(of(inp.drinks, "carbohydrate_g_per_l") * weigh(inp.drinks),
                  of(inp.foods, "carbohydrate_g") * weigh(inp.foods))
    loss = _loss(road_h, curves, t, bodies.sweat_z)
    cations = sodium / MG_PER_MMOL - (bodies.sodium[:, None] + SWEAT_POTASSIUM) * loss
    tbw = bodies.tbw[:, None]
    plasma = ((inp.plasma_sodium_mmol_per_l + 23.8) * tbw + 1.03 * cations) / (tbw + water - loss) - 23.8
    return Ride(t, loss, water, plasma, volume, sodium, fuel, _stomach(t, volume), drunk)


def _stomach(t, volume):
    """First-order emptying in steps of the grid, the inflow of each step spread evenly over it."""
    content = np.zeros_like(volume)
    for i in range(1, len(t)):
        hours = t[i] - t[i - 1]
        inflow = (volume[:, i] - volume[:, i - 1]) / max(hours, 1e-12)
        content[:, i] = content[:, i - 1] * np.exp(-1.5 * hours) + inflow / 1.5 * (1.0 - np.exp(-1.5 * hours))
    return content


def most_in_an_hour(t, total):
    """Most of a quantity in any hour, per body, from the grid's instants on and up to them; and the hour's width."""
    width = min(1.0, t[-1])
    begins = np.unique(np.clip(np.concatenate([t, t - width]), 0.0, t[-1] - width))

    def lookup(at):
        right = np.clip(np.searchsorted(t, at), 1, len(t) - 1)
        past = (at - t[right - 1]) / (t[right] - t[right - 1])
        return total[:, right - 1] * (1.0 - past) + total[:, right] * past

    return (lookup(begins + width) - lookup(begins)).max(axis=1), width
