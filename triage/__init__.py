"""Triage of household washer and dryer faults: from the caller's words to a closed job.

The public names are loaded when first used, so that the command line starts without numpy.
"""

import importlib
import typing

if typing.TYPE_CHECKING:
    from triage.inference.engine import Assessment, Engine
    from triage.inference.evidence import Evidence, Finding, RepairDone
    from triage.network.catalogue import load_network, network_names
    from triage.network.values import FaultNetwork
    from triage.planning.shop.costs import CostModel
    from triage.planning.visit.plan import VisitPlan, first_visit_plan

__all__ = [
    "Assessment",
    "CostModel",
    "Engine",
    "Evidence",
    "FaultNetwork",
    "Finding",
    "RepairDone",
    "VisitPlan",
    "first_visit_plan",
    "load_network",
    "network_names",
]

_HOME = {
    "Assessment": "triage.inference.engine",
    "CostModel": "triage.planning.shop.costs",
    "Engine": "triage.inference.engine",
    "Evidence": "triage.inference.evidence",
    "FaultNetwork": "triage.network.values",
    "Finding": "triage.inference.evidence",
    "RepairDone": "triage.inference.evidence",
    "VisitPlan": "triage.planning.visit.plan",
    "first_visit_plan": "triage.planning.visit.plan",
    "load_network": "triage.network.catalogue",
    "network_names": "triage.network.catalogue",
}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'triage' has no attribute {name!r}")
    return getattr(importlib.import_module(_HOME[name]), name)
