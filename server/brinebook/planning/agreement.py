"""Is a rider's stage settled: the last word of agreed and reopened."""

from brinebook.planning.books import Books, Fact
from brinebook.planning.fold import stamp
from brinebook.records.facts import Agreed, Body, Reopened


def agreement_of(books: Books, rider_id: str, stage_id: str) -> Fact[Agreed] | None:
    """Return the agreed figure in force, or None when there is none or it was reopened."""
    said: list[Fact[Body]] = [
        *(Fact[Body](fact.event, fact.body) for fact in books.of_rider(rider_id, Agreed, stage_id=stage_id)),
        *(Fact[Body](fact.event, fact.body) for fact in books.of_rider(rider_id, Reopened, stage_id=stage_id)),
    ]
    last = max(said, key=lambda fact: stamp(fact.event), default=None)
    return Fact(last.event, last.body) if last is not None and isinstance(last.body, Agreed) else None
