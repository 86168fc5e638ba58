"""Write a discrete network for other programs: a pgmpy model, BIF and XMLBIF files.

Both writers are our own: pgmpy's lose or change state names. Numbers are written with every digit
that float64 has. What a reader does with them is its own matter: pyAgrum reads BIF as float32.

Names go into the files as they are, so they have to be plain words, ``[a-z][a-z0-9_]*``: BIF has no
way to quote, and the readers disagree about every other character.
"""

import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import numpy as np

from triage.errors import NetworkFileError
from triage.network.discrete import DiscreteNetwork, FloatArray

if TYPE_CHECKING:
    from pgmpy.models import DiscreteBayesianNetwork

PLAIN_WORD = re.compile(r"[a-z][a-z0-9_]*")


def pgmpy_model(network: DiscreteNetwork) -> "DiscreteBayesianNetwork":
    """The same network as a pgmpy model, checked by pgmpy."""
    # Here, because pgmpy takes seconds to import.
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork

    model = DiscreteBayesianNetwork()
    model.add_nodes_from(network.states)
    for variable, parents in network.parents.items():
        model.add_edges_from((parent, variable) for parent in parents)
        size = len(network.states[variable])
        model.add_cpds(
            TabularCPD(
                variable,
                size,
                network.tables[variable].reshape(-1, size).T,
                evidence=list(parents) or None,
                evidence_card=[len(network.states[parent]) for parent in parents] or None,
                state_names={name: list(network.states[name]) for name in network.scope(variable)},
            )
        )
    model.check_model()
    return model


def bif_text(network: DiscreteNetwork, comments: Sequence[str] = ()) -> str:
    """Text of a BIF file; ``comments`` (one line each) come first.

    Raises
    ------
    NetworkFileError
        A name that is not a plain word. All of them are listed.
    """
    _require_plain_words(network)
    return "\n".join([*(f"// {line}" for line in comments), *_bif_lines(network), ""])


def xmlbif_text(network: DiscreteNetwork, comments: Sequence[str] = ()) -> str:
    """Text of an XMLBIF 0.3 file; ``comments`` (one line each) come first. See `bif_text`."""
    _require_plain_words(network)
    root = ElementTree.Element("BIF", VERSION="0.3")
    for line in comments:
        root.append(ElementTree.Comment(f" {line.replace('--', '- -')} "))
    body = ElementTree.SubElement(root, "NETWORK")
    ElementTree.SubElement(body, "NAME").text = network.name
    for variable, states in network.states.items():
        entry = ElementTree.SubElement(body, "VARIABLE", TYPE="nature")
        ElementTree.SubElement(entry, "NAME").text = variable
        for state in states:
            ElementTree.SubElement(entry, "OUTCOME").text = state
    for variable, parents in network.parents.items():
        entry = ElementTree.SubElement(body, "DEFINITION")
        ElementTree.SubElement(entry, "FOR").text = variable
        for parent in parents:
            ElementTree.SubElement(entry, "GIVEN").text = parent
        # The variable itself runs fastest, then the last parent.
        ElementTree.SubElement(entry, "TABLE").text = _numbers(network.tables[variable], " ")
    ElementTree.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(root, "unicode") + "\n"


def _bif_lines(network: DiscreteNetwork) -> Iterator[str]:
    yield f"network {network.name} {{"
    yield "}"
    for variable, states in network.states.items():
        yield f"variable {variable} {{"
        yield f"  type discrete [ {len(states)} ] {{ {', '.join(states)} }};"
        yield "}"
    for variable, parents in network.parents.items():
        condition = f" | {', '.join(parents)}" if parents else ""
        yield f"probability ( {variable}{condition} ) {{"
        table = network.tables[variable]
        for row in np.ndindex(table.shape[:-1]):
            given = [network.states[parent][k] for parent, k in zip(parents, row, strict=True)]
            label = f"({', '.join(given)})" if parents else "table"
            yield f"  {label} {_numbers(table[row], ', ')};"
        yield "}"


def _numbers(table: FloatArray, separator: str) -> str:
    return separator.join(repr(value) for value in table.ravel().tolist())


def _require_plain_words(network: DiscreteNetwork) -> None:
    names = [network.name, *network.states, *(s for row in network.states.values() for s in row)]
    odd = [name for name in dict.fromkeys(names) if not PLAIN_WORD.fullmatch(name)]
    if odd:
        expected = "expected a lower-case letter, then lower-case letters, digits or _"
        raise NetworkFileError(network.name, [f'name "{name}"; {expected}' for name in odd])
