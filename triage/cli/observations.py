"""``triage observations``: what can be asked, tested and measured."""

import click

from triage.cli.output import json_option, minutes_text, network_argument, wrapped, write_json
from triage.errors import nearest
from triage.network.catalogue import load_network
from triage.network.values import Channel, FaultNetwork, Observation
from triage.services.networks.observations import observation_as_json

CHANNEL_NAMES = {
    Channel.CALLER: "caller",
    Channel.GUIDED_CHECK: "guided check",
    Channel.ON_SITE_TEST: "on-site test",
    Channel.METER: "meter",
}


@click.command()
@network_argument
@click.option(
    "--channel",
    type=click.Choice([channel.value for channel in Channel]),
    help="Only this way of looking.",
)
@click.option("--sign", metavar="SIGN", help="Only looks at this sign or context.")
@click.option("--search", metavar="TEXT", help="Only where id, title, wording or phrase has TEXT.")
@json_option
def observations(
    network: str, channel: str | None, sign: str | None, search: str | None, as_json: bool
) -> None:
    """List what can be asked, tested and measured.

    The first word of each entry is what --finding of the other commands takes, with one of the
    answers after it.
    """
    loaded = load_network(network)
    targets = (*loaded.signs, *loaded.contexts)
    if sign is not None and sign not in targets:
        hint = nearest(sign, targets) or " The JSON of this command names the sign of each entry."
        raise click.BadParameter(f'unknown sign or context "{sign}".{hint}', param_hint="--sign")
    found = [
        entry
        for entry in loaded.observations.values()
        if (channel is None or entry.channel == channel)
        and (sign is None or entry.target == sign)
        and (search is None or _has(entry, search))
    ]
    if as_json:
        write_json(
            {
                "network": loaded.id,
                "title": loaded.title,
                "version": loaded.version,
                "observations": [observation_as_json(entry) for entry in found],
            }
        )
        return
    for entry in found:
        click.echo("\n".join([*_lines(entry, loaded), ""]))
    click.echo(f"{len(found)} of {len(loaded.observations)} observations.")


def _has(entry: Observation, search: str) -> bool:
    texts = (entry.id, entry.title, entry.wording, entry.acceptance, *entry.phrases)
    return any(search.casefold() in text.casefold() for text in texts)


def _lines(entry: Observation, network: FaultNetwork) -> list[str]:
    answers = ", ".join(_answer(answer, label) for answer, label in entry.answers.items())
    lines = [
        f"{entry.id}  [{CHANNEL_NAMES[entry.channel]}, {minutes_text(entry.minutes)}]",
        wrapped(entry.title, 2),
        wrapped(entry.wording, 2),
        wrapped(f"Answers: {answers}", 2, 9),
    ]
    if entry.reading is not None:
        lines.append(wrapped(f"Or a reading in {entry.reading.unit}", 2))
    if entry.acceptance:
        lines.append(wrapped(f"Good: {entry.acceptance}", 2, 6))
    if entry.preconditions:
        needed = "; ".join(network.preconditions[name] for name in entry.preconditions)
        lines.append(wrapped(f"Needs: {needed}", 2, 7))
    lines += [wrapped(f"Caution: {network.cautions[name]}", 2, 9) for name in entry.cautions]
    return lines


def _answer(answer: str, label: str) -> str:
    """Answer as --finding takes it, with its label where that says more."""
    says_more = label.casefold() != answer.replace("_", " ").casefold()
    return f"{answer} ({label})" if says_more else answer
