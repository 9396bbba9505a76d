"""Ids, instants and bounded numbers shared by all records."""

from typing import Annotated, Literal

from msgspec import Meta

Id = Annotated[str, Meta(min_length=1, max_length=64, pattern=r"^[A-Za-z0-9_.:-]+$")]
Uuid = Annotated[str, Meta(pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$")]
Text = Annotated[str, Meta(max_length=400)]
Name = Annotated[str, Meta(min_length=1, max_length=80)]

InstantMs = Annotated[int, Meta(ge=0, le=4_102_444_800_000)]
MassKg = Annotated[float, Meta(ge=30.0, le=150.0)]
HeightM = Annotated[float, Meta(ge=1.2, le=2.3)]
SmallMassKg = Annotated[float, Meta(ge=0.0, le=10.0)]
VolumeL = Annotated[float, Meta(ge=0.0, le=20.0)]
BottleL = Annotated[float, Meta(gt=0.0, le=2.0)]
Fraction = Annotated[float, Meta(ge=0.0, le=1.0)]
DurationH = Annotated[float, Meta(gt=0.0, le=12.0)]
SweatSodiumMmolPerL = Annotated[float, Meta(ge=0.0, le=140.0)]
PowerW = Annotated[float, Meta(ge=0.0, le=2000.0)]
TemperatureC = Annotated[float, Meta(ge=-30.0, le=55.0)]
WindMPerS = Annotated[float, Meta(ge=0.0, le=35.0)]
DistanceKm = Annotated[float, Meta(ge=0.0, le=400.0)]
ElevationM = Annotated[float, Meta(ge=-100.0, le=5000.0)]
LatitudeDeg = Annotated[float, Meta(ge=-90.0, le=90.0)]
LongitudeDeg = Annotated[float, Meta(ge=-180.0, le=180.0)]

Role = Literal["rider", "soigneur", "car", "physiologist", "coach", "doctor", "admin"]
StageKind = Literal["flat", "hilly", "mountain", "time_trial", "mountain_time_trial", "rest"]
RaceRole = Literal["leader", "domestique", "breakaway", "sprinter"]
Evidence = Literal["weighed", "measured", "counted", "tapped", "recalled", "predicted", "default"]
