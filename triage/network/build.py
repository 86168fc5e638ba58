"""A whole fault network from the entries of its files."""

from triage.network.build_causes import build_components, build_contexts, build_pairs
from triage.network.build_observations import build_observations
from triage.network.build_repairs import build_parts, build_repairs, build_safety_flags
from triage.network.build_signs import build_signs
from triage.network.checks import check_circles, check_network
from triage.network.files import Entries, Placed
from triage.network.report import Report
from triage.network.scope import Scope
from triage.network.values import FaultNetwork


def build_network(entries: Entries, report: Report) -> FaultNetwork | None:
    """Build the network; every problem on the way goes to the report.

    Returns
    -------
    FaultNetwork or None
        None for a fragment, and for a network with any problem.
    """
    scope = Scope(entries, report)
    scope.check_defaults()
    check_circles(scope)
    if not entries.is_fragment:
        check_network(scope)
    contexts = build_contexts(scope)
    components = build_components(scope)
    pairs = build_pairs(scope)
    signs = build_signs(scope)
    observations = build_observations(scope)
    repairs = build_repairs(scope)
    parts = build_parts(scope)
    safety_flags = build_safety_flags(scope)
    header = entries.header
    if header is None or report.problems:
        return None
    return FaultNetwork(
        id=header.network,
        title=header.title,
        version=header.version,
        description=header.description,
        currency=header.currency,
        expected_failed_modes=header.expected_failed_modes.value,
        conflict_threshold_bits=header.conflict_threshold_bits.value,
        verification=header.verification,
        contexts=contexts,
        components=components,
        pairs=pairs,
        signs=signs,
        observations=observations,
        repairs=repairs,
        parts=parts,
        safety_flags=safety_flags,
        preconditions=_texts(entries.preconditions),
        cautions=_texts(entries.cautions),
        sources=_texts(entries.sources),
    )


def _texts(placed: dict[str, Placed[str]]) -> dict[str, str]:
    return {name: text.entry for name, text in placed.items()}
