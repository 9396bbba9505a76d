"""Sources of labels, batches and their checks."""

from brinebook.engine.sources import Source

SOURCES: dict[str, Source] = {
    "eu1169_2011": Source(
        "Regulation (EU) No 1169/2011 on food information, Annex I, point 11, and Annex II.", "",
        "salt on a label is sodium times 2.5; the fourteen allergens", "none"),
    "crc_conductivity": Source(
        "CRC Handbook of Chemistry and Physics, equivalent conductivity of electrolytes in water at 25 C.", "",
        "conductivity of sodium chloride and potassium chloride; from memory", "none"),
    "onsager1927": Source(
        "Onsager 1927, limiting law for 1:1 electrolytes in water at 25 C.", "",
        "slope of the molar conductivity against the root of concentration", "none"),
    "nbs440": Source(
        "NBS Circular 440, Polarimetry, saccharimetry and the sugars: density of sucrose solutions.", "",
        "grams per litre behind a refractometer's degrees; from memory", "none"),
    "iapws_ice": Source(
        "IAPWS release on ice Ih and water: enthalpy of fusion and heat capacity at 0 C.", "",
        "ice needed to cool bottles", "none"),
}
