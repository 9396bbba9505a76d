"""Sources of the models kept for comparison only."""

from brinebook.engine.sources import Source

SOURCES: dict[str, Source] = {
    "shapiro1982": Source(
        "Shapiro, Pandolf, Goldman 1982, Eur J Appl Physiol 48:83-96.", "",
        "sweat equation OSE, comparison only", "marching and resting soldiers, wind up to 2.5 m/s"),
    "gonzalez2009": Source(
        "Gonzalez et al. 2009, J Appl Physiol 107:379-388 (abstract).", "10.1152/japplphysiol.00089.2009",
        "sweat equations OSEC and PW and their ranges, comparison only", "101 people, wind 0.4-2.5 m/s"),
    "gonzalez2012": Source(
        "Gonzalez et al. 2012, J Appl Physiol 112:1300-1310; DTIC ADA559767.", "",
        "sweat equation PW,cool, comparison only", "marches at 16-26 C, wind 0.5-1.5 m/s"),
    "dedear1997": Source(
        "de Dear et al. 1997, convection of a heated manikin.", "",
        "convection coefficient, comparison only", "manikin, air up to 5 m/s"),
    "ashrae55": Source(
        "ASHRAE Standard 55, effective radiant field, as carried in pythermalcomfort (MIT).", "",
        "solar gain of a sitting person, comparison only", "indoor occupants behind glass"),
    "iso7243": Source(
        "ISO 7243, wet-bulb globe temperature from measured temperatures, as carried in open libraries.", "",
        "WBGT from natural wet bulb, globe and air", "workers outdoors and indoors"),
}
