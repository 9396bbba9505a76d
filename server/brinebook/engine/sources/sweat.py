"""Sources of sweat composition, sweat loss and what weighings teach."""

from brinebook.engine.sources import Source

SOURCES: dict[str, Source] = {
    "iupac_masses": Source(
        "IUPAC standard atomic weights.", "", "molar masses", "none"),
    "baker2016": Source(
        "Baker et al. 2016, J Sports Sci 34:358-368.", "10.1080/02640414.2015.1055291",
        "dorsal forearm equation, population spread of forearm and whole-body sodium", "506 mixed athletes, 15-50 C"),
    "baker2009": Source(
        "Baker, Stofan, Hamilton, Horswill 2009, J Appl Physiol 107:887-895.", "10.1152/japplphysiol.00197.2009",
        "thigh and five-site equations", "10 men, 10 women, cycling in heat"),
    "baker2020": Source(
        "Baker et al. 2020, Physiol Rep 8(15):e14524.", "10.14814/phy2.14524",
        "cross-validated spread per site, ventral forearm identity", "49 people, 90 min cycling, washdown reference"),
    "clsi_c34": Source(
        "CLSI C34, Sweat testing (2019, rev. 2024), read in a summary and a laboratory training text.", "",
        "minimum volume and sweat rate of a sample", "clinical sweat tests"),
    "goulet2018_storage": Source(
        "Sweat Na/K/Cl after 7 d storage 2018, Int J Sport Nutr Exerc Metab 28:238-245.", "",
        "spread added by storing a sealed sample", "845 samples"),
    "goulet2017": Source(
        "Goulet, Asselin, Gosselin, Baker 2017, Appl Physiol Nutr Metab 42:861-868.", "",
        "repeatability of two readings of one sample", "sweat samples of exercising adults"),
    "luetkemeier2017": Source(
        "Luetkemeier et al. 2017, Med Sci Sports Exerc 49:1432-1436, digitised.", "10.1249/MSS.0000000000001244",
        "sodium of tattooed skin against plain skin", "10 men, sweat stimulated at rest"),
    "barnes2019": Source(
        "Barnes et al. 2019, J Sports Sci.", "10.1080/02640414.2019.1633159",
        "sodium loss and sweat rate by sport", "1303 athletes"),
    "lara2016": Source(
        "Lara et al. 2016, J Int Soc Sports Nutr 13:31, Table 2.", "10.1186/s12970-016-0141-z",
        "classes of low, middle and high sweat sodium and their shares", "157 marathon runners at 24 C"),
    "cf_conductivity": Source(
        "Analytical quality of assays and comparison of procedures for the sweat test (abstract).", "",
        "sodium chloride equivalents from chloride", "clinical sweat tests"),
    "willems2017": Source(
        "Willems, Weekx, Meskal, Schouwers 2017, Lung 195:241-246.", "",
        "reference change value", "12 adults, 8 or more samples each"),
    "buono2008": Source(
        "Buono et al. 2008, J Appl Physiol 105:1044-1048, numbers second-hand.", "10.1152/japplphysiol.90503.2008",
        "forearm sodium from local sweat rate", "exercising adults"),
    "daanen2018": Source(
        "Daanen, Racinais, Periard 2018, Sports Med 48:409-430.", "10.1007/s40279-017-0808-x",
        "decay of heat adaptation, correlation time of sweat sodium", "review"),
    "mitchell1972": Source(
        "Mitchell, Nadel, Stolwijk 1972, J Appl Physiol 32:474-476.", "",
        "respiratory water and gas exchange in a mass balance", "exercising men"),
    "iom1996": Source(
        "Institute of Medicine 1996, ch. 9, Table 9-2, NBK232870.", "",
        "oxygen uptake from metabolic power, check of respiratory water", "computed table"),
    "cheuvront2017": Source(
        "Cheuvront & Montain 2017, read in a practice report.", "",
        "non-sweat mass loss per kilocalorie", "exercising adults"),
    "sodium_estimator": Source(
        "Own synthesis of the papers above (prior, day, arm, season and calibration spreads).", "",
        "sodium estimate from forearm tests", "synthesis of published spreads; not validated as a whole"),
    "sodium_modifiers": Source(
        "Own synthesis of the papers above (heat adaptation, intensity, age of a test).", "",
        "optional shifts of sweat sodium", "synthesis of published shifts; engineering defaults"),
    "sample_rules": Source(
        "Own synthesis of the papers above (proposed rules for field samples).", "",
        "quality codes and their spreads", "engineering defaults"),
    "iso7933": Source(
        "ISO 7933, Predicted heat strain, 2004 and 2023 editions, read in open libraries.", "",
        "vapour pressure, respiration, skin temperature, evaporative efficiency, time constant", "working adults"),
    "kerslake1972": Source(
        "Kerslake formula as listed in the manual of the R package heatex.", "",
        "convective and evaporative heat transfer", "stated for cycling up to 4 m/s"),
    "dubois1916": Source(
        "DuBois & DuBois body-surface formula.", "", "body surface", "adults"),
    "dinapoli2020": Source(
        "Di Napoli et al. 2020, form as carried in the library thermofeel.", "",
        "mean radiant temperature from solar fluxes", "standing person"),
    "sweat_chain": Source(
        "Own synthesis of the papers above (base term fitted to four derived field anchors).", "",
        "sweat chain clips, cap, base term and spreads", "elite road cyclists, partly guessed inputs; not validated"),
    "lucia2002": Source(
        "Lucia et al. 2002, gross efficiency of world-class professionals; project setting 0.22.", "",
        "gross efficiency", "professional road cyclists"),
    "liljegren2008": Source(
        "Liljegren et al. 2008, J Occup Environ Hyg 5:645-655, through the open library thermofeel 2.3 (ECMWF).",
        "10.1080/15459620802310770", "outdoor wet-bulb globe temperature for the screen",
        "instruments on open ground, not riders"),
    "wbgt_simple": Source(
        "Simple WBGT formula without wind and sun, as carried in open libraries.", "",
        "display fallback only", "outdoor, moderate sun and light wind assumed"),
    "reconciliation": Source(
        "Own synthesis (variances of the stage balance, log-normal learner).", "",
        "stage sweat loss and learning", "engineering defaults"),
    "cheuvront2004": Source(
        "Cheuvront et al. 2004, PubMed 15673099.", "", "day-to-day spread of morning body mass, 0.66 %",
        "men at rest, mornings of several weeks"),
    "thompson1986": Source(
        "Thompson et al. 1986, Clin Sci 71:651.", "", "thirst and vasopressin from plasma osmolality, orientation only",
        "healthy adults, hypertonic infusion"),
    "wut2005": Source(
        "Cheuvront & Sawka 2005, Sports Sci Exchange; thresholds of a 43-person study over 10 days.", "",
        "morning check count", "43 people x 10 days"),
}
