"""Is a rider's stage settled: the last word of agreed and reopened, and whether two people spoke at once."""

from brinebook.planning.books import Books, Fact
from brinebook.planning.fold import stamp
from brinebook.records.facts import Agreed, Body, Reopened

SAME_L = 0.025


def agreement_of(books: Books, rider_id: str, stage_id: str) -> Fact[Agreed] | None:
    """Return the agreed figure in force, or None when there is none or it was reopened."""
    last = max(_said(books, rider_id, stage_id), key=lambda fact: stamp(fact.event), default=None)
    return Fact(last.event, last.body) if last is not None and isinstance(last.body, Agreed) else None


def rivals_of(books: Books, rider_id: str, stage_id: str) -> tuple[Fact[Agreed], ...]:
    """
    Return agreed figures that differ from the one in force and were agreed without either author seeing the other's.

    A figure names those its author saw; one from before such names counts as having seen all that came earlier.
    """
    standing: list[Fact[Agreed]] = []
    for fact in sorted(_said(books, rider_id, stage_id), key=lambda fact: stamp(fact.event)):
        if not isinstance(fact.body, Agreed):
            standing = []
            continue
        over = fact.body.over
        standing = [] if over is None else [one for one in standing if one.event.id not in over]
        standing.append(Fact(fact.event, fact.body))
    return tuple(one for one in standing[:-1] if abs(one.body.drunk_l - standing[-1].body.drunk_l) > SAME_L)


def _said(books: Books, rider_id: str, stage_id: str) -> list[Fact[Body]]:
    return [
        *(Fact[Body](fact.event, fact.body) for fact in books.of_rider(rider_id, Agreed, stage_id=stage_id)),
        *(Fact[Body](fact.event, fact.body) for fact in books.of_rider(rider_id, Reopened, stage_id=stage_id)),
    ]
