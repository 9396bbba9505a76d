"""The phone judges a sample by the engine's own rules: the same limits by name, the same verdict on each sample."""

import json
import re
from pathlib import Path

import pytest
from brinebook.engine.constants import sweat as k
from brinebook.engine.measure.calibration import ControlReading, calibration_quality, control_quality
from brinebook.engine.measure.sweat_sample import sample_quality

ROOT = Path(__file__).resolve().parents[3]
RULES = (ROOT / "pwa" / "src" / "core" / "sweat_rules.ts").read_text(encoding="utf-8")
VECTORS = json.loads((Path(__file__).parent / "quality_vectors.json").read_text(encoding="utf-8"))


def test_every_limit_on_the_phone_is_the_engines():
    limits = {name: float(value) for name, value in re.findall(r"^  ([A-Z0-9_]+): ([0-9.]+),$", RULES, re.MULTILINE)}
    spans = {name: (float(low), float(high)) for name, low, high in re.findall(r"([A-Z_]+): \[(\d+), (\d+)\]", RULES)}

    assert len(limits) == 20
    assert {name: getattr(k, name) for name in limits} == limits
    assert {name: getattr(k, name) for name in spans} == spans
    assert len(spans) == 2


@pytest.mark.parametrize("vector", VECTORS["samples"], ids=lambda vector: vector["id"])
def test_a_sample_gets_these_codes_here_and_on_the_phone(vector):
    sample = vector["sample"]
    quality = sample_quality(
        sample["sodiumMmolPerL"], volume_ul=sample["volumeUl"], area_cm2=sample["areaCm2"],
        collected_min=sample["collectedMin"], started_after_min=sample["startedAfterMin"],
        stored_days=sample["storedDays"], is_sealed=sample["isSealed"], method=sample["method"],
        remarks=sample["remarks"],
    )

    assert sorted(quality.codes) == sorted(vector["codes"])
    assert quality.is_usable is vector["is_usable"]


@pytest.mark.parametrize("vector", VECTORS["meters"], ids=lambda vector: vector["id"])
def test_a_meter_gets_these_codes_here_and_on_the_phone(vector):
    codes = list(calibration_quality(
        vector["slope"], temperature_c=25.0, solutions_mmol_per_l=(vector["low"], vector["high"]),
        n_samples_since=vector["n_samples"],
    ).codes)
    if vector["controls"]:
        codes += control_quality([ControlReading(*control) for control in vector["controls"]]).codes

    assert sorted(codes) == sorted(vector["codes"])
