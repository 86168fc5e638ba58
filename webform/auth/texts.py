"""English words of the pages of people: what a role is called, and what it may do."""

from collections.abc import Mapping

from triage.services.people.roles import Role

ROLES: Mapping[Role, str] = {
    Role.DISPATCHER: "Dispatcher",
    Role.TECHNICIAN: "Technician",
    Role.OWNER: "Owner",
}
WORK: Mapping[Role, str] = {
    Role.DISPATCHER: "takes calls and books visits",
    Role.TECHNICIAN: "works from job sheets and closes jobs",
    Role.OWNER: "may do everything, and sets up the shop",
}
