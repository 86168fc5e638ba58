"""Pages of the dispatcher: from the caller's first word to the outcome of the call."""

from webform.intake.routes import bp

__all__ = ["bp"]
