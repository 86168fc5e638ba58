"""Discrete networks for tests: published files, hand-made and random ones, and three references.

The references are the joint table (slow and obvious) and the packages pgmpy and pyAgrum. Both
packages get our own tables, cell by cell: pyAgrum's BIF reader rounds them to float32.
"""

from collections.abc import Mapping, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from triage.inference.noisy import noisy_max
from triage.network.bif import read_bif
from triage.network.discrete import DiscreteNetwork

FloatArray = NDArray[np.float64]


def published(name: str) -> DiscreteNetwork:
    """Network from the BIF file of that name that pgmpy ships."""
    package = find_spec("pgmpy")
    assert package is not None
    assert package.submodule_search_locations is not None
    folder = Path(package.submodule_search_locations[0]) / "utils" / "example_models"
    return read_bif(folder / f"{name}.bif.gz")


def screening(prior: float, sensitivity: float, false_positives: float) -> DiscreteNetwork:
    """One fault and one test of it."""
    return DiscreteNetwork(
        name="screening",
        states={"fault": ("no", "yes"), "test": ("negative", "positive")},
        parents={"fault": (), "test": ("fault",)},
        tables={
            "fault": np.array([1 - prior, prior]),
            "test": np.array(
                [[1 - false_positives, false_positives], [1 - sensitivity, sensitivity]]
            ),
        },
    )


def burglary() -> DiscreteNetwork:
    """Burglary or earthquake, alarm, two neighbours: numbers of [RussellNorvig2021]_."""
    yes = {
        "burglary": 0.001,
        "earthquake": 0.002,
        "alarm": [[0.001, 0.29], [0.94, 0.95]],
        "john": [0.05, 0.90],
        "mary": [0.01, 0.70],
    }
    return DiscreteNetwork(
        name="burglary",
        states=dict.fromkeys(yes, ("no", "yes")),
        parents={
            "burglary": (),
            "earthquake": (),
            "alarm": ("burglary", "earthquake"),
            "john": ("alarm",),
            "mary": ("alarm",),
        },
        tables={
            name: np.stack([1 - np.array(table), np.array(table)], axis=-1)
            for name, table in yes.items()
        },
    )


def noisy_or_network(
    priors: Mapping[str, float],
    links: Mapping[str, Sequence[float]],
    leaks: Mapping[str, float],
) -> DiscreteNetwork:
    """Two layers: independent causes with ``priors`` and noisy-OR effects with ``leaks``.

    ``links`` holds the net link probabilities of each effect, in the order of the causes.
    """
    binary = dict.fromkeys([*priors, *links], ("no", "yes"))
    present = list(np.ndindex(*[2] * len(priors)))
    tables = {name: np.array([1 - prior, prior]) for name, prior in priors.items()}
    for effect, strengths in links.items():
        link = np.array([[1 - strength, strength] for strength in strengths])
        leak = np.array([1 - leaks[effect], leaks[effect]])
        rows = [noisy_max(leak, link[np.array(causes, dtype=bool)]) for causes in present]
        tables[effect] = np.reshape(rows, [2] * (len(priors) + 1))
    return DiscreteNetwork(
        name="noisy-OR",
        states=binary,
        parents={name: () if name in priors else tuple(priors) for name in binary},
        tables=tables,
    )


def random_network(seed: int, size: int = 6) -> DiscreteNetwork:
    """Network of ``size`` variables with 2 or 3 states and up to 3 parents, without zeros."""
    rng = np.random.default_rng(seed)
    names = [f"v{number}" for number in range(size)]
    states = {name: ("a", "b", "c")[: rng.integers(2, 4)] for name in names}
    parents: dict[str, tuple[str, ...]] = {}
    tables: dict[str, FloatArray] = {}
    for place, name in enumerate(names):
        count = rng.integers(0, min(place, 3) + 1)
        parents[name] = tuple(str(other) for other in rng.permutation(names[:place])[:count])
        shape = [len(states[parent]) for parent in parents[name]]
        tables[name] = rng.dirichlet(np.ones(len(states[name])), size=shape)
    return DiscreteNetwork(name=f"random {seed}", states=states, parents=parents, tables=tables)


def joint_table(network: DiscreteNetwork) -> FloatArray:
    """``P`` of every combination of states, one axis per variable in network order."""
    names = list(network.states)
    operands: list[Any] = []
    for name in names:
        operands += [network.tables[name], [names.index(axis) for axis in network.scope(name)]]
    return np.asarray(np.einsum(*operands, list(range(len(names)))))


def in_pgmpy(network: DiscreteNetwork) -> Any:
    """The same network as a pgmpy model."""
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork

    model = DiscreteBayesianNetwork()
    model.add_nodes_from(network.states)
    for name, parents in network.parents.items():
        model.add_edges_from((parent, name) for parent in parents)
        model.add_cpds(
            TabularCPD(
                name,
                len(network.states[name]),
                network.tables[name].reshape(-1, len(network.states[name])).T,
                evidence=list(parents) or None,
                evidence_card=[len(network.states[parent]) for parent in parents] or None,
                state_names={axis: list(network.states[axis]) for axis in network.scope(name)},
            )
        )
    return model


def in_pyagrum(network: DiscreteNetwork) -> Any:
    """The same network as a pyAgrum model, states by number (it refuses some published names)."""
    import pyagrum

    model = pyagrum.BayesNet()
    for name, states in network.states.items():
        model.add(pyagrum.LabelizedVariable(name, name, len(states)))
    for name, parents in network.parents.items():
        for parent in parents:
            model.addArc(parent, name)
        for row in np.ndindex(*[len(network.states[parent]) for parent in parents]):
            place = dict(zip(parents, row, strict=True))
            model.cpt(name)[place] = network.tables[name][row].tolist()
    return model
