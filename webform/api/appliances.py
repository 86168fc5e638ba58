"""What the shop repairs, what can be asked of it, versions of what is known."""

from typing import Any

from triage.services.calls.whole import safety_question_as_json
from triage.services.learning.versions import VersionLine, versions_of
from triage.services.networks.appliances import Appliance as Kind
from triage.services.networks.appliances import (
    find_appliance,
    find_appliances,
    find_observations,
    repaired,
)
from triage.services.networks.in_use import network_in_use
from triage.services.networks.observations import observation_as_json
from webform.api.models.appliances import (
    ApplianceInFull,
    Appliances,
    Observations,
    ObservationsAsked,
    Versions,
)
from webform.api.operations import operation
from webform.desk import desk


@operation("GET", "/appliances", gives=Appliances)
def appliances() -> dict[str, Any]:
    """List the kinds of machine, those that the shop repairs first."""
    return {"appliances": [_shown(one) for one in find_appliances(desk().database)]}


@operation("GET", "/appliances/<network>", gives=ApplianceInFull)
def appliance(network: str) -> dict[str, Any]:
    """Look at a kind of machine and its safety questions."""
    found = find_appliance(desk().database, network)
    flags = found.network.safety_flags.values()
    return {**_shown(found), "safety_questions": [safety_question_as_json(one) for one in flags]}


@operation("GET", "/appliances/<network>/observations", gives=Observations, asked=ObservationsAsked)
def observations(network: str, asked: ObservationsAsked) -> dict[str, Any]:
    """List what can be asked, tested and measured, with the answers."""
    used, found = find_observations(desk().database, network, asked.channel)
    return {
        "network": network,
        "title": used.title,
        "version": used.version,
        "observations": [observation_as_json(one) for one in found],
    }


@operation("GET", "/appliances/<network>/versions", gives=Versions, can_conflict=True)
def versions(network: str) -> dict[str, Any]:
    """List the versions of what is known of a kind of machine."""
    name = repaired(network)
    kept = versions_of(desk().database, name)
    return {
        "network": name,
        "in_use": network_in_use(desk().database, name).version,
        "versions": [_version(line) for line in kept],
    }


def _shown(found: Kind) -> dict[str, Any]:
    return {
        "network": found.id,
        "title": found.title,
        "version": found.version,
        "is_repaired": found.is_repaired,
        "referral": found.referral,
    }


def _version(line: VersionLine) -> dict[str, Any]:
    one = line.stored
    return {
        "version": one.version,
        "parent_version": one.parent_version,
        "origin": one.origin,
        "state": one.state,
        "is_in_use": line.is_in_use,
        "reason": one.reason,
        "proposed_at": one.proposed_at,
        "proposed_by": one.proposed_by,
        "decided_at": one.decided_at,
        "decided_by": one.decided_by,
    }
