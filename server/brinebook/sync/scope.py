"""What a person may see, written into the cursor; when it changes, only what changed is forgotten and read again."""

from msgspec import Struct

from brinebook.access import disclosure
from brinebook.access.devices import SignedIn
from brinebook.records.common import Role
from brinebook.records.edited import Member, Rider
from brinebook.storage.repository import Repository


class Scope(Struct, frozen=True, array_like=True):
    """All that decides over what a member may see."""

    table: str
    role: Role
    member_id: str
    rider_id: str | None

    def member(self) -> Member:
        """Give a member with these eyes."""
        return Member(id=self.member_id, name="?", role=self.role, rider_id=self.rider_id)


def scope_of(member: Member) -> Scope:
    """Describe what a member sees now."""
    return Scope(disclosure.TABLE_VERSION, member.role, member.id, member.rider_id)


def can_step(old: Scope, new: Scope) -> bool:
    """Tell whether what changed can be worked out: only under the same table, for the same person."""
    return (old.table, old.member_id) == (new.table, new.member_id)


def is_changed_for(subject_id: str, old: Member, new: Member) -> bool:
    """Tell whether the two see anything different of a subject."""
    documents = any(
        disclosure.may_read_document(old, type_, subject_id) != disclosure.may_read_document(new, type_, subject_id)
        for type_ in disclosure.DOCUMENT_READERS
    )
    kinds = (*disclosure.FACT_READERS, "a kind that is not in the table")
    return documents or any(
        disclosure.may_read_fact(old, kind, subject_id) != disclosure.may_read_fact(new, kind, subject_id)
        for kind in kinds
    )


def changed_subjects(repository: Repository, who: SignedIn, old: Scope) -> frozenset[str]:
    """Name the subjects of which the person now sees more or less than before."""
    before = old.member()
    known = repository.edited_ids(who.team_id, Rider) | repository.edited_ids(who.team_id, Member)
    others = {who.team_id, disclosure.TEAM_WIDE, old.member_id, old.rider_id or "", who.member.rider_id or ""}
    return frozenset(one for one in known | others if is_changed_for(one, before, who.member))
