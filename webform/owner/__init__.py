"""Pages of the owner: closed jobs, settings, own lists, people, the audit trail, tokens."""

from webform.owner import (
    audit_routes,
    closed_routes,
    erase_routes,
    overview_routes,
    people_routes,
    plates_routes,
    settings_routes,
    token_routes,
)
from webform.owner.blueprint import bp

__all__ = [
    "audit_routes",
    "bp",
    "closed_routes",
    "erase_routes",
    "overview_routes",
    "people_routes",
    "plates_routes",
    "settings_routes",
    "token_routes",
]
