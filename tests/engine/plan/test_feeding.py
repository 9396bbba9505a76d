"""How likely a hand-up is; the figures are own defaults."""

from brinebook.engine.plan.feeding import hand_up_odds_frac


def test_a_hand_up_is_less_likely_by_the_roadside_on_a_climb_and_in_the_finale():
    odds = [hand_up_odds_frac(kind, km=km, finish_km=180.0, slope_frac=slope)
            for kind, km, slope in (("start", 0, 0.0), ("car", 90, 0.02), ("car", 90, 0.07), ("car", 155, 0.0),
                                    ("zone", 90, 0.0))]

    assert odds == [1.0, 0.85, 0.6, 0.6, 0.6]
