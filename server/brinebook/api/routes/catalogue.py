"""Drafts of the catalogue: what a label says and asks, what a recipe makes, before either is kept."""

from litestar import Response, post
from litestar.params import RawBody
from msgspec import Struct

from brinebook.api.answers import answer
from brinebook.api.auth import must_plan
from brinebook.api.handed import Asked, Running
from brinebook.engine.plan.label import LabelReading
from brinebook.planning.catalogue import Composition, composition, open_questions, read_label
from brinebook.records.edited import Portion, Supply
from brinebook.sync.decode import decoded


class Asking(Struct, frozen=True, kw_only=True):
    """One question about a line of a label; ``typed`` and ``otherwise`` are per litre or per gram."""

    key: str
    code: str
    line_n: int
    typed: float
    otherwise: float | None
    is_per_l: bool


class LabelAnswer(Struct, frozen=True, kw_only=True):
    """What a gram holds as the label reads, and what has to be answered first."""

    sodium_mg_per_g: float
    carbohydrate_g_per_g: float
    fructose_frac: float | None
    questions: list[Asking]


class Recipe(Struct, frozen=True, kw_only=True):
    """A recipe to be tried."""

    recipe: list[Portion]


@post("/api/labels/read", status_code=200, sync_to_thread=True)
def post_label(request: Asked, body: RawBody) -> Response[bytes]:
    """Read a supply's label; nothing is kept."""
    must_plan(request.user)
    supply = decoded(body, Supply)
    return answer(_told(read_label(supply), supply))


def _told(read: LabelReading, supply: Supply) -> LabelAnswer:
    asked = [
        Asking(key=one.key, code=one.code, line_n=one.line_n, typed=one.typed, otherwise=one.otherwise,
               is_per_l=one.is_per_l)
        for one in open_questions(supply)
    ]
    return LabelAnswer(sodium_mg_per_g=read.sodium_mg_per_g, carbohydrate_g_per_g=read.carbohydrate_g_per_g,
                       fructose_frac=read.fructose_frac, questions=asked)


@post("/api/recipes/read", status_code=200, sync_to_thread=True)
def post_recipe(request: Asked, body: RawBody, services: Running) -> Response[bytes]:
    """Work out what a recipe makes of a litre; nothing is kept."""
    who = request.user
    must_plan(who)
    supplies = {supply.id: supply for supply in services.repository.all_edited(who.team_id, Supply)}
    made: Composition = composition(decoded(body, Recipe).recipe, supplies)
    return answer(made)
