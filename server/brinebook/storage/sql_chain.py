"""The chained ledger and the keys of persons in SQL."""

from collections.abc import Sequence
from typing import Any

from msgspec.structs import asdict
from sqlalchemy import Select, delete, select

from brinebook.storage.chain import LedgerRow
from brinebook.storage.database import Database
from brinebook.storage.rows import table
from brinebook.storage.upsert import put, put_once

LEDGER, PERSON_KEY, LEDGER_HEAD = (table(name) for name in ("ledger", "person_key", "ledger_head"))
_COLUMNS = [LEDGER.c[name] for name in LedgerRow.__struct_fields__]


class SqlChain:
    """Implements ``Chained``."""

    database: Database

    def person_key(self, team_id: str, person_id: str) -> bytes | None:
        """Read a person's key."""
        key = (PERSON_KEY.c.team_id == team_id, PERSON_KEY.c.person_id == person_id)
        with self.database.reading() as connection:
            found: bytes | None = connection.scalar(select(PERSON_KEY.c.key).where(*key))
        return found

    def put_person_key(self, team_id: str, person_id: str, key: bytes) -> None:
        """Keep a new person's key; an existing one stays."""
        with self.database.writing() as connection:
            put_once(connection, PERSON_KEY, [{"team_id": team_id, "person_id": person_id, "key": key}])

    def destroy_person_keys(self, team_id: str, person_ids: Sequence[str]) -> None:
        """Forget keys for ever."""
        own = (PERSON_KEY.c.team_id == team_id, PERSON_KEY.c.person_id.in_(list(person_ids)))
        with self.database.writing() as connection:
            connection.execute(delete(PERSON_KEY).where(*own))

    def ledger_head(self, team_id: str) -> tuple[int, str] | None:
        """Read the number and the sha of the last row."""
        wanted = select(LEDGER_HEAD.c.n, LEDGER_HEAD.c.sha).where(LEDGER_HEAD.c.team_id == team_id)
        with self.database.reading() as connection:
            row = connection.execute(wanted).first()
        return None if row is None else (row[0], row[1])

    def add_ledger_rows(self, team_id: str, rows: Sequence[LedgerRow]) -> None:
        """Add rows and note the last one beside the ledger."""
        if not rows:
            return
        with self.database.writing() as connection:
            connection.execute(LEDGER.insert(), [{"team_id": team_id, **asdict(row)} for row in rows])
            put(connection, LEDGER_HEAD, [{"team_id": team_id, "n": rows[-1].n, "sha": rows[-1].sha}])

    def _lines(self, wanted: Select[Any]) -> list[LedgerRow]:
        with self.database.reading() as connection:
            return [LedgerRow(**row) for row in connection.execute(wanted).mappings()]

    def ledger_rows(self, team_id: str) -> list[LedgerRow]:
        """Read the whole ledger in order."""
        return self._lines(select(*_COLUMNS).where(LEDGER.c.team_id == team_id).order_by(LEDGER.c.n))

    def ledger_of_device(self, team_id: str, device_id: str, *, since_ms: int) -> list[LedgerRow]:
        """Read what a device did of late."""
        own = (LEDGER.c.team_id == team_id, LEDGER.c.device_id == device_id, LEDGER.c.at_ms >= since_ms)
        return self._lines(select(*_COLUMNS).where(*own))

    def ledger_about(self, team_id: str, subjects: Sequence[str], *, limit: int) -> list[LedgerRow]:
        """Read the newest rows with one of these tags."""
        own = (LEDGER.c.team_id == team_id, LEDGER.c.subject.in_(list(subjects)))
        return self._lines(select(*_COLUMNS).where(*own).order_by(LEDGER.c.n.desc()).limit(limit))
