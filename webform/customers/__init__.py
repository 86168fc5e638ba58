"""Pages of customers and their machines."""

from webform.customers.routes import bp

__all__ = ["bp"]
