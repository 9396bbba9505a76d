"""What each operation takes and gives, by the name of its handler; ``description`` makes OpenAPI of it."""

from dataclasses import dataclass
from typing import Annotated, Any

from msgspec import Meta, Struct, defstruct, field

from brinebook.access import invites, ledger, notices, retention
from brinebook.access.devices import OwnDevice, TeamDevice
from brinebook.api.presence import Place
from brinebook.api.routes import (
    catalogue,
    desk,
    exchanging,
    joining,
    keys,
    mine,
    passkeys,
    rides,
    stages,
    tables,
    waking,
    watching,
    why,
)
from brinebook.files.exports import TABLES
from brinebook.planning.catalogue import Composition
from brinebook.planning.race_rules import RulesTold
from brinebook.planning.what_if import Answer, Question
from brinebook.records import edited, wire
from brinebook.records.facts import Event
from brinebook.sheets.geometry import label_stocks
from brinebook.sheets.markup import PAPERS
from brinebook.sync import aside, keeping
from brinebook.sync.exchange import MAX_EVENTS
from brinebook.words import LANGUAGES


@dataclass(frozen=True)
class Binary:
    """Bytes of one of these media types."""

    media: tuple[str, ...]


@dataclass(frozen=True)
class Told:
    """One operation: types of what comes in and goes out, and the refusals that are not everybody's."""

    takes: Any = None
    gives: Any = None
    refused: tuple[int, ...] = ()
    status: int = 200
    unready: int = 0
    """The status under which the same answer is given when the server is not ready."""


def _with_object(name: str, base: type[Struct]) -> type[Struct]:
    """Describe a record whose body is handed on in the bytes it came in: it is some object."""
    made = ("body", dict[str, Any], field(default_factory=dict[str, Any]))
    return defstruct(name, [made], bases=(base,), frozen=True, kw_only=True, omit_defaults=True)


Reviewed: Any = _with_object("Reviewed", aside.Reviewed)
Fact: Any = _with_object("Fact", Event)
"""A fact as phones send it; what its body holds, by kind, stands in ``records/facts.py``."""
ANY_FACT = {"items": {"anyOf": [{"$ref": "#/components/schemas/Fact"}, {}]}}
"""Each fact is judged by itself and gets a verdict, so one that cannot be read never holds the others up."""


class Exchanging(wire.ExchangeRequest, frozen=True, kw_only=True, omit_defaults=True):
    """One exchange: facts up, and from where on to read."""

    protocol: Annotated[int, Meta(ge=1)]
    events: Annotated[list[Any], Meta(max_length=MAX_EVENTS, extra_json_schema=ANY_FACT)] = field(default_factory=list)


PDF = Binary(("application/pdf",))
TABLE = Binary(("text/csv",))
COURSE = Binary(("application/gpx+xml", "text/csv"))
RIDE = Binary(("application/vnd.ant.fit", "application/gpx+xml", "application/vnd.garmin.tcx+xml"))
BOOK = Binary(tuple(media.split(";", maxsplit=1)[0] for media in tables.FORMS.values()))
SHEET = Told(gives=PDF, refused=(422,))
"""A sheet for which there is nothing to print is not there."""
CREDENTIAL_OPTIONS = dict[str, Any]


def _kept(type_: Any) -> Told:
    return Told(takes=type_, gives=type_, refused=(409, 422))


OPERATIONS: dict[str, Told] = {
    "join": Told(takes=joining.Joining, gives=joining.Joined, refused=(403, 410, 429)),
    "me": Told(gives=joining.Me),
    "who_looked": Told(gives=list[ledger.Told]),
    "next_token": Told(gives=joining.NextToken),
    "team_devices": Told(gives=list[TeamDevice]),
    "list_devices": Told(gives=list[OwnDevice]),
    "revoke_device": Told(status=204),
    "make_invite": Told(takes=invites.Wanted, gives=joining.InviteLink, refused=(404,)),
    "list_members": Told(gives=list[edited.Member]),
    "list_aside": Told(gives=list[Reviewed]),
    "decide_aside": Told(takes=keys.Decision, gives=wire.Verdict),
    "end_devices": Told(status=204),
    "take_copy": Told(gives=Binary(("application/zip",)), refused=(404,)),
    "preview_erasure": Told(gives=keeping.Preview),
    "wish_erasure": Told(gives=keeping.Preview),
    "take_erasure_back": Told(gives=keeping.Preview),
    "list_notices": Told(gives=list[notices.Asked]),
    "answer_notice": Told(takes=mine.Answering, gives=list[notices.Asked], refused=(404, 409)),
    "list_months": Told(gives=list[retention.Kept]),
    "put_months": Told(takes=mine.Months, gives=list[retention.Kept], refused=(404,)),
    "list_passkeys": Told(gives=passkeys.OwnPasskeys),
    "register_options": Told(gives=CREDENTIAL_OPTIONS),
    "register_passkey": Told(takes=passkeys.Registering, gives=passkeys.OwnPasskey),
    "forget_passkey": Told(status=204),
    "verify_options": Told(gives=CREDENTIAL_OPTIONS),
    "verify": Told(takes=passkeys.Showing, status=204),
    "sign_in_options": Told(gives=CREDENTIAL_OPTIONS),
    "sign_in": Told(takes=passkeys.Showing, gives=joining.Joined, refused=(403, 429)),
    "put_step_up": Told(takes=passkeys.StepUp, status=204),
    "exchange_route": Told(takes=Exchanging, gives=wire.ExchangeReply),
    "live": Told(gives=Binary(("text/event-stream",))),
    "health": Told(gives=exchanging.Health),
    "ready": Told(gives=watching.Ready, unready=503),
    "metrics": Told(gives=Binary(("text/plain",)), refused=(401,)),
    "put_rider": _kept(edited.Rider),
    "put_rider_body": _kept(edited.RiderBody),
    "put_drink": _kept(edited.Drink),
    "put_food": _kept(edited.Food),
    "put_stage": _kept(edited.Stage),
    "put_supply": _kept(edited.Supply),
    "put_palate": _kept(edited.RiderPalate),
    "put_kit": _kept(edited.Kit),
    "put_goals": _kept(edited.PlanGoals),
    "post_label": Told(takes=edited.Supply, gives=catalogue.LabelAnswer, refused=(422,)),
    "post_recipe": Told(takes=catalogue.Recipe, gives=Composition, refused=(422,)),
    "get_prep": SHEET,
    "get_labels": SHEET,
    "get_cards": SHEET,
    "get_grid": Told(gives=PDF, refused=(404, 422)),
    "get_report": SHEET,
    "post_course": Told(takes=COURSE, gives=edited.Stage, refused=(409, 422)),
    "post_made_course": Told(takes=stages.MadeCourse, gives=edited.Stage, refused=(409, 422)),
    "post_forecast": Told(takes=TABLE, gives=edited.Stage, refused=(409, 422)),
    "post_plan": Told(gives=stages.Planned, refused=(422,)),
    "post_publish": Told(gives=stages.Published, refused=(422,)),
    "preview_ride": Told(takes=RIDE, gives=rides.RideRead, refused=(422,)),
    "post_ride": Told(takes=RIDE, gives=rides.RideRead, refused=(422,)),
    "why": Told(gives=why.Why),
    "subscribe": Told(takes=waking.Subscribing, gives=waking.Subscribed),
    "unsubscribe": Told(status=204),
    "post_presence": Told(takes=Place, gives=desk.Table),
    "post_what_if": Told(takes=Question, gives=Answer, refused=(422,)),
    "get_rules": Told(gives=RulesTold),
    "export_table": Told(gives=BOOK, refused=(422,)),
    "import_table": Told(takes=TABLE, gives=tables.Rows, refused=(422,)),
}
"""By the name of the handler."""

ID = {"type": "string", "minLength": 1, "maxLength": 64, "pattern": "^[A-Za-z0-9_.:-]+$"}
GIVEN: dict[str, dict[str, Any]] = {
    "record_id": ID, "stage_id": ID, "rider_id": ID,
    "table": {"enum": [*TABLES, "all"]}, "what": {"enum": ["roster", "weigh-ins", "drinks"]},
}
"""What stands in a path, where it is more than some text."""
QUERIES: dict[str, dict[str, Any]] = {
    "form": {"enum": list(tables.FORMS)}, "reach": {"enum": list(tables.REACHES)},
    "language": {"enum": list(LANGUAGES)}, "paper": {"enum": list(PAPERS)}, "stock": {"enum": list(label_stocks())},
}
"""What stands behind the question mark, where only some words are understood."""
