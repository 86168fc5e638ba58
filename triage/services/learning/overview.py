"""What the owner sees first: networks with their versions and jobs, work that goes on, files."""

from dataclasses import dataclass
from datetime import datetime

from triage.network.values import FaultNetwork
from triage.services.calls.calls import Database
from triage.services.learning.files import StoredJobFile, files_sent
from triage.services.learning.stock import StockAdvice, StockTerms, stock_advice
from triage.services.learning.stored import stored_records
from triage.services.learning.versions import PROPOSED, versions_of
from triage.services.learning.work import WorkState, last_work
from triage.services.networks.engines import network_choices
from triage.services.networks.in_use import network_in_use
from triage.services.shop.settings import current_settings
from triage.store.closings import ClosingFilter, count_closings


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkLine:
    """A network: the version in use, closed jobs, versions that wait for a decision."""

    id: str
    title: str
    version: int
    jobs: int
    waiting: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class LearningOverview:
    """Everything the page of learning shows first."""

    networks: tuple[NetworkLine, ...]
    work: tuple[WorkState, ...]
    files: tuple[StoredJobFile, ...]


def overview(database: Database, now: datetime) -> LearningOverview:
    """Put the first page together."""
    lines = []
    for name, title in network_choices():
        with database.reading() as session:
            jobs = count_closings(session, ClosingFilter(network_id=name))
        lines_kept = versions_of(database, name)
        waiting = [line for line in lines_kept if line.stored.state == PROPOSED]
        lines.append(
            NetworkLine(
                id=name,
                title=title,
                version=network_in_use(database, name).version,
                jobs=jobs,
                waiting=tuple(line.stored.version for line in waiting),
            )
        )
    return LearningOverview(tuple(lines), last_work(database, now), files_sent(database))


def networks_at_hand(database: Database) -> tuple[FaultNetwork, ...]:
    """Networks in use, in the order of their titles."""
    return tuple(network_in_use(database, name) for name, _ in network_choices())


def stock_of_shop(database: Database, terms: StockTerms, now: datetime) -> StockAdvice:
    """Which parts earned their place on the van, from the last year's jobs in the store."""
    shop = current_settings(database)
    networks = [shop.applied_to(network) for network in networks_at_hand(database)]
    records = stored_records(database)
    return stock_advice(records, networks, shop.costs, terms, now, shop.currency)
