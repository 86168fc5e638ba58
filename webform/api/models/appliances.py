"""Models of what the shop repairs and what can be asked."""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, StringConstraints

from triage.network.values import Channel
from triage.services.networks.appliances import appliance_names
from webform.api.models.base import Asked, Id, Moment, Shown, Told


def _known(name: str) -> str:
    if name not in appliance_names():
        raise ValueError(f"expected one of {', '.join(appliance_names())}")
    return name


Appliance = Annotated[
    str,
    StringConstraints(pattern=r"^[a-z_]{1,60}$"),
    AfterValidator(_known),
    Field(description="name of a kind of machine, as /appliances lists them"),
]


class ApplianceShown(Shown):
    """A kind of machine; ``referral`` says who takes over what the shop does not repair."""

    network: str
    title: str
    version: int
    is_repaired: bool
    referral: str


class Appliances(Shown):
    """Every kind of machine."""

    appliances: list[ApplianceShown]


class SafetyQuestion(Shown):
    """A safety question, asked before anything else."""

    flag: str
    title: str
    wording: str
    safety_class: Literal["leave_and_call", "make_safe_and_stop", "make_safe_then_book"] = Field(
        alias="class"
    )


class ApplianceInFull(ApplianceShown):
    """A kind of machine with its safety questions."""

    safety_questions: list[SafetyQuestion]


class ObservationsAsked(Asked):
    """Which observations are listed."""

    channel: Channel | None = None


class ObservationTold(Told):
    """An observation, as ``triage observations`` tells it."""

    id: Id
    channel: Channel
    sign: str | None
    context: str | None
    title: str
    wording: str
    answers: dict[str, str]
    can_be_volunteered: bool
    reading: dict[str, object] | None
    acceptance: str | None
    minutes: float


class Observations(Told):
    """What can be asked, tested and measured."""

    network: str
    title: str
    version: int
    observations: list[ObservationTold]


class VersionShown(Shown):
    """A version of a network; ``decided_at`` is null while it is only proposed."""

    version: int
    parent_version: int
    origin: str
    state: str
    is_in_use: bool
    reason: str
    proposed_at: Moment
    proposed_by: str
    decided_at: Moment | None
    decided_by: str


class Versions(Shown):
    """Versions that are kept, newest first; none before the first call."""

    network: str
    in_use: int
    versions: list[VersionShown]
