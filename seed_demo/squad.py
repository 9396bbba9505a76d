"""The invented squad: eight riders of varied size and six staff. No name belongs to a real person we know of."""

from dataclasses import dataclass
from typing import Any

from brinebook.records.common import RaceRole


@dataclass(frozen=True)
class RiderCard:
    """What the team knows of a rider before the race."""

    id: str
    name: str
    race_number: int
    race_role: RaceRole
    mass_kg: float
    height_m: float
    age_years: int

    def rider(self) -> dict[str, Any]:
        """Return the record any team member may see."""
        return {"id": self.id, "name": self.name, "race_number": self.race_number, "race_role": self.race_role}

    def body(self) -> dict[str, Any]:
        """Return the record only few may see."""
        return {
            "id": self.id, "mass_kg": self.mass_kg, "height_m": self.height_m, "age_years": self.age_years, "sex": "m",
        }


@dataclass(frozen=True)
class StaffCard:
    """A member of staff; ``key`` tells two soigneurs apart."""

    key: str
    name: str
    role: str


RIDERS = (
    RiderCard("r-maravel", "Teodor Maravel", 61, "leader", 63.4, 1.77, 28),
    RiderCard("r-okunde", "Sefu Okunde", 62, "domestique", 58.6, 1.70, 24),
    RiderCard("r-lindhag", "Arvo Lindhag", 63, "domestique", 74.8, 1.88, 31),
    RiderCard("r-castrel", "Nino Castrel", 64, "breakaway", 67.2, 1.79, 26),
    RiderCard("r-vossberk", "Harm Vossberk", 65, "sprinter", 81.6, 1.89, 27),
    RiderCard("r-tremoux", "Luc Tremoux", 66, "domestique", 70.1, 1.82, 33),
    RiderCard("r-halvik", "Jannis Halvik", 67, "breakaway", 65.3, 1.76, 23),
    RiderCard("r-dombrek", "Pavol Dombrek", 68, "domestique", 76.3, 1.91, 29),
)

STAFF = (
    StaffCard("physiologist", "Mira Estenholt", "physiologist"),
    StaffCard("soigneur-1", "Bruno Fallachi", "soigneur"),
    StaffCard("soigneur-2", "Katla Vindsdal", "soigneur"),
    StaffCard("car", "Gerrit Oostmolen", "car"),
    StaffCard("coach", "Dario Senterol", "coach"),
    StaffCard("doctor", "Ines Ravelquist", "doctor"),
)
