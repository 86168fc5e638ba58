"""Pages of learning, for the owner: files in, versions, scores, what to measure, what to carry."""

from webform.learning import (
    evaluation_routes,
    file_routes,
    number_routes,
    overview_routes,
    version_routes,
)
from webform.learning.blueprint import bp

__all__ = [
    "bp",
    "evaluation_routes",
    "file_routes",
    "number_routes",
    "overview_routes",
    "version_routes",
]
