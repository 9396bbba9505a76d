"""
The least penalty of a tiny plan by going through all of them, and random tiny plans.

Written from the wording of the limits alone and sharing no code with the programme: every way to hand bottles and
foods up, every way to carry bottles on, and for each the best drinking by a linear programme.
"""

from itertools import product

import numpy as np
from brinebook.engine.plan.bottles import BottlePlanInput, DrinkOption, FoodOption, PlanLimits, PlanWeights
from scipy.optimize import linprog

MMOL = 1.0 / 22.98977
EXACT = {"gap_u": 1e-7, "gap_frac": 1e-7}


def random_plan(seed):
    """One rider with two or three feeds and at most two drinks and a food."""
    r = np.random.default_rng(seed)
    K, B, J = [(2, 2, 1), (2, 1, 1), (3, 1, 0), (2, 2, 0), (3, 1, 1)][seed % 5]
    times = np.concatenate([[0.0], np.cumsum(r.uniform(0.3, 1.4, K))])
    q50 = np.concatenate([[0.0], np.cumsum(r.uniform(0.3, 1.8, K) * np.diff(times))])
    sodium = r.uniform(15.0, 90.0)
    drinks = tuple(
        DrinkOption(
            bottle_l=float(r.choice([0.5, 0.6, 0.75])), water_frac=1.0 if b == 0 and r.random() < 0.6 else 0.95,
            sodium_mg_per_l=0.0 if b == 0 and r.random() < 0.6 else float(r.choice([460.0, 800.0, 1500.0, 2600.0])),
            carbohydrate_g_per_l=float(r.choice([0.0, 40.0, 80.0, 110.0])), sugar=str(r.choice(["mixed", "single"])),
            flavour=str(r.choice(["", "lemon"])), is_allowed=bool(r.random() < 0.95),
            taste_u=float(r.choice([0.0, 0.3])), stock_u=float(r.choice([0.0, 0.5])),
            most_n=None if r.random() < 0.7 else int(r.integers(0, 3)),
        ) for b in range(B))
    foods = tuple(
        FoodOption(carbohydrate_g=float(r.uniform(15, 40)), sodium_mg=float(r.uniform(0, 500)),
                   water_l=float(r.uniform(0, 0.1)), sugar=str(r.choice(["mixed", "single"])))
        for _ in range(J))
    return BottlePlanInput(
        times_h=times, sweat_q10_l=r.uniform(0.6, 0.95) * q50, sweat_q50_l=q50,
        sweat_q90_l=r.uniform(1.05, 1.5) * q50, tbw_l=float(r.uniform(28, 50)), mass_kg=float(r.uniform(48, 85)),
        start_deficit_l=float(r.choice([0.0, 0.6])), sodium_mmol_per_l=sodium,
        sodium_high_mmol_per_l=None if r.random() < 0.5 else sodium * 1.3, drinks=drinks, foods=foods,
        max_bottles_per_feed=r.integers(0, 3, K), hand_up_odds_frac=np.append(1.0, r.choice([0.6, 0.85, 1.0], K - 1)),
        target_water_l=float(r.uniform(0.2, 0.9) * q50[-1]), target_sodium_mg=float(r.uniform(0, 1) * q50[-1] * 900),
        carbohydrate_target_g_per_h=float(r.choice([0.0, 40.0, 75.0])),
        plasma_sodium_mmol_per_l=float(r.choice([140.0, 138.5])), is_cool=bool(r.random() < 0.2),
        is_sodium_needed=bool(r.random() < 0.3),
        limits=PlanLimits(
            n_of_each_per_feed=1 if B == 2 else 2, n_carried=int(r.choice([2, 3])), n_foods_per_feed=2,
            max_drink_sodium_mg_per_l=float(r.choice([1500.0, 3000.0])),
            max_drink_carbohydrate_g_per_l=float(r.choice([80.0, 120.0])),
            max_carbohydrate_g_per_h=float(r.choice([60.0, 90.0])),
        ),
        weights=PlanWeights(**EXACT),
    )


def _allowed(inp):
    limits = inp.limits
    return [d.is_allowed and d.sodium_mg_per_l <= limits.max_drink_sodium_mg_per_l
            and d.carbohydrate_g_per_l <= min(120.0, limits.max_drink_carbohydrate_g_per_l) for d in inp.drinks]


def _hand_ups(inp):
    """Every way to hand bottles and foods up that hands, pockets, stock and unsure feeds allow."""
    K, limits, is_allowed = len(inp.times_h) - 1, inp.limits, _allowed(inp)
    most = [limits.n_of_each_per_feed if ok else 0 for ok in is_allowed]
    per_feed = [
        [n for n in product(*(range(m + 1) for m in most)) if sum(n) <= min(hands, limits.n_carried)]
        for hands in inp.max_bottles_per_feed
    ]
    food = list(product(range(limits.n_of_each_per_feed + 1), repeat=len(inp.foods)))
    for bottles in product(*per_feed):
        n = np.array(bottles).reshape(K, len(inp.drinks))
        if any(d.most_n is not None and n[:, b].sum() > d.most_n for b, d in enumerate(inp.drinks)):
            continue
        if not _odds_fit(inp, n):
            continue
        for units in product(food, repeat=K):
            yield n, np.array(units, dtype=float).reshape(K, len(inp.foods))


def _odds_fit(inp, n):
    """For every run of feeds that only together are likely, or that ends unlikely: all its bottles fit at once."""
    K, odds = len(n), inp.hand_up_odds_frac
    for first in range(K):
        for last in range(first, K):
            before = 1.0 - np.prod(1.0 - odds[first:last])
            is_first_likely = before < 0.8 and (1.0 - np.prod(1.0 - odds[first : last + 1]) >= 0.8 or last == K - 1)
            if is_first_likely and n[first : last + 1].sum() > inp.limits.n_carried:
                return False
    return True


def _carried(inp, n):
    """Every number of bottles not yet empty at each feed but the first."""
    K, B = n.shape
    for counts in product(*(range(int(n[: k + 1, b].sum()) + 1) for k in range(K - 1) for b in range(B))):
        carried = np.array(counts).reshape(K - 1, B)
        if all(carried[k].sum() + n[k + 1].sum() <= inp.limits.n_carried for k in range(K - 1)):
            yield carried


class _Best:
    """Drinking and eating, even on each stretch, that costs least for given hand-ups."""

    def __init__(self, inp, n, units, carried):
        self.inp, self.n, self.units = inp, n, units
        self.K, self.B, self.J = len(n), n.shape[1], units.shape[1]
        self.names, self.rows, self.highs, self.costs = {}, [], [], []
        self.fixed = float((n * [inp.weights.bottle_u + d.taste_u + d.stock_u for d in inp.drinks]).sum()
                           + (units * [inp.weights.food_u + f.taste_u + f.stock_u for f in inp.foods]).sum())
        for k in range(self.K):
            for b in range(self.B):
                self.column(("d", k, b))
            for j in range(self.J):
                self.column(("e", k, j))
        self.hold(carried)
        self.limit()
        self.want()

    def column(self, name, cost=0.0):
        self.names[name] = len(self.names)
        self.costs.append(cost)

    def at_most(self, terms, high):
        self.rows.append(terms)
        self.highs.append(high)

    def taken(self, per_drink, per_food, shares):
        """Sum over stretches, weighted by the share of each that counts."""
        terms = {}
        for k, share in enumerate(shares):
            for b in range(self.B):
                terms["d", k, b] = share * per_drink[b]
            for j in range(self.J):
                terms["e", k, j] = share * per_food[j]
        return terms

    def hold(self, carried):
        for k in range(self.K):
            for b, drink in enumerate(self.inp.drinks):
                got = self.n[: k + 1, b].sum() * drink.bottle_l
                drunk = {("d", i, b): 1.0 for i in range(k + 1)}
                self.at_most(drunk, got)
                if carried is not None and k < self.K - 1:
                    self.at_most(dict.fromkeys(drunk, -1.0), carried[k, b] * drink.bottle_l - got)
            for j in range(self.J):
                self.at_most({("e", i, j): 1.0 for i in range(k + 1)}, self.units[: k + 1, j].sum())
            room = self.inp.limits.n_foods_per_feed - self.units[: k + 1].sum()
            self.at_most({("e", i, j): -1.0 for i in range(k) for j in range(self.J)}, room)

    def limit(self):
        inp, limits = self.inp, self.inp.limits
        t, T = inp.times_h, inp.times_h[-1]
        water = [d.water_frac for d in inp.drinks], [f.water_l for f in inp.foods]
        salt = [d.sodium_mg_per_l for d in inp.drinks], [f.sodium_mg for f in inp.foods]
        single = limits.max_carbohydrate_g_per_h / 60.0
        weigh = {"mixed": 1.0, "single": max(1.0, single)}
        fuel = [d.carbohydrate_g_per_l * weigh[d.sugar] for d in inp.drinks], [
            f.carbohydrate_g * weigh[f.sugar] for f in inp.foods]
        volume = [1.0] * self.B, [0.0] * self.J
        every = np.ones(self.K)
        self.at_most(self.taken(*volume, every), limits.max_intake_l_per_h * T)
        self.at_most(self.taken(*salt, every), inp.sodium_mmol_per_l / MMOL * inp.sweat_q50_l[-1])
        self.at_most(self.taken(*fuel, every), limits.max_carbohydrate_g_per_h * T)
        width = min(1.0, T)
        for begin in np.clip(np.concatenate([t, t - width, np.linspace(0, T - width, 7)]), 0.0, T - width):
            inside = np.clip(np.minimum(t[1:], begin + width) - np.maximum(t[:-1], begin), 0, None) / np.diff(t)
            self.at_most(self.taken(*volume, inside), limits.max_any_hour_l_per_h * width)
            self.at_most(self.taken(*salt, inside), limits.max_sodium_mg_per_h * width)
            self.at_most(self.taken(*fuel, inside),
                         limits.max_carbohydrate_g_per_h * width + limits.carbohydrate_allowance_g)
        for k in range(self.K):
            alone = np.eye(self.K)[k]
            self.at_most(self.taken(*fuel, alone), limits.max_carbohydrate_g_per_h * (t[k + 1] - t[k]) + 15.0)
            self.stomach(k)
            allowed = inp.sweat_q10_l[k + 1] + (0.25 if k < self.K - 1 else 0.0)
            so_far = (np.arange(self.K) <= k).astype(float)
            self.at_most(self.taken(*water, so_far), allowed)
            self.floor(k, water, salt)
            self.dilute(k)
        if inp.is_cool:
            least = inp.sweat_q50_l[-1] - 0.03 * inp.mass_kg
            self.at_most(self.taken(*([-v for v in side] for side in water), every), -least)

    def stomach(self, k):
        """Content at the end of stretch k: each stretch's drink, poured in evenly, emptied by 1.5 an hour since."""
        t, rate = self.inp.times_h, 1.5
        shares = np.zeros(self.K)
        for i in range(k + 1):
            hours = t[i + 1] - t[i]
            shares[i] = (1 - np.exp(-rate * hours)) / (rate * hours) * np.exp(-rate * (t[k + 1] - t[i + 1]))
        self.at_most(self.taken([1.0] * self.B, [0.0] * self.J, shares), 0.6)

    def floor(self, k, water, salt):
        """Kurtz and Nguyen multiplied out: 138 mmol/L at all quantiles, 135 in a thousandth; no unsure food."""
        inp, odds = self.inp, self.inp.hand_up_odds_frac
        high = inp.sodium_mmol_per_l if inp.sodium_high_mmol_per_l is None else inp.sodium_high_mmol_per_l
        q10, q50, q90 = (q[k + 1] for q in (inp.sweat_q10_l, inp.sweat_q50_l, inp.sweat_q90_l))
        ends = [(q10, 138.0), (q50, 138.0), (q90, 138.0), (q50 * np.exp(np.log(q10 / q50) * 3.09 / 1.2816), 135.0)]
        for sweat, bound in ends:
            start = (inp.plasma_sodium_mmol_per_l + 23.8) * inp.tbw_l - 1.03 * (high + 5.0) * sweat
            room = start - (bound + 23.8) * (inp.tbw_l - sweat)
            terms = {}
            for i in range(k + 1):
                sure = (odds[: i + 1] >= 1.0).all()
                for b in range(self.B):
                    lifts = 1.03 * MMOL * salt[0][b] - (bound + 23.8) * water[0][b]
                    terms["d", i, b] = -(lifts if sure else min(lifts, 0.0))
                for j in range(self.J):
                    lifts = 1.03 * MMOL * salt[1][j] - (bound + 23.8) * water[1][j]
                    terms["e", i, j] = -(lifts if sure else min(lifts, 0.0))
            self.at_most(terms, room)

    def dilute(self, k):
        for field, most in (("sodium_mg_per_l", 1500.0), ("carbohydrate_g_per_l", 80.0)):
            terms = {}
            for b, drink in enumerate(self.inp.drinks):
                is_water = drink.sodium_mg_per_l <= 100.0 and drink.carbohydrate_g_per_l == 0.0
                if getattr(drink, field) > most or is_water:
                    terms["d", k, b] = getattr(drink, field) / most - 1.0
            if any(value > 0 for value in terms.values()):
                self.at_most(terms, 0.0)

    def over(self, name, cost, terms, high):
        """Pay ``cost`` for each unit by which a sum is above its goal."""
        self.column(name, cost)
        self.at_most({**terms, name: -1.0}, high)

    def want(self):
        inp, w, t = self.inp, self.inp.weights, self.inp.times_h
        T, every = t[-1], np.ones(self.K)
        water = self.taken([d.water_frac for d in inp.drinks], [f.water_l for f in inp.foods], every)
        salt = self.taken([d.sodium_mg_per_l for d in inp.drinks], [f.sodium_mg for f in inp.foods], every)
        fuel = self.taken([d.carbohydrate_g_per_l for d in inp.drinks], [f.carbohydrate_g for f in inp.foods], every)
        minus = lambda terms: {key: -value for key, value in terms.items()}
        self.over("wet", w.water_step_u / 0.1, water, inp.target_water_l)
        self.over("dry", w.water_step_u / 0.1, minus(water), -inp.target_water_l)
        self.over("salty", w.sodium_step_u / 100, salt, inp.target_sodium_mg)
        double = 2.0 if inp.is_sodium_needed else 1.0
        self.over("bland", double * w.sodium_step_u / 100, minus(salt), -inp.target_sodium_mg)
        per_hour = {key: -value / T for key, value in fuel.items()}
        self.over("hungry", w.carbohydrate_step_u / 6, per_hour, -inp.carbohydrate_target_g_per_h)
        self.column("peak", w.peak_u)
        tolerated = 0.03 if inp.is_cool else 0.02
        for k in range(self.K):
            self.at_most({**{("d", k, b): 1 / (t[k + 1] - t[k]) for b in range(self.B)}, "peak": -1.0}, 0.0)
            so_far = (np.arange(self.K) <= k).astype(float)
            drunk = self.taken([d.water_frac for d in inp.drinks], [f.water_l for f in inp.foods], so_far)
            owed = inp.sweat_q50_l[k + 1] + inp.start_deficit_l - tolerated * inp.mass_kg
            share = {key: -value / inp.mass_kg for key, value in drunk.items()}
            self.over(("deficit", k), w.deficit_step_u / 0.0025, share, -owed / inp.mass_kg)
            eaten = self.taken([d.sodium_mg_per_l for d in inp.drinks], [f.sodium_mg for f in inp.foods], so_far)
            sweat = inp.sweat_q50_l[k + 1]
            start = (inp.plasma_sodium_mmol_per_l + 23.8) * inp.tbw_l
            start -= 1.03 * (inp.sodium_mmol_per_l + 5.0) * sweat
            lifts = {key: (1.03 * MMOL * eaten[key] - 171.8 * drunk[key]) / inp.tbw_l for key in drunk}
            self.over(("plasma", k), w.plasma_step_u, lifts, -(start - 171.8 * (inp.tbw_l - sweat)) / inp.tbw_l)
        at_q90 = inp.sweat_q90_l[-1] + inp.start_deficit_l - 0.04 * inp.mass_kg
        share = {key: -value / inp.mass_kg for key, value in water.items()}
        self.over("arid", w.risk_step_u / 0.0025, share, -at_q90 / inp.mass_kg)
        self.over("soaked", w.risk_step_u / 0.1, water, 0.8 * inp.sweat_q10_l[-1])
        for flavour in {d.flavour for d in inp.drinks if d.flavour and d.is_allowed}:
            self.fixed += w.taste_run_u * _run(inp, self.n, flavour)

    def least(self):
        """Penalty, or infinity when no drinking is inside the limits."""
        matrix = np.zeros((len(self.rows), len(self.names)))
        for row, terms in zip(matrix, self.rows, strict=True):
            for name, value in terms.items():
                row[self.names[name]] = value
        found = linprog(self.costs, A_ub=matrix, b_ub=self.highs, method="highs")
        return self.fixed + found.fun if found.success else np.inf


def _run(inp, n, flavour):
    """Bottles of a flavour beyond three in a row, at best, over neighbouring feeds."""
    same = np.array([d.flavour == flavour for d in inp.drinks])
    worst = 0.0
    for first in range(len(n)):
        for last in range(first + 1, min(first + 4, len(n))):
            block = n[first : last + 1]
            worst = max(worst, block[:, same].sum() - 3 - 3 * block[:, ~same].sum())
    return worst


def least_penalty(inp):
    """Go through every plan."""
    best = np.inf
    for n, units in _hand_ups(inp):
        if _Best(inp, n, units, None).least() >= best:
            continue
        best = min([best, *(_Best(inp, n, units, carried).least() for carried in _carried(inp, n))])
    return best
