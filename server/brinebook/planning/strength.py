"""What the bottles really held: a checked batch counts instead of its label when the two differ."""

from dataclasses import dataclass

from brinebook.planning.books import Books, Fact, record_key
from brinebook.records.derived import Flag
from brinebook.records.edited import Drink
from brinebook.records.facts import MixCheck

TOLERATED_DIFFERENCE_FRAC = 0.10
SURE_SD_N = 1.64
"""A difference within so many spreads of the reading itself may be the reading's, not the batch's."""


@dataclass(frozen=True)
class Mixed:
    """A drink with the sodium it carries."""

    drink: Drink
    sodium_mg_per_l: float
    keys: tuple[str, ...]
    flags: tuple[Flag, ...]


def drinks_as_mixed(books: Books, place: int | None = None) -> dict[str, Mixed]:
    """
    Take each drink as its last batch was, when that differs from the label by more than a tenth.

    With ``place`` the batches made after that stage are not looked at: a check counts from its stage on.
    """
    checks = books.mix_checks if place is None else books.mix_checks_until(place)
    return {drink.id: _mixed(drink, checks.get(drink.id)) for drink in books.drinks}


def _mixed(drink: Drink, check: Fact[MixCheck] | None) -> Mixed:
    key = record_key("drink", drink)
    label = drink.sodium_mg_per_l
    if check is None:
        return Mixed(drink, label, (key,), ())
    made, sd = check.body.sodium_mg_per_l, check.body.sodium_sd_mg_per_l or 0.0
    code = _verdict(made, sd, label)
    if code is None:
        return Mixed(drink, label, (key, check.key), ())
    flag = Flag(code=code, severity="caution", quantity="drink_sodium_mg_per_l", value=made, limit=label,
                detail=drink.id)
    return Mixed(drink, label if code == "mix_unsure" else made, (key, check.key), (flag,))


def _verdict(made: float, sd: float, label: float) -> str | None:
    gap = abs(made - label)
    if gap <= TOLERATED_DIFFERENCE_FRAC * label:
        return None
    if gap <= SURE_SD_N * sd:
        return "mix_unsure"
    return "mix_too_weak" if made < label else "mix_too_strong"
