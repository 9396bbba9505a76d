"""A person's own data as a document to read: who he is, what was noted day by day and by whom, and who looked."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

from brinebook.sheets.markup import FONTS, PAPERS, TIMES, Paper, page, text
from brinebook.words import UnknownSentence, say

MOST_FACTS, MOST_ROWS = 1000, 300
"""The newest rows on paper, of the days and of each other table; all of them stand in the files beside it."""
DASH, ARROW = "\u2014", "\u2192"
Parts = Mapping[str, list[dict[str, Any]]]
UNITS = (
    ("_mmol_per_l", "mmol/L", 0), ("_mg_per_l", "mg/L", 0), ("_l", "L", 2), ("_kg", "kg", 1), ("_km", "km", 1),
    ("_mg", "mg", 0), ("_ul", "\u00b5L", 0), ("_min", "min", 0), ("_h", "h", 1), ("_w", "W", 0), ("_kj", "kJ", 0),
    ("_cm2", "cm\u00b2", 1), ("_m", "m", 2), ("_kcal", "kcal", 0), ("_ms_per_cm", "mS/cm", 1),
)
"""A figure's unit is the last word of its name."""
SHOWN: Mapping[str, tuple[str, ...]] = {
    "drank": ("volume_l", "drink_id"), "poured": ("volume_l",), "lost": ("volume_l", "drink_id"),
    "handed_up": ("volume_l", "drink_id"), "came_back": ("left_l", "drink_id"), "ate": ("food_id",),
    "weighed": ("moment", "mass_kg", "urine_l", "food_kg"), "symptom": ("symptom", "note"), "note": ("text",),
    "morning_check": ("mass_kg", "sleep_h"), "agreed": ("drunk_l", "note"), "reopened": ("reason",),
    "sweat_sample": ("sodium_mmol_per_l", "volume_ul", "collected_min"), "contested": ("reason",),
    "weighed_ride": ("mass_before_kg", "mass_after_kg", "fluid_drunk_l", "duration_h", "power_w"),
    "ridden": ("length_km", "duration_h", "work_kj"), "acknowledged": ("code", "note"),
    "mix_check": ("drink_id", "sodium_mg_per_l"), "collection_booked": ("place", "note"),
}
"""What a line says of a kind; all the rest of it stands in the tables."""
WEIGHINGS, TESTS = ("weighed", "morning_check"), ("sweat_sample", "weighed_ride")
OWN_ACTS = frozenset({"wished", "unwished", "agreed", "withdrew", "copied", "passkey_added", "passkey_removed"})
"""What only the person himself does; it stands in sections of its own."""
SETTLED = ("agreed_drunk_l", "sweat_loss_l", "sodium_drunk_mg", "sodium_lost_mg")


@dataclass(frozen=True)
class Names:
    """What ids stand for: people, drinks and foods, stages."""

    people: Mapping[str, str]
    items: Mapping[str, str]
    stages: Mapping[str, str]


@dataclass(frozen=True)
class OwnCopy:
    """What the document is made from: the parts of the copy, names for ids, and what ties it to the archive."""

    parts: Parts
    names: Names
    own_ids: frozenset[str]
    team_name: str
    zone: ZoneInfo
    made_at: datetime
    sum_of_json: str


class _Writer:
    """Writes one copy in one language."""

    def __init__(self, copy: OwnCopy, paper: Paper) -> None:
        self.copy, self.paper = copy, paper

    def say(self, key: str, **values: str | float) -> str:
        """Say one sentence of this document, escaped."""
        return self.known(f"mine.paper.{key}", **values)

    def known(self, key: str, **values: str | float) -> str:
        """Say one sentence of any catalogue; the bare last word where no catalogue has it."""
        try:
            return text(say(self.paper.language, key, values))
        except UnknownSentence:
            return text(key.rsplit(".", 1)[-1].replace("_", " "))

    def at(self, told: str | int | None, *, has_time: bool = True) -> str:
        """Write an instant as the wall clock of the team's race shows it."""
        if not told:
            return DASH
        moment = datetime.fromisoformat(told) if isinstance(told, str) else datetime.fromtimestamp(told / 1000, UTC)
        return moment.astimezone(self.copy.zone).strftime("%Y-%m-%d %H:%M" if has_time else "%Y-%m-%d")

    def who(self, id_: str) -> str:
        """Name who noted something."""
        if id_ in self.copy.own_ids:
            return self.say("you")
        return text(self.copy.names.people[id_]) if id_ in self.copy.names.people else self.say("gone")

    def value(self, name: str, value: Any) -> str:
        """Write one field of a body: figures with their unit, ids by name, words as they were written."""
        if value in (None, ""):
            return ""
        if name.endswith("_id"):
            return text(self.copy.names.items.get(str(value), str(value)))
        if isinstance(value, bool | list | dict) or not isinstance(value, int | float):
            return self.known(f"symptom.{value}") if name == "symptom" else self._word(name, value)
        for ending, unit, digits in UNITS:
            if name.endswith(ending):
                return f"{self.paper.figure(value, digits)} {unit}"
        return self.paper.figure(value, 0 if float(value).is_integer() else 2)

    def _word(self, name: str, value: Any) -> str:
        return self.known(f"bus.{value}") if name == "moment" else text(str(value))

    def details(self, fact: Mapping[str, Any]) -> str:
        """Say what a fact holds, in one line."""
        kind, raw = str(fact["kind"]), fact.get("body")
        body = raw if isinstance(raw, dict) else {}
        if kind == "amend":
            changed = body.get("set") or {}
            return ", ".join(f"{text(name)} {ARROW} {self.value(name, value)}" for name, value in changed.items())
        told = [self.value(name, body.get(name)) for name in SHOWN.get(kind, ())]
        if kind == "handed_up":
            told[0] = f"{body.get('n_bottles', 1)} {TIMES} {told[0]}"
        if kind == "ate":
            told[0] = f"{self.paper.figure(body.get('n_units', 1), 1)} {TIMES} {told[0]}"
        if kind == "morning_check":
            told += [f"{self.say('thirst')} {body['thirst']}/9" if "thirst" in body else "",
                     f"{self.say('urine')} {body['urine_colour']}/8" if "urine_colour" in body else ""]
        return " · ".join(one for one in told if one)


def _local(fact: Mapping[str, Any]) -> datetime:
    """Give when it happened by the clock of the phone that noted it."""
    return datetime.fromtimestamp(fact["at_ms"] / 1000, timezone(timedelta(minutes=fact.get("tz_min", 0))))


def _table(heads: list[str], rows: Iterable[Iterable[str]]) -> str:
    head = "".join(f"<th scope='col'>{one}</th>" for one in heads)
    body = "".join(f"<tr>{''.join(f'<td>{cell}</td>' for cell in row)}</tr>" for row in rows)
    return f"<table class='of-{len(heads)}'><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _section(title: str, body: str, nothing: str) -> str:
    return f"<section><h2>{title}</h2>{body or f'<p>{nothing}</p>'}</section>"


def _record(parts: Parts, type_: str) -> dict[str, Any]:
    return next((one["body"] for one in parts["records"] if one["type"] == type_), {})


def _person(out: _Writer) -> str:
    parts, say_ = out.copy.parts, out.say
    member, rider, body = parts["person"][0], _record(parts, "rider"), _record(parts, "rider_body")
    palate, profile = _record(parts, "rider_palate"), _record(parts, "profile")
    rows = [(say_("name"), text(member["name"])), (say_("role"), out.known(f"role.{member['role']}"))]
    figures = (
        ("number", rider, "race_number"), ("mass", body, "mass_kg"), ("height", body, "height_m"),
        ("age", body, "age_years"), ("factor", profile, "sweat_factor_median"),
        ("sodium", profile, "sodium_mean_mmol_per_l"),
    )
    for key, record, field in figures:
        told = out.value(field, record.get(field))
        rows += [(say_(key), told)] if told else []
    for name in ("likes", "cannot", "cannot_allergens"):
        told = ", ".join(text(out.copy.names.items.get(one, one)) for one in palate.get(name, []))
        rows += [(say_("likes" if name == "likes" else "cannot"), told)] if told else []
    lines = "".join(f"<dt>{name}</dt><dd>{value}</dd>" for name, value in rows)
    return f"<section><h2>{say_('person')}</h2><dl>{lines}</dl></section>"


def _days(out: _Writer, facts: list[dict[str, Any]]) -> str:
    shown = facts[-MOST_FACTS:]
    days: dict[str, list[dict[str, Any]]] = {}
    for fact in shown:
        days.setdefault(_local(fact).strftime("%Y-%m-%d"), []).append(fact)
    heads = [out.say(one) for one in ("time", "what", "figure", "by")]
    body = "".join(f"<h3>{day}</h3>" + _table(heads, (
        (_local(fact).strftime("%H:%M"), out.known(f"fact.{fact['kind']}"), out.details(fact), out.who(fact["by"]))
        for fact in found
    )) for day, found in days.items())
    n_left = len(facts) - len(shown)
    return (f"<p>{out.say('earlier', n=n_left)}</p>" if n_left else "") + body


def _of_kinds(out: _Writer, facts: list[dict[str, Any]], kinds: tuple[str, ...]) -> str:
    found = [fact for fact in facts if fact["kind"] in kinds][-MOST_ROWS:]
    heads = [out.say(one) for one in ("day", "what", "figure", "by")]
    return _table(heads, (
        (_local(fact).strftime("%Y-%m-%d %H:%M"), out.known(f"fact.{fact['kind']}"), out.details(fact),
         out.who(fact["by"]))
        for fact in found
    )) if found else ""


def _stages(out: _Writer) -> str:
    records = out.copy.parts["records"]
    found = [one["body"] for one in records if one["type"] == "settlement" and one["body"].get("state") == "settled"]
    known = {one.get("stage_id") for one in found}
    totals = [one["body"] for one in records if one["type"] == "stage_total" and one["body"]["stage_id"] not in known]
    found += [{**one, "agreed_drunk_l": one["drunk_l"]} for one in totals]
    found.sort(key=lambda one: (str(one.get("day", "")), one.get("stage_number", 0)))
    heads = [out.say(one) for one in ("stage", "drunk", "sweat", "sodium_drunk", "sodium_lost")]
    return _table(heads, (
        (f"{one.get('stage_number', '')} {text(_stage_name(out, one))}",
         *(out.value(name, one.get(name)) or DASH for name in SETTLED))
        for one in found
    )) if found else ""


def _stage_name(out: _Writer, one: Mapping[str, Any]) -> str:
    name = one.get("stage_name") or out.copy.names.stages.get(one.get("stage_id", ""), "")
    return f"{name} {one.get('day', '')}".strip()


def _answers(out: _Writer) -> str:
    def said(one: Mapping[str, Any]) -> str:
        is_choice = one["notice"] != "use"
        return out.known("mine." + (("allow" if is_choice else "read") if one["is_agreed"] else
                                    ("deny" if is_choice else "disagree")))
    heads = [out.say(one) for one in ("notice", "version", "day", "answer")]
    return _table(heads, (
        (out.known(f"mine.notice.{one['notice']}"), str(one["version"]), out.at(one["at"]), said(one))
        for one in out.copy.parts["answers"]
    )) if out.copy.parts["answers"] else ""


def _looks(out: _Writer) -> str:
    def did(one: Mapping[str, Any]) -> str:
        for key in (f"me.looked.{one['act']}.{one['what']}", f"me.looked.{one['act']}"):
            try:
                return text(say(out.paper.language, key, {"what": one["what"]}))
            except UnknownSentence:
                continue
        return out.known("me.looked.other", what=one["act"])
    found = [one for one in out.copy.parts["who_looked"] if one["act"] not in OWN_ACTS][:MOST_ROWS]
    known = {"server": "me.lookedServer", "erased": "me.lookedErased"}
    return _table([out.say(one) for one in ("day", "who", "did")], (
        (out.at(one["at"]), text(one["by"]) or out.known(known.get(one["by_role"], "me.lookedErased")), did(one))
        for one in found
    )) if found else ""


def _devices(out: _Writer) -> str:
    rows = [(out.say("device"), text(one["name"]), out.at(one["joined_at"]), out.at(one["seen_at"], has_time=False))
            for one in out.copy.parts["devices"]]
    rows += [(out.say("passkey"), text(one["name"]), out.at(one["made_at"]), out.at(one["used_at"]))
             for one in out.copy.parts["passkeys"]]
    return _table([out.say(one) for one in ("sort", "name", "made_on", "used_on")], rows) if rows else ""


def _rest(out: _Writer) -> str:
    parts, lines = out.copy.parts, []
    lines += [out.known("mine.eraseDue", day=out.at(one["due_at"])) for one in parts["wish_to_be_forgotten"]]
    lines += [out.say("aside", n=len(parts["set_aside"]))] if parts["set_aside"] else []
    lines += [out.say("others", n=len(parts["noted_for_others"]))] if parts["noted_for_others"] else []
    return f"<section>{''.join(f'<p>{one}</p>' for one in lines)}</section>"


def own_copy_html(copy: OwnCopy, paper: Paper, *, paper_size: str = "a4") -> str:
    """Lay out the whole document."""
    out, facts = _Writer(copy, paper), sorted(copy.parts["facts"], key=lambda fact: (fact["at_ms"], fact["id"]))
    title = out.say("title", name=copy.parts["person"][0]["name"])
    nothing = out.say("nothing")
    made = (
        ("days", _days(out, facts)), ("weighings", _of_kinds(out, facts, WEIGHINGS)),
        ("tests", _of_kinds(out, facts, TESTS)), ("stages", _stages(out)), ("answers", _answers(out)),
        ("looks", _looks(out)), ("devices", _devices(out)),
    )
    first = out.say("made", at=copy.made_at.strftime("%Y-%m-%d %H:%M %Z"), team=copy.team_name)
    sections = "".join(_section(out.say(name), body, nothing) for name, body in made)
    return page(title, paper.language, _style(paper_size), (
        f"<h1>{title}</h1><p>{first}</p><p class='sum'>{out.say('sum', sum=copy.sum_of_json)}</p>"
        f"{_person(out)}{_rest(out)}{sections}<p class='foot'>{out.say('foot')}</p>"
    ))


def _style(paper_size: str) -> str:
    return f"""
@page {{ size: {PAPERS[paper_size]}; margin: 14mm 12mm;
  @bottom-right {{ content: counter(page) " / " counter(pages); font: 8pt {FONTS} }} }}
html, body {{ margin: 0; color: #000; background: #fff; font: 9pt/1.25 {FONTS} }}
h1 {{ font-size: 18pt; margin: 0 0 1mm }} h2 {{ font-size: 12pt; margin: 6mm 0 1.5mm; break-after: avoid }}
h3 {{ font-size: 9.5pt; margin: 3mm 0 0.5mm; break-after: avoid }} p {{ margin: 0 0 2mm }}
.sum {{ overflow-wrap: anywhere; font-size: 8pt }} .foot {{ margin-top: 6mm }}
dl {{ display: grid; grid-template-columns: 45mm 1fr; margin: 0 }} dt {{ font-weight: 600 }} dd {{ margin: 0 }}
table {{ width: 100%; border-collapse: collapse; table-layout: fixed }}
th, td {{ text-align: left; vertical-align: top; padding: 0.6mm 1mm; border-bottom: 0.1mm solid #000 }}
td {{ overflow-wrap: anywhere }} section > p {{ margin-top: 1mm }} dl + p {{ margin-top: 2mm }}
.of-4 th:nth-child(1) {{ width: 32mm }} .of-4 th:nth-child(2) {{ width: 36mm }} .of-4 th:nth-child(4) {{ width: 38mm }}
thead th {{ border-bottom: 0.4mm solid #000; font-size: 8pt }} tr {{ break-inside: avoid }}
"""
