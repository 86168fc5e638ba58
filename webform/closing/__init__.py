"""Pages that close a job: what was wrong, what was done, what it costs; the invoice."""

from webform.closing.routes import bp

__all__ = ["bp"]
