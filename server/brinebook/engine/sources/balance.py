"""Sources of water, sodium and carbohydrate balance."""

from brinebook.engine.sources import Source

SOURCES: dict[str, Source] = {
    "kurtz_nguyen2003": Source(
        "Kurtz and Nguyen 2003, Clin Exp Nephrol 7:138-143.", "",
        "plasma sodium from exchangeable sodium, potassium and body water", "re-analysis of Edelman 1958, 98 patients"),
    "nguyen_kurtz2005": Source(
        "Nguyen and Kurtz 2005, Am J Physiol Renal Physiol 288:F1.", "",
        "modified electrolyte-free water, threshold of replacement", "theory on Edelman's patients"),
    "adrogue_madias2000": Source(
        "Adrogue and Madias 2000, N Engl J Med 342:1581.", "", "change of sodium by an infusate", "theory"),
    "rose1986": Source(
        "Rose 1986, Am J Med 81:1033, in secondary texts.", "", "classic electrolyte-free water", "theory"),
    "osm_teaching": Source(
        "Teaching page on osmolality of plasma.", "", "plasma osmolality from sodium, glucose and urea", "none"),
    "watson1980": Source(
        "Watson et al. 1980, Am J Clin Nutr 33:27-39.", "", "total body water", "458 men, 265 women"),
    "baker_lang_kenney2008": Source(
        "Baker, Lang and Kenney 2008, J Appl Physiol 105:91.", "10.1152/japplphysiol.00130.2008",
        "error of predicted plasma sodium, hence the margin above 135 mmol/L", "8 athletes, 12 trials"),
    "hew_butler2015": Source(
        "Hew-Butler et al. 2015, consensus on exercise-associated hyponatremia.", "10.1097/JSM.0000000000000221",
        "135 mmol/L as the bound", "consensus"),
    "montain2006": Source(
        "Montain, Cheuvront and Sawka 2006, Br J Sports Med 40:98-105.", "10.1136/bjsm.2005.018481",
        "small and constant potassium of sweat", "model of endurance runners"),
    "mccubbin2022": Source(
        "McCubbin 2022, Eur J Sport Sci.", "10.1080/17461391.2022.2083526",
        "which share of sodium holds plasma sodium", "model of endurance athletes"),
    "mccubbin_costa2018": Source(
        "McCubbin and Costa 2018, Int J Sports Sci 8(3).", "10.5923/j.sports.20180803.05",
        "highest hourly sodium tested in trials", "endurance athletes"),
    "mcdermott2017": Source(
        "McDermott et al. 2017, J Athl Train 52:877.", "10.4085/1062-6050-52.9.02",
        "no gain of mass, 2 % deficit, stomach volume, replacement after exercise", "position statement"),
    "mosler2020": Source(
        "Mosler et al. 2020, Dtsch Z Sportmed 71:178.", "10.5960/dzsm.2020.453",
        "80 % of sweat as the upper share, drink composition, printed table of runners' sweat", "position statement"),
    "thomas2016": Source(
        "Thomas, Erdman and Burke 2016, Med Sci Sports Exerc 48:543.", "",
        "carbohydrate per hour, drink before the start", "position statement"),
    "podlogar2022": Source(
        "Podlogar and colleagues 2022, PMC9560939.", "", "120 g/h of mixed sugars", "trained cyclists"),
    "merritt_sse262": Source(
        "Merritt, Sports Science Exchange 262.", "", "palatability of sodium in drinks", "review, industry-funded"),
    "lambert2008": Source(
        "Lambert et al. 2008, Int J Sports Med.", "10.1055/s-2008-1038620",
        "gastric emptying at sweat-matched drinking", "runners, repeated trials"),
    "ryan1989": Source(
        "Ryan et al. 1989, Med Sci Sports Exerc 21:51-58.", "10.1249/00005768-198902000-00010",
        "more than 1 L/h emptied from a full stomach", "second-hand excerpt"),
    "loo1996": Source(
        "Loo et al. 1996, Proc Natl Acad Sci 93:13367.", "", "water carried with sodium and glucose", "cells"),
    "zeuthen2001": Source(
        "Zeuthen 2001, isotonic transport by the glucose transporter.", "",
        "lower figure of water carried with glucose", "cells"),
    "shirreffs1996": Source(
        "Shirreffs et al. 1996, Med Sci Sports Exerc 28:1260-1271.", "",
        "urine after drinking 100 to 200 % of a loss, at two sodium levels", "12 men, 2 % dehydrated"),
    "merson2008": Source(
        "Merson, Maughan and Shirreffs 2008, Eur J Appl Physiol 103:585.", "",
        "40 and 50 mmol/L cut urine", "8 men"),
    "feeding_rules_news": Source(
        "News reports of 2018, 2019, 2020 and 2025 on the rules for feeding, some quoting the articles; rules not "
        "seen.", "", "dated feeding windows and bans", "men's and women's professional road races"),
    "heat_protocol_news": Source(
        "News reports of 2024 on a high-temperature protocol for road races; rule book not seen.", "",
        "colours of wet-bulb globe temperature", "professional road races"),
    "armstrong2007": Source(
        "Armstrong et al. 2007 (ACSM), Med Sci Sports Exerc 39:556; bands as reprinted in an open review.", "",
        "bands of wet-bulb globe temperature for continuous effort", "adults, acclimatised or not"),
    "iom_losses": Source(
        "Institute of Medicine, Dietary Reference Intakes for Water, table of daily losses, second-hand.", "",
        "obligatory loss between stages", "adults"),
    "balance_pin": Source(
        "Own regression case of a plan, and own arithmetic of drinks and balance.", "",
        "own fits, own engineering limits and pins of the bottle plan", "none"),
}
