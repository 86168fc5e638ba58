"""Pages of the dispatcher: from the caller's first word to the outcome of the call."""

from triage.errors import StaleCallError
from webform.intake.routes import bp
from webform.intake.stale import stale

bp.app_errorhandler(StaleCallError)(stale)

__all__ = ["bp"]
