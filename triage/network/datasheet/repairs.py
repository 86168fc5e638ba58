"""Repairs, parts and dangers on the page of an appliance."""

from triage.network.datasheet.causes import BY_WORDS, VAN_WORDS, cost_text
from triage.network.datasheet.markdown import broken, code, quoted, section, table
from triage.network.drawing_links import percent
from triage.network.values import FaultNetwork, NetworkIndex, SafetyClass

CLASS_WORDS = {
    SafetyClass.LEAVE_AND_CALL: "leave the house and call from outside; no diagnosis",
    SafetyClass.MAKE_SAFE_AND_STOP: "make it safe and stop; no diagnosis",
    SafetyClass.MAKE_SAFE_THEN_BOOK: "make it safe; once somebody confirms it, go on",
}


def safety_section(network: FaultNetwork) -> list[str]:
    """Dangers with question, class and script."""
    rows = (
        [
            broken([f"**{flag.title}**", code(flag.id)]),
            flag.wording,
            CLASS_WORDS[flag.safety_class],
            flag.script,
            flag.referral,
            quoted(flag.phrases),
            code(flag.provenance.source),
        ]
        for flag in network.safety_flags.values()
    )
    headings = ["danger", "question", "if yes", "what is said", "refer to", "callers say", "source"]
    lines = [
        "Asked in every call before anything else.",
        "",
        *table(headings, rows),
    ]
    tell_us = (
        "a danger that is missing, advice that you would not give, words of callers that should "
        "raise an alarm and are not here."
    )
    return section("Safety", lines, tell_us)


def repairs_section(index: NetworkIndex) -> list[str]:
    """Repairs with success, minutes, parts and cautions."""
    rows = (
        [
            broken([f"**{repair.title}**", code(repair.id)]),
            broken(index.mode_title(mode) for mode in repair.cures),
            BY_WORDS[repair.by],
            percent(repair.success),
            f"{repair.minutes:g}",
            broken(index.network.parts[name].title for name in repair.parts),
            broken(code(name) for name in repair.cautions),
            repair.caller_steps,
            code(repair.provenance.source),
        ]
        for repair in index.network.repairs.values()
    )
    headings = ["repair", "cures", "by", "works", "minutes", "parts", "cautions", "steps", "source"]
    tell_us = (
        "a repair that is missing, one that often has to be done twice, a step that a caller "
        "should not do."
    )
    return section("Repairs", table(headings, rows), tell_us)


def parts_section(network: FaultNetwork) -> list[str]:
    """Parts with cost and place, and the repairs that use them."""
    rows = (
        [
            broken([f"**{part.title}**", code(part.id)]),
            cost_text(network, part),
            VAN_WORDS[part.on_van],
            broken(repair.title for repair in network.repairs.values() if part.id in repair.parts),
            code(part.provenance.source),
        ]
        for part in network.parts.values()
    )
    headings = ["part", "cost to the shop", "carried", "used by", "source"]
    tell_us = "a cost that you never pay, a part that you carry or do not, a part that is missing."
    return section("Parts", table(headings, rows), tell_us)
