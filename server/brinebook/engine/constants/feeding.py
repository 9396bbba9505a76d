"""How likely a hand-up succeeds."""

from typing import Final

ROADSIDE_ODDS_FRAC: Final = 0.6  # own_defaults; one observed day: three in nine
CAR_ODDS_FRAC: Final = 0.85  # own_defaults
CAR_HARD_ODDS_FRAC: Final = 0.6  # own_defaults: on a climb or in a fast finale
CLIMB_FRAC: Final = 0.05  # own_defaults
FINALE_KM: Final = 30.0  # own_defaults
