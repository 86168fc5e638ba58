"""Pages on which people sign in and out and change their own password."""

from webform.auth.limits import init_limits
from webform.auth.routes import bp

__all__ = ["bp", "init_limits"]
