"""Sources of the road, the air, the weather and the sun."""

from brinebook.engine.sources import Source

SOURCES: dict[str, Source] = {
    "martin1998": Source(
        "Martin, Milliken, Cobb, McFadden, Coggan 1998, J Appl Biomech 14(3):276-291.", "10.1123/jab.14.3.276",
        "power from speed, bearing loss, drivetrain, wheels; appendix I as check", "6 cyclists, a flat road course"),
    "vandruenen2021": Source(
        "van Druenen, Blocken 2021, Sports Eng 24:10.", "10.1007/s12283-021-00345-2",
        "drag behind another rider uphill, as check", "simulated air flow around mannequins"),
    "vogt2007": Source(
        "Vogt et al. 2007, Int J Sports Med 28:756.", "10.1055/s-2007-964982",
        "mean power of flat, hilly and mountain stages", "15 male professionals, 148 stages of one grand tour"),
    "sanmillan2021": Source(
        "San Millan group, abstract on the bioenergetics of a grand tour, 2021.", "",
        "mean power of all stages of a strong team", "8 male professionals, 69 kg"),
    "icao7488": Source(
        "ICAO Doc 7488, Manual of the standard atmosphere, read through an open library.", "",
        "pressure, density and lapse with height", "none"),
    "ashrae2017": Source(
        "ASHRAE Handbook of Fundamentals 2017, chapter 1, read through psychrolib 2.5.", "",
        "humidity ratio, wet bulb, station pressure; tables as check", "none"),
    "buck1996": Source(
        "Buck 1996, CR-1A hygrometer manual, revising J Appl Meteorol 20:1527 (1981).", "",
        "saturation vapour pressure and its inverse", "none"),
    "wmo_cimo": Source(
        "WMO Guide to instruments and methods of observation (CIMO), Magnus form, read on a secondary page.", "",
        "saturation vapour pressure, as comparison", "none"),
    "fao56": Source(
        "Allen et al. 1998, FAO Irrigation and drainage paper 56, eq. 47.", "", "wind at another height", "none"),
    "noaa2011": Source(
        "NOAA solar calculator equations after Meeus, Astronomical algorithms.", "",
        "elevation and azimuth of the sun, equation of time, refraction", "none"),
    "haurwitz1945": Source(
        "Haurwitz 1945, J Meteorol 2:154, constant as in an open solar library.", "",
        "clear-sky irradiance from the sun's height", "none"),
    "larson2016": Source(
        "Larson, Nonnenmacher, Coimbra 2016, Renew Energy 91:11, as used in an open solar library.", "",
        "cloud factor with an overcast share of 35 percent", "none"),
    "kasten1980": Source(
        "Kasten, Czeplak 1980, Solar Energy 24:177; coefficients from memory.", "",
        "another cloud factor, as comparison", "ten years of one station"),
    "erbs1982": Source(
        "Erbs, Klein, Duffie 1982, Solar Energy 28:293-302.", "10.1016/0038-092X(82)90302-4",
        "diffuse share of global irradiance", "hourly records of four stations"),
    "kopp2011": Source(
        "Kopp, Lean 2011, Geophys Res Lett 38:L01706.", "10.1029/2010GL045777", "irradiance above the air", "none"),
    "iugg1980": Source(
        "IUGG 1980 mean radius of the Earth, R1 of GRS 80.", "", "distance between two points", "none"),
    "ride_rules": Source(
        "Own rules for reading rides, drawn from six recordings of head units.", "",
        "work from 1 Hz power, pauses, missing power, comparison with the device's own work", "six amateur recordings"),
    "own_defaults": Source(
        "Brinebook's own engineering defaults, proposed, not published numbers; calibrated on public race speeds.", "",
        "power by role, shelter, course grid, caps and limits", "male professionals in grand tours"),
}
