"""The JSON API, by which other programs of the shop send calls in and read plans (docs/api.md)."""

from webform.api import appliances, calls, closing, customers, document, jobs, plans, visits
from webform.api.limits import init_limits
from webform.api.operations import bp

__all__ = [
    "appliances",
    "bp",
    "calls",
    "closing",
    "customers",
    "document",
    "init_limits",
    "jobs",
    "plans",
    "visits",
]
