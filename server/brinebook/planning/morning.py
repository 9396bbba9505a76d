"""Morning checks: mass against the rider's own line, with urine and thirst beside it."""

from dataclasses import dataclass

from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.settle.monitoring import Baseline, Morning, MorningResult, morning_baseline, morning_check_count
from brinebook.planning.books import Books, Fact
from brinebook.records.derived import Flag
from brinebook.records.facts import MorningCheck

BAND_FRAC = 0.01
FAR_FRAC = 0.02
N_POSITIVE_LIKELY = 2
FRESH_MS = 36 * 3_600_000
DAY_MS = 86_400_000


@dataclass(frozen=True)
class MorningKnown:
    """What the mornings say before a stage; ``baseline`` is None while there are too few, or the last is old."""

    flags: tuple[Flag, ...] = ()
    keys: tuple[str, ...] = ()
    baseline: Baseline | None = None
    mass_kg: float | None = None

    @property
    def change_frac(self) -> float | None:
        """Return the last morning against the rolling line."""
        return _change(self.mass_kg, None if self.baseline is None else self.baseline.rolling_kg)

    @property
    def change_since_start_frac(self) -> float | None:
        """Return the last morning against the line the race began with."""
        return _change(self.mass_kg, None if self.baseline is None else self.baseline.race_start_kg)


def _change(mass_kg: float | None, line_kg: float | None) -> float | None:
    return None if mass_kg is None or line_kg is None else mass_kg / line_kg - 1.0


def morning_of(books: Books, rider_id: str, *, before_ms: int) -> MorningKnown:
    """Judge the last morning before an instant, and name the checks it rests on; an old one says nothing any more."""
    checks = [check for check in books.of_rider(rider_id, MorningCheck) if check.event.at_ms < before_ms]
    if not checks or before_ms - checks[-1].event.at_ms > FRESH_MS:
        return MorningKnown()
    line = _line(checks[:-1], race_start_ms=_race_start_ms(books))
    if line is None:
        return MorningKnown()
    last, before = checks[-1].body, checks[-2].body.mass_kg / line.rolling_kg - 1.0
    change = last.mass_kg / line.rolling_kg - 1.0
    result = morning_check_count(change, last.urine_colour, last.thirst)
    return MorningKnown(
        flags=(*_band(change, before), *_count(result), *_up(result, change)),
        keys=tuple(check.key for check in checks),
        baseline=line,
        mass_kg=last.mass_kg,
    )


def is_dry_morning(books: Books, rider_id: str, *, before_ms: int) -> bool:
    """Say whether the signs of the last morning together speak of too little water."""
    known = morning_of(books, rider_id, before_ms=before_ms)
    return any(flag.code == "morning_check" for flag in known.flags)


def _race_start_ms(books: Books) -> int | None:
    return books.stages[0].start_at_ms if books.stages else None


def _line(checks: list[Fact[MorningCheck]], *, race_start_ms: int | None) -> Baseline | None:
    mornings = [
        Morning(day=check.event.at_ms / DAY_MS, mass_kg=check.body.mass_kg, is_ill=check.body.is_ill)
        for check in checks
    ]
    try:
        return morning_baseline(
            mornings, before_day=mornings[-1].day + 1.0 if mornings else 0.0,
            race_start_day=None if race_start_ms is None else race_start_ms / DAY_MS,
        )
    except UnphysicalInput:
        return None


def _band(change_frac: float, before_frac: float) -> list[Flag]:
    """One morning two percent down says something; one percent only when two mornings running say it."""
    if change_frac > -FAR_FRAC and max(change_frac, before_frac) > -BAND_FRAC:
        return []
    return [Flag(code="morning_mass_below_band", severity="caution", quantity="body_mass_change_frac",
                 value=change_frac, limit=-BAND_FRAC)]


def _count(result: MorningResult) -> list[Flag]:
    if result.n_positive < N_POSITIVE_LIKELY:
        return []
    return [Flag(code="morning_check", severity="caution", quantity="n_positive", value=float(result.n_positive),
                 limit=float(N_POSITIVE_LIKELY), detail=result.word)]


def _up(result: MorningResult, change_frac: float) -> list[Flag]:
    """Flag a rise: more morning mass is not better hydration, and with puffy hands it is a matter for the physician."""
    if not result.is_mass_up:
        return []
    return [Flag(code="morning_mass_above_band", severity="caution", quantity="body_mass_change_frac",
                 value=change_frac, limit=BAND_FRAC)]
