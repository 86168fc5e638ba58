"""Every table, so that the metadata is whole when a database is made or migrated."""

from triage.store.tables import calls, closings, customers, learning, people, shop, visits
from triage.store.tables.base import Base

MODULES = (calls, closings, customers, learning, people, shop, visits)
METADATA = Base.metadata
