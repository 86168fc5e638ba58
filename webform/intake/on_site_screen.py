"""What was done at the machine, for the page with questions and causes."""

from dataclasses import dataclass

from flask import url_for

from triage.services.job.board import JobBoard
from webform.access import may_open
from webform.intake import texts


@dataclass(frozen=True, slots=True)
class OnSiteShown:
    """What was found and repaired on site in a sentence; ``url`` is empty where one may not go."""

    sentence: str
    url: str


def on_site(found: JobBoard) -> OnSiteShown | None:
    """What the ranking counts besides the phone's answers, if there is anything."""
    if not found.on_site:
        return None
    network, call_id = found.board.network, found.board.state.call_id
    done = [
        texts.repaired(
            network.repairs[one.repair].title if one.repair in network.repairs else one.repair,
            one.verified,
        )
        for one in found.repairs
    ]
    counted = texts.findings_on_site(len(found.findings))
    facts = "; ".join([*([counted] if found.findings else []), *done])
    url = url_for("jobsheet.job", call_id=call_id) if may_open("jobsheet.job") else ""
    return OnSiteShown(texts.ON_SITE.format(facts=facts), url)
