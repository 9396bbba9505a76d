"""Morning checks: mass against the rider's own band, with urine and thirst beside it."""

from statistics import median

from brinebook.engine.settle.monitoring import morning_check_count
from brinebook.planning.books import Books, Fact
from brinebook.records.derived import Flag
from brinebook.records.facts import MorningCheck

N_BASELINE = 7
MIN_BASELINE = 3
BAND_FRAC = 0.01
FAR_FRAC = 0.02
N_POSITIVE_LIKELY = 2
FRESH_MS = 36 * 3_600_000


def morning_of(books: Books, rider_id: str, *, before_ms: int) -> tuple[tuple[Flag, ...], tuple[str, ...]]:
    """Judge the last morning before an instant, and name the checks it rests on; an old one says nothing any more."""
    checks = tuple(
        check for check in books.of_rider(rider_id, MorningCheck) if check.event.at_ms < before_ms
    )[-N_BASELINE - 1:]
    if len(checks) <= MIN_BASELINE or before_ms - checks[-1].event.at_ms > FRESH_MS:
        return (), ()
    baseline_kg = median(check.body.mass_kg for check in checks[:-1])
    changes = [check.body.mass_kg / baseline_kg - 1.0 for check in checks[-2:]]
    return (*_band(changes), *_count(checks[-1], changes[-1])), tuple(check.key for check in checks)


def _band(changes: list[float]) -> list[Flag]:
    """One morning two percent down says something; one percent only when two mornings running say it."""
    if changes[-1] > -FAR_FRAC and max(changes) > -BAND_FRAC:
        return []
    return [Flag(code="morning_mass_below_band", severity="caution", quantity="body_mass_change_frac",
                 value=changes[-1], limit=-BAND_FRAC)]


def _count(check: Fact[MorningCheck], change_frac: float) -> list[Flag]:
    body = check.body
    result = morning_check_count(change_frac, body.urine_colour, body.thirst)
    if result.n_positive < N_POSITIVE_LIKELY:
        return []
    return [Flag(code="morning_check", severity="caution", quantity="n_positive", value=float(result.n_positive),
                 limit=float(N_POSITIVE_LIKELY), detail=result.word)]
