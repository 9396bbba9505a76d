"""What the bottles really held: a checked batch counts instead of its label when the two differ."""

from dataclasses import dataclass

from brinebook.planning.books import Books, record_key
from brinebook.records.derived import Flag
from brinebook.records.edited import Drink

TOLERATED_DIFFERENCE_FRAC = 0.10


@dataclass(frozen=True)
class Mixed:
    """A drink with the sodium it carries."""

    drink: Drink
    sodium_mg_per_l: float
    keys: tuple[str, ...]
    flags: tuple[Flag, ...]


def drinks_as_mixed(books: Books) -> dict[str, Mixed]:
    """Take each drink as its last batch was, when that differs from the label by more than a tenth."""
    return {drink.id: _mixed(books, drink) for drink in books.drinks}


def _mixed(books: Books, drink: Drink) -> Mixed:
    check = books.mix_checks.get(drink.id)
    key = record_key("drink", drink)
    if check is None:
        return Mixed(drink, drink.sodium_mg_per_l, (key,), ())
    label, made = drink.sodium_mg_per_l, check.body.sodium_mg_per_l
    if abs(made - label) <= TOLERATED_DIFFERENCE_FRAC * label:
        return Mixed(drink, label, (key, check.key), ())
    code = "mix_too_weak" if made < label else "mix_too_strong"
    flag = Flag(code=code, severity="caution", quantity="drink_sodium_mg_per_l", value=made, limit=label,
                detail=drink.id)
    return Mixed(drink, made, (key, check.key), (flag,))
