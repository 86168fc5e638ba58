"""Pages of the owner: people, the audit trail, tokens, and what the shop sets for itself."""

from webform.owner import audit_routes, closed_routes, overview_routes, people_routes, token_routes
from webform.owner.blueprint import bp

__all__ = [
    "audit_routes",
    "bp",
    "closed_routes",
    "overview_routes",
    "people_routes",
    "token_routes",
]
