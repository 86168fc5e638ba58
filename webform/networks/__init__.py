"""Pages of the owner: what the network of each appliance holds, as pictures and tables."""

from webform.networks.routes import bp

__all__ = ["bp"]
