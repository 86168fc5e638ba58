"""Pages of the checks on site: what was measured goes in, a judgement with its source comes out."""

from webform.checks.routes import bp

__all__ = ["bp"]
