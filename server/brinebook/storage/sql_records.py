"""Edited records and documents in SQL."""

import hashlib
from collections.abc import Iterable

import msgspec
from sqlalchemy import Connection, bindparam, select

from brinebook.records.edited import Edited
from brinebook.storage import mapping
from brinebook.storage.database import Database
from brinebook.storage.errors import NotFound
from brinebook.storage.repository import E, NewDocument, StoredDocument
from brinebook.storage.rows import table
from brinebook.storage.upsert import put

TEAM, EDITED, DOCUMENT = (table(name) for name in ("team_counter", "edited", "document"))
_EDITED_IDS = select(EDITED.c.id).where(
    EDITED.c.team_id == bindparam("of_team"), EDITED.c.type == bindparam("of_type"),
)
_DOCUMENTS_AFTER = (
    select(DOCUMENT).where(DOCUMENT.c.team_id == bindparam("of_team"), DOCUMENT.c.seq > bindparam("after"))
    .order_by(DOCUMENT.c.seq).limit(bindparam("most"))
)
TOMBSTONE_SHA = ""
NOTHING_COMPUTED = -1
Row = dict[str, str | bytes | int | None]


class SqlRecords:
    """Implements ``Records``."""

    database: Database

    def edited(self, team_id: str, type_: type[E], id_: str) -> E | None:
        """Read an edited record as last stored."""
        key = (EDITED.c.team_id == team_id, EDITED.c.type == mapping.TYPE_NAMES[type_], EDITED.c.id == id_)
        with self.database.reading() as connection:
            body = connection.scalar(select(EDITED.c.body).where(*key))
        return None if body is None else msgspec.json.decode(body, type=type_)

    def edited_ids(self, team_id: str, type_: type[Edited]) -> frozenset[str]:
        """Name the team's edited records of one type."""
        with self.database.reading() as connection:
            of = {"of_team": team_id, "of_type": mapping.TYPE_NAMES[type_]}
            return frozenset(connection.scalars(_EDITED_IDS, of))

    def all_edited(self, team_id: str, type_: type[E]) -> list[E]:
        """List the team's edited records of one type, in order of id."""
        own = (EDITED.c.team_id == team_id, EDITED.c.type == mapping.TYPE_NAMES[type_])
        with self.database.reading() as connection:
            bodies = list(connection.scalars(select(EDITED.c.body).where(*own).order_by(EDITED.c.id)))
        return [msgspec.json.decode(body, type=type_) for body in bodies]

    def put_edited(self, team_id: str, record: Edited) -> None:
        """Keep ``record`` and its document."""
        row = mapping.edited_row(team_id, record)
        with self.database.writing() as connection:
            put(connection, EDITED, [row])
            self.put_documents(team_id, [mapping.edited_document(record)])
            connection.execute(TEAM.update().where(TEAM.c.team_id == team_id).values(computed_seq=NOTHING_COMPUTED))

    def document(self, team_id: str, id_: str) -> StoredDocument | None:
        """Read a document's current head; None when there is none or only a tombstone."""
        key = (DOCUMENT.c.team_id == team_id, DOCUMENT.c.id == id_, DOCUMENT.c.body.is_not(None))
        with self.database.reading() as connection:
            row = connection.execute(select(DOCUMENT).where(*key)).mappings().first()
        return None if row is None else mapping.document_record(dict(row))

    def documents(self, team_id: str, type_: str | None = None) -> list[StoredDocument]:
        """List current heads, of one type or of all, in order of id."""
        wanted = select(DOCUMENT).where(DOCUMENT.c.team_id == team_id, DOCUMENT.c.body.is_not(None))
        if type_ is not None:
            wanted = wanted.where(DOCUMENT.c.type == type_)
        with self.database.reading() as connection:
            rows = connection.execute(wanted.order_by(DOCUMENT.c.id)).mappings().all()
        return [mapping.document_record(dict(row)) for row in rows]

    def put_documents(self, team_id: str, documents: Iterable[NewDocument]) -> list[str]:
        """Keep those whose sha changed, each with a new place in the sequence; return their ids."""
        latest = {new.id: new for new in documents}
        with self.database.writing() as connection:
            known = self._shas(connection, team_id, list(latest))
            rows: list[Row] = []
            for new in latest.values():
                sha = hashlib.sha256(new.body).hexdigest()
                if known.get(new.id) != sha:
                    rows.append({"id": new.id, "type": new.type, "subject_id": new.subject_id, "sha": sha,
                                 "body": new.body})
            self._keep(connection, team_id, rows)
        return [str(row["id"]) for row in rows]

    def delete_documents(self, team_id: str, ids: Iterable[str]) -> None:
        """Put tombstones, so that phones forget the documents too."""
        with self.database.writing() as connection:
            own = (DOCUMENT.c.team_id == team_id, DOCUMENT.c.id.in_(list(ids)), DOCUMENT.c.body.is_not(None))
            found = connection.execute(select(DOCUMENT).where(*own).order_by(DOCUMENT.c.id)).mappings().all()
            rows: list[Row] = [
                {"id": row["id"], "type": row["type"], "subject_id": row["subject_id"], "sha": TOMBSTONE_SHA,
                 "body": None}
                for row in found
            ]
            self._keep(connection, team_id, rows)

    @staticmethod
    def _shas(connection: Connection, team_id: str, ids: list[str]) -> dict[str, str]:
        wanted = select(DOCUMENT.c.id, DOCUMENT.c.sha).where(DOCUMENT.c.team_id == team_id, DOCUMENT.c.id.in_(ids))
        return {row.id: row.sha for row in connection.execute(wanted)}

    @staticmethod
    def _keep(connection: Connection, team_id: str, rows: list[Row]) -> None:
        if not rows:
            return
        raised = TEAM.update().where(TEAM.c.team_id == team_id).values(document_seq=TEAM.c.document_seq + len(rows))
        last = connection.scalar(raised.returning(TEAM.c.document_seq))
        if last is None:
            raise NotFound("team", team_id)
        first = last - len(rows) + 1
        numbered = [{**row, "team_id": team_id, "seq": first + place} for place, row in enumerate(rows)]
        put(connection, DOCUMENT, numbered)

    def document_head(self, team_id: str) -> int:
        """Read the last place given in the documents' sequence."""
        with self.database.reading() as connection:
            return connection.scalar(select(TEAM.c.document_seq).where(TEAM.c.team_id == team_id)) or 0

    def documents_after(self, team_id: str, seq: int, limit: int) -> list[StoredDocument]:
        """Read the next heads of the documents' sequence, tombstones included."""
        of = {"of_team": team_id, "after": seq, "most": limit}
        with self.database.reading() as connection:
            rows = connection.execute(_DOCUMENTS_AFTER, of).mappings().all()
        return [mapping.document_record(dict(row)) for row in rows]
