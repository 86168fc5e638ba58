"""The page of an appliance: all that its network says, for people who repair such machines."""

from triage.network.datasheet.causes import causes_section, circumstances_section, pairs_section
from triage.network.datasheet.markdown import code
from triage.network.datasheet.observations import (
    cautions_section,
    observations_section,
    verification_text,
)
from triage.network.datasheet.repairs import parts_section, repairs_section, safety_section
from triage.network.datasheet.signs import signs_section
from triage.network.datasheet.sources import sources_section
from triage.network.drawing_labels import counts_text
from triage.network.values import FaultNetwork, NetworkIndex

COMMAND = "python -m triage.network.write_docs"


def picture_name(network_id: str) -> str:
    """Name of the file that holds the picture of a network, in the folder of pictures."""
    return f"network-{network_id}.svg"


def appliance_page(network: FaultNetwork) -> str:
    """Page of one network, so that a technician can say what is wrong.

    Parameters
    ----------
    network : FaultNetwork
        A shipped network: the page refers to its file and to its picture.

    Returns
    -------
    str
        Markdown. The same network gives the same text.
    """
    index = NetworkIndex(network)
    lines = [
        *_introduction(network),
        *safety_section(network),
        *circumstances_section(network),
        *causes_section(network),
        *pairs_section(network),
        *signs_section(index),
        *observations_section(network),
        *repairs_section(index),
        *parts_section(network),
        *cautions_section(network),
        *_whole(index),
        *sources_section(network),
    ]
    return "\n".join(lines).rstrip() + "\n"


def _introduction(network: FaultNetwork) -> list[str]:
    first = next(iter(network.signs))
    example = f"triage draw {network.id} --around {first} -o {first}.svg"
    file = f"networks/{network.id}.yaml"
    return [
        f"# {network.title}: what the network says",
        "",
        f"{network.description} {counts_text(network)}",
        "",
        f"Written by {code(COMMAND)} from [{file}](../../{file}) and the fragments it includes; "
        "change the file, not this page.",
        "",
        "**If you repair these machines, read this page against what you have seen.** Each part "
        f"ends with what is worth telling. Give the name in {code('this_kind_of_type')}, what it "
        "should say, and on how many machines you saw it. A guess is welcome if you say that it "
        "is one.",
        "",
        f"![Causes on the left, signs on the right, lines between them](../pictures/"
        f"{picture_name(network.id)})",
        "",
        f"What is around one component, cause or sign: {code(example)}.",
        "",
    ]


def _whole(index: NetworkIndex) -> list[str]:
    """Numbers of the network as a whole."""
    network = index.network
    lines = [
        f"- If something failed, {network.expected_failed_modes:g} causes have, on average.",
        f"- Answers that go together {2**network.conflict_threshold_bits:.3g} times worse than "
        f"chance ({network.conflict_threshold_bits:g} bits) raise a warning.",
    ]
    verification = verification_text(index)
    if verification:
        lines.append(f"- {verification}")
    return ["## As a whole", "", *lines, ""]
