"""Versions of a network as the owner meets them: propose, approve, part-approve, reject, use.

A version is never changed. Approving some rows of a proposal makes another version that holds them.
Rolling back is using an earlier version. Each decision is told in the audit trail.
"""

from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from triage.errors import NothingApprovedError, UnknownVersionError, VersionStateError
from triage.network.catalogue import load_network
from triage.network.dump import dump_network
from triage.network.values import FaultNetwork
from triage.services.calls.calls import Database
from triage.services.learning.bases import base_as_json, base_kept
from triage.services.learning.editing import Edit, edited
from triage.services.learning.editing import number as number_of
from triage.services.learning.proposing import Proposal, proposal_as_json, proposal_from_json
from triage.services.networks.in_use import (
    SHIPPED,
    digest_of,
    keep_shipped,
    network_version,
    number_in_use,
)
from triage.services.people.audit import Action, Stamp, act
from triage.store.audit import add_act
from triage.store.networks import (
    NewVersion,
    StoredUse,
    StoredVersion,
    add_use,
    add_version,
    decide_version,
    find_version,
    highest_version,
    list_uses,
    list_versions,
    lock_versions,
    version_why,
)

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

LEARNED, EDITED = "learned", "edited"
PROPOSED, APPROVED, IN_PART, REJECTED = "proposed", "approved", "approved_in_part", "rejected"


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionLine:
    """A version in the list; ``is_newer_file`` came with the program and was never in use."""

    stored: StoredVersion
    is_in_use: bool
    is_newer_file: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionInFull:
    """A version with what is behind it; ``proposal`` is None unless it was learned.

    ``edit`` is the number that was set, None unless it was set by hand. ``part_of`` is the version
    of which it holds a part, 0 if none.
    """

    line: VersionLine
    network: FaultNetwork
    proposal: Proposal | None
    edit: Edit | None
    edit_before: float | None
    part_of: int
    keys: tuple[str, ...]
    uses: tuple[StoredUse, ...]


def versions_of(database: Database, network_id: str) -> tuple[VersionLine, ...]:
    """Versions of a network that are kept, newest first."""
    load_network(network_id)
    with database.reading() as session:
        own = number_in_use(session, network_id)
        kept = list_versions(session, network_id)
        used = {use.version for use in list_uses(session, network_id)}
    return tuple(
        VersionLine(
            stored=one,
            is_in_use=one.version == own,
            is_newer_file=one.origin == SHIPPED and one.version not in used and one.version > own,
        )
        for one in kept
    )


def version_in_full(database: Database, network_id: str, version: int) -> VersionInFull:
    """One version with what is behind it.

    Raises
    ------
    UnknownNetworkError, UnknownVersionError
    """
    lines = {line.stored.version: line for line in versions_of(database, network_id)}
    if version not in lines:
        raise UnknownVersionError(network_id, version, list(lines))
    with database.reading() as session:
        why = version_why(session, network_id, version)
        uses = list_uses(session, network_id)
    kept, edit = why.get("proposal"), why.get("edit")
    base = None if kept is None else base_of(database, network_id, version)
    return VersionInFull(
        line=lines[version],
        network=network_version(database, network_id, version),
        proposal=None if base is None else proposal_from_json(why["proposal"], base),
        edit=None if edit is None else Edit(**edit),
        edit_before=why.get("edit_before"),
        part_of=why.get("part_of", 0),
        keys=tuple(why.get("keys", ())),
        uses=tuple(use for use in uses if use.version == version),
    )


def text_of(database: Database, network_id: str, version: int) -> str:
    """Text of a version as a network file, or ``UnknownVersionError``."""
    return dump_network(network_version(database, network_id, version))


def start_keeping(database: Database, network_id: str, stamp: Stamp) -> int:
    """Keep the version in use, if it is the shipped one and not kept yet; gives its number."""
    load_network(network_id)
    with database.writing() as session:
        keep_shipped(session, network_id, stamp.at, stamp.by)
        return number_in_use(session, network_id)


def base_of(database: Database, network_id: str, version: int) -> FaultNetwork:
    """Network that learning starts from when a version is in use."""
    with database.reading() as session:
        base = base_kept(session, network_id, version)
    network = network_version(database, network_id, base.version)
    for edit in base.edits:
        network = edited(network, edit)
    return network


def keep_proposal(
    database: Database, network_id: str, found: Proposal, stamp: Stamp, reason: str
) -> int:
    """Keep a proposal as the next version; gives its number."""
    with database.writing() as session:
        parent, number = _next(session, network_id, stamp)
        proposal = replace(found, version=replace(found.version, current_version=number - 1))
        why = {
            "proposal": proposal_as_json(proposal),
            "base": base_as_json(session, network_id, parent),
        }
        network = proposal.version.network
        _add(session, network, parent, LEARNED, PROPOSED, why, stamp, reason)
        detail = {"jobs": proposal.version.jobs, "reason": reason}
        subject = _subject(network_id, number)
        add_act(session, act(Action.VERSION_PROPOSED, stamp, subject, **detail))
    return number


def approve(
    database: Database,
    network_id: str,
    version: int,
    stamp: Stamp,
    reason: str,
    keys: Collection[str] | None = None,
) -> int:
    """Approve a version, or some rows of it, and put it in use; gives the number in use.

    Parameters
    ----------
    database : Database
    network_id : str
    version : int
        A proposed version.
    stamp : Stamp
    reason : str
        Why, in the owner's words.
    keys : collection of str, optional
        Rows of the difference table to be taken; all of them if it is left out.

    Raises
    ------
    UnknownVersionError, VersionStateError, UnknownChangeError, NothingApprovedError
    """
    if keys is not None and not keys:
        raise NothingApprovedError
    full = version_in_full(database, network_id, version)
    every = [] if full.proposal is None else [row.key for row in full.proposal.version.changes]
    is_part = keys is not None and full.proposal is not None and set(keys) != set(every)
    with database.writing() as session:
        _check_state(session, network_id, version, PROPOSED, APPROVED)
        if is_part and full.proposal is not None and keys is not None:
            chosen = _keep_part(session, network_id, full, keys, stamp, reason)
        else:
            chosen = version
            decide_version(
                session,
                network_id,
                version,
                state=APPROVED,
                at=stamp.at,
                by=stamp.by,
                reason=reason,
            )
        _put_in_use(session, network_id, chosen, stamp, reason)
        detail: dict[str, Any] = {"reason": reason}
        if is_part:
            detail |= {"part_of": version, "rows": len(set(keys or ()))}
        add_act(
            session,
            act(Action.VERSION_APPROVED, stamp, _subject(network_id, chosen), **detail),
        )
    return chosen


def reject(database: Database, network_id: str, version: int, stamp: Stamp, reason: str) -> None:
    """Reject a proposed version; it stays to be looked at.

    Raises
    ------
    UnknownVersionError, VersionStateError
    """
    with database.writing() as session:
        _check_state(session, network_id, version, PROPOSED, REJECTED)
        decide_version(
            session, network_id, version, state=REJECTED, at=stamp.at, by=stamp.by, reason=reason
        )
        subject = _subject(network_id, version)
        add_act(session, act(Action.VERSION_REJECTED, stamp, subject, reason=reason))


def use(database: Database, network_id: str, version: int, stamp: Stamp, reason: str) -> None:
    """Put an approved version in use: an earlier one, or a newer one of the program.

    Raises
    ------
    UnknownVersionError, VersionStateError
    """
    with database.writing() as session:
        keep_shipped(session, network_id, stamp.at, stamp.by)
        _check_state(session, network_id, version, APPROVED, "put in use")
        if number_in_use(session, network_id) == version and list_uses(session, network_id):
            return
        _put_in_use(session, network_id, version, stamp, reason)
        subject = _subject(network_id, version)
        add_act(session, act(Action.VERSION_IN_USE, stamp, subject, reason=reason))


def propose_edit(database: Database, network_id: str, edit: Edit, stamp: Stamp) -> int:
    """Propose the version in use with one number set by hand; gives its number.

    Raises
    ------
    UnknownChangeError
        The network has no such number.
    NetworkFileError
        The network would not be one any more; the error lists every problem.
    """
    in_use = network_version(database, network_id, start_keeping(database, network_id, stamp))
    before = number_of(in_use, edit.key).value
    network = edited(in_use, edit)
    _checked(network)
    with database.writing() as session:
        parent, version = _next(session, network_id, stamp)
        base = base_kept(session, network_id, parent)
        base = replace(base, edits=(*base.edits, edit))
        why = {"edit": asdict(edit), "edit_before": before, "base": base.as_json()}
        numbered = replace(network, version=version)
        _add(session, numbered, parent, EDITED, PROPOSED, why, stamp, edit.reason)
        detail = {"number": edit.key, "before": before, "after": edit.value}
        subject = _subject(network_id, version)
        add_act(session, act(Action.VERSION_PROPOSED, stamp, subject, **detail, reason=edit.reason))
    return version


def _keep_part(
    session: "Session",
    network_id: str,
    full: VersionInFull,
    keys: Collection[str],
    stamp: Stamp,
    reason: str,
) -> int:
    """Keep the approved rows of a proposal as a version of its own."""
    assert full.proposal is not None
    _, number = _next(session, network_id, stamp)
    version = full.line.stored.version
    proposed = replace(full.proposal.version, current_version=number - 1)
    network = proposed.applied(list(keys))
    why = {
        "proposal": proposal_as_json(replace(full.proposal, version=proposed)),
        "base": base_as_json(session, network_id, version),
        "part_of": version,
        "keys": [row.key for row in proposed.changes if row.key in keys],
    }
    parent = full.line.stored.parent_version
    _add(session, network, parent, LEARNED, APPROVED, why, stamp, reason)
    decide_version(
        session, network_id, version, state=IN_PART, at=stamp.at, by=stamp.by, reason=reason
    )
    return number


def _next(session: "Session", network_id: str, stamp: Stamp) -> tuple[int, int]:
    """Number of the version in use and the next free number."""
    keep_shipped(session, network_id, stamp.at, stamp.by)
    lock_versions(session, network_id)
    return number_in_use(session, network_id), highest_version(session, network_id) + 1


def _add(
    session: "Session",
    network: FaultNetwork,
    parent: int,
    origin: str,
    state: str,
    why: Mapping[str, Any],
    stamp: Stamp,
    reason: str,
) -> None:
    text = _checked(network)
    add_version(
        session,
        NewVersion(
            network_id=network.id,
            version=network.version,
            parent_version=parent,
            origin=origin,
            digest=digest_of(text),
            text=text,
            state=state,
            why=why,
            at=stamp.at,
            by=stamp.by,
            reason=reason,
        ),
    )


def _checked(network: FaultNetwork) -> str:
    """Text of a network that the loader takes, or ``NetworkFileError``."""
    from triage.network.loader import read_network_text  # pydantic takes 70 ms to load

    text = dump_network(network)
    read_network_text(text, network.id)
    return text


def _check_state(
    session: "Session", network_id: str, version: int, state: str, wanted: str
) -> None:
    lock_versions(session, network_id)
    found = find_version(session, network_id, version)
    if found is None:
        known = [one.version for one in list_versions(session, network_id)]
        raise UnknownVersionError(network_id, version, known)
    if found.state != state:
        raise VersionStateError(network_id, version, found.state.replace("_", " "), wanted)


def _put_in_use(
    session: "Session", network_id: str, version: int, stamp: Stamp, reason: str
) -> None:
    add_use(
        session,
        StoredUse(
            network_id=network_id, version=version, since=stamp.at, by=stamp.by, reason=reason
        ),
    )


def _subject(network_id: str, version: int) -> str:
    return f"{network_id} {version}"
