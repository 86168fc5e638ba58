"""Rank and plan without a stored call: a case comes in whole, and nothing of it is kept."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from triage.services.without_call import (
    Case,
    Found,
    Repaired,
    branches_of_case,
    next_step_of_case,
    plan_case,
    rank_case,
)
from webform.api.models.plans import (
    BranchesTold,
    CaseGiven,
    FindingGiven,
    NextStepTold,
    PlanGiven,
    PlanTold,
    RankGiven,
    RankingTold,
)
from webform.api.operations import operation
from webform.desk import desk


@operation("POST", "/appliances/<network>/rank", body=RankGiven, gives=RankingTold)
def rank(network: str, sent: RankGiven) -> Mapping[str, Any]:
    """Rank the causes of a case, and tell what is worth asking and testing next."""
    return rank_case(desk().database, _case(network, sent), desk().settings(), limit=sent.limit)


@operation("POST", "/appliances/<network>/plan", body=PlanGiven, gives=PlanTold)
def plan(network: str, sent: PlanGiven) -> Mapping[str, Any]:
    """Plan the first visit of a case, with what to offer the caller."""
    return plan_case(desk().database, _planned(network, sent), desk().settings())


@operation("POST", "/appliances/<network>/branches", body=PlanGiven, gives=BranchesTold)
def branches(network: str, sent: PlanGiven) -> Mapping[str, Any]:
    """Spell out the visit of a case: what each result leads to."""
    return branches_of_case(desk().database, _planned(network, sent), desk().settings())


@operation("POST", "/appliances/<network>/next-step", body=PlanGiven, gives=NextStepTold)
def next_step(network: str, sent: PlanGiven) -> Mapping[str, Any]:
    """Tell the next step on site of a case, and what each other step would cost more."""
    return next_step_of_case(desk().database, _planned(network, sent), desk().settings())


def _planned(network: str, sent: PlanGiven) -> Case:
    return replace(_case(network, sent), plate=sent.plate)


def _case(network: str, sent: CaseGiven) -> Case:
    return Case(
        network_id=network,
        safety_answers=sent.safety.answers,
        confirmed_by=sent.safety.confirmed_by,
        events=[
            Found(one.observation, one.answer)
            if isinstance(one, FindingGiven)
            else Repaired(one.repair)
            for one in sent.findings
        ],
    )
