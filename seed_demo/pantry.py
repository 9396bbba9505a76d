"""The invented pantry: powders with their labels, drinks with their recipes, foods, tastes. No brand, no product."""

from typing import Any

Record = dict[str, Any]

SUPPLIES: tuple[Record, ...] = (
    {
        "id": "p-carbo", "name": "Carbohydrate powder", "kind": "powder", "sodium_mg_per_g": 3.0,
        "carbohydrate_g_per_g": 0.96, "fructose_frac": 0.4, "maltodextrin_frac": 0.6, "dextrose_equivalent_n": 12.0,
        "scoop_g": 42.0, "pack_g": 2500.0, "flavour": "lemon",
        "label": [
            {"nutrient": "carbohydrate", "typed": 96.0, "unit": "g", "basis": "100_g"},
            {"nutrient": "fructose", "typed": 38.4, "unit": "g", "basis": "100_g"},
            {"nutrient": "salt", "typed": 0.75, "unit": "g", "basis": "100_g"},
        ],
    },
    {"id": "p-salt", "name": "Table salt", "kind": "table_salt", "scoop_g": 5.0, "pack_g": 1000.0},
    {"id": "p-citrate", "name": "Sodium citrate", "kind": "citrate", "scoop_g": 4.0, "pack_g": 500.0},
)
DRINKS: tuple[Record, ...] = (
    {"id": "d-water", "name": "Water", "short_name": "W", "kind": "water", "bottle_l": 0.5, "sodium_mg_per_l": 0.0,
     "sugar": "none"},
    {
        "id": "d-standard", "name": "Standard mix", "short_name": "S", "kind": "standard", "bottle_l": 0.5,
        "sodium_mg_per_l": 800.0, "carbohydrate_g_per_l": 60.0, "osmolality_mosm_per_kg": 227.0, "sugar": "mixed",
        "fructose_frac": 0.4, "flavour": "lemon", "is_finish_bottle": True, "conductivity_ms_per_cm": 3.45,
        "recipe": [{"supply_id": "p-carbo", "g_per_l": 62.5}, {"supply_id": "p-salt", "g_per_l": 1.557}],
    },
    {
        "id": "d-high", "name": "High-sodium mix", "short_name": "H", "kind": "high_sodium", "bottle_l": 0.5,
        "sodium_mg_per_l": 1400.0, "carbohydrate_g_per_l": 20.0, "osmolality_mosm_per_kg": 154.0, "sugar": "mixed",
        "fructose_frac": 0.4, "flavour": "lemon",
        "recipe": [
            {"supply_id": "p-carbo", "g_per_l": 20.833}, {"supply_id": "p-salt", "g_per_l": 1.612},
            {"supply_id": "p-citrate", "g_per_l": 3.0},
        ],
    },
    {
        "id": "d-carbo", "name": "Carbohydrate mix", "short_name": "C", "kind": "other", "bottle_l": 0.5,
        "sodium_mg_per_l": 400.0, "carbohydrate_g_per_l": 120.0, "osmolality_mosm_per_kg": 349.0, "sugar": "mixed",
        "fructose_frac": 0.4, "flavour": "lemon",
        "recipe": [{"supply_id": "p-carbo", "g_per_l": 125.0}, {"supply_id": "p-salt", "g_per_l": 0.0636}],
    },
)
FOODS: tuple[Record, ...] = (
    {
        "id": "f-rice", "name": "Rice cake", "carbohydrate_g": 30.0, "sodium_mg": 60.0, "water_l": 0.03,
        "mass_kg": 0.07, "sugar": "single", "allergens": ["milk"], "n_per_pack": 20,
    },
    {
        "id": "f-salted-rice", "name": "Salted rice cake", "carbohydrate_g": 28.0, "sodium_mg": 320.0,
        "water_l": 0.03, "mass_kg": 0.07, "sugar": "single", "n_per_pack": 20,
    },
    {"id": "f-gel", "name": "Gel", "carbohydrate_g": 25.0, "sodium_mg": 50.0, "water_l": 0.02, "mass_kg": 0.05,
     "sugar": "mixed", "fructose_frac": 0.45, "flavour": "orange", "n_per_pack": 24},
    {
        "id": "f-ham-roll", "name": "Ham roll", "carbohydrate_g": 22.0, "sodium_mg": 480.0, "water_l": 0.03,
        "mass_kg": 0.08, "sugar": "single", "allergens": ["gluten"], "n_per_pack": 12,
    },
)
PALATES: tuple[Record, ...] = (
    {"id": "r-castrel", "cannot_allergens": ["gluten"], "likes": ["f-salted-rice"]},
    {"id": "r-halvik", "cannot": ["f-gel"]},
    {"id": "r-tremoux", "likes": ["d-high", "f-ham-roll"]},
)
KIT: Record = {"id": "kit", "buckets_l": [10.0, 20.0, 5.0], "label_stock": "a4_3x8"}
COUNTED: dict[str, float] = {
    "p-carbo": 20_000.0, "p-salt": 900.0, "p-citrate": 350.0, "f-rice": 140.0, "f-salted-rice": 120.0, "f-gel": 200.0,
    "f-ham-roll": 60.0,
}
"""On the truck before the race: grams and pieces."""
