"""Sweat samples to a rider's sodium on a given day, with what the samples' quality says."""

from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.measure.corrections import corrected_sodium
from brinebook.engine.measure.ion_checks import chloride_codes, conductivity_reading, potassium_codes
from brinebook.engine.measure.sodium_change import sodium_change
from brinebook.engine.measure.sodium_estimate import SodiumEstimate, SodiumTest, sodium_estimate
from brinebook.engine.measure.sweat_sample import CONDUCTIVITY, SampleQuality, pair_quality, sample_quality
from brinebook.planning.books import Fact
from brinebook.records.derived import Flag
from brinebook.records.facts import SweatSample

DAY_MS = 86_400_000
VERY_SALTY_MMOL_PER_L = 90.0
Site = Literal["dorsal_forearm", "ventral_forearm"]


@dataclass(frozen=True)
class SodiumKnown:
    """What the samples say of one rider on one day."""

    estimate: SodiumEstimate
    n_tests: int
    flags: tuple[Flag, ...]
    keys: tuple[str, ...]


def sodium_known(samples: tuple[Fact[SweatSample], ...], *, at_ms: int) -> SodiumKnown:
    """Estimate sweat sodium at an instant from the samples taken before it; the population when there is none."""
    taken = tuple(sample for sample in samples if sample.event.at_ms < at_ms)
    site = _site(taken)
    tests, flags = [], []
    for _, of_day in groupby((sample for sample in taken if sample.body.site == site), key=_local_day):
        test, said = _test(tuple(of_day))
        flags.extend(said)
        if test is not None:
            tests.append(test)
    estimate = sodium_estimate(tests, at_day=at_ms / DAY_MS, site=site)
    mixed = [_flag(code, estimate.forearm_median_mmol_per_l) for code in estimate.codes]
    return SodiumKnown(estimate, len(tests), (*flags, *mixed, *_default(tests), *_salty(tests), *_changed(tests)),
                       tuple(sample.key for sample in taken))


def _site(samples: tuple[Fact[SweatSample], ...]) -> Site:
    n_ventral = sum(sample.body.site == "ventral_forearm" for sample in samples)
    return "ventral_forearm" if n_ventral > len(samples) - n_ventral else "dorsal_forearm"


def _local_day(sample: Fact[SweatSample]) -> int:
    return (sample.event.at_ms + 60_000 * sample.event.tz_min) // DAY_MS


@dataclass(frozen=True)
class _Arm:
    """One arm as it goes into a test: its level with handling taken off, its verdict and its method."""

    level_mmol_per_l: float
    is_usable: bool
    codes: tuple[str, ...]
    extra_log_variance: float
    method: str


def _arm(body: SweatSample) -> _Arm:
    """Take off dilution, blank and evaporation, turn conductivity into sodium by name, and judge what is left."""
    level, codes = body.sodium_mmol_per_l, list[str]()
    try:
        if body.method == CONDUCTIVITY:
            reading = conductivity_reading(level)
            level, codes = reading.sodium_mmol_per_l, [code for code in reading.codes if code != "COND_ONLY"]
        if body.diluent_ul or body.background_mg or body.evaporated_frac:
            level = corrected_sodium(
                level, volume_ul=body.volume_ul, diluent_ul=body.diluent_ul, background_mg=body.background_mg,
                evaporated_frac=body.evaporated_frac,
            ).sodium_mmol_per_l
            codes.append("CORRECTED")
        quality = _quality(body, level)
    except UnphysicalInput:
        return _Arm(body.sodium_mmol_per_l, False, (*codes, "UNREADABLE"), 0.0, body.method)  # noqa: FBT003 - unusable
    codes += [*quality.codes, *_ion_codes(body, level)]
    is_usable = quality.is_usable and "RANGE_IMPOSSIBLE" not in codes
    return _Arm(level, is_usable, tuple(dict.fromkeys(codes)), quality.extra_log_variance, body.method)


def _ion_codes(body: SweatSample, level_mmol_per_l: float) -> list[str]:
    """Ask chloride and potassium of the same tube whether the sodium can be right."""
    codes: list[str] = []
    if body.chloride_mmol_per_l is not None:
        codes += chloride_codes(level_mmol_per_l, chloride_mmol_per_l=body.chloride_mmol_per_l)
    if body.potassium_mmol_per_l is not None:
        codes += potassium_codes(body.potassium_mmol_per_l)
    return codes


def _quality(body: SweatSample, level_mmol_per_l: float) -> SampleQuality:
    return sample_quality(
        level_mmol_per_l, volume_ul=body.volume_ul, area_cm2=body.area_cm2, collected_min=body.collected_min,
        started_after_min=body.started_after_min, stored_days=body.stored_days, is_sealed=body.is_sealed,
        method=body.method, remarks=body.remarks, analyser_need_ul=body.analyser_need_ul,
    )


def _test(samples: tuple[Fact[SweatSample], ...]) -> tuple[SodiumTest | None, list[Flag]]:
    """Make one test of a day's samples: the last of each arm, an unusable arm left out."""
    arms = {sample.body.side: sample for sample in samples}
    checked = [_arm(arms[side].body) for side in sorted(arms)]
    flags = [_flag(code, arm.level_mmol_per_l) for arm in checked for code in arm.codes]
    used = [(arm.level_mmol_per_l, arm.extra_log_variance, arm.method) for arm in checked if arm.is_usable]
    extra = max((variance for _, variance, _ in used), default=0.0)
    if len(used) > 1:
        pair = pair_quality(used[0][0], used[1][0], methods=(used[0][2], used[1][2]))
        flags.extend(_flag(code, used[0][0]) for code in pair.codes)
        extra += pair.extra_log_variance
        used = used if pair.is_usable else []
    if not used:
        return None, flags
    day = sum(sample.event.at_ms for sample in samples) / len(samples) / DAY_MS
    levels = tuple(level for level, _, _ in used)
    return SodiumTest(day=day, arms_mmol_per_l=levels, extra_log_variance=extra, method=used[0][2]), flags


def _flag(code: str, value: float) -> Flag:
    return Flag(code="sample_quality", severity="caution", quantity="sweat_sodium_mmol_per_l", value=value, detail=code)


def _default(tests: list[SodiumTest]) -> list[Flag]:
    return [] if tests else [Flag(code="default_sodium", severity="note", quantity="sweat_sodium_mmol_per_l")]


def _salty(tests: list[SodiumTest]) -> list[Flag]:
    """Two tests that stay very salty go to the team physician: a matter for a person, not for a plan."""
    levels = [sum(test.arms_mmol_per_l) / len(test.arms_mmol_per_l) for test in tests]
    high = [level for level in levels if level > VERY_SALTY_MMOL_PER_L]
    if len(high) < 2:  # noqa: PLR2004 - twice is what makes it persistent
        return []
    return [Flag(code="persistently_salty", severity="medical", quantity="sweat_sodium_mmol_per_l", value=max(high),
                 limit=VERY_SALTY_MMOL_PER_L, detail="tell_team_physician")]


def _changed(tests: list[SodiumTest]) -> list[Flag]:
    """Say when the last two tests are further apart than chance alone explains."""
    if len(tests) < 2 or tests[-2].method != tests[-1].method:  # noqa: PLR2004 - a pair
        return []
    change = sodium_change(tests[-2], tests[-1])
    if not change.is_changed:
        return []
    return [Flag(code="sodium_changed", severity="note", quantity="change_frac", value=change.change_frac,
                 limit=change.rise_frac if change.change_frac > 0.0 else change.fall_frac)]
