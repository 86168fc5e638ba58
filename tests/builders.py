"""Small fault networks named by structure, for tests. Every number here is invented."""

from collections.abc import Mapping, Sequence

import numpy as np

from triage.network.values import (
    Channel,
    Combination,
    Component,
    ComponentKind,
    Context,
    FailureMode,
    FaultNetwork,
    Grade,
    Mask,
    Observation,
    OnVan,
    Pair,
    Part,
    Provenance,
    Repair,
    RepairBy,
    Sign,
    TableRow,
)

TEST = Provenance(source="test", grade=Grade.JUDGED, equivalent_sample_size=10.0)


def component(
    name: str,
    modes: Mapping[str, float],
    kind: ComponentKind = ComponentKind.EQUIPMENT,
    multipliers: Mapping[str, Mapping[str, Mapping[str, float]]] | None = None,
) -> Component:
    """Component with ``modes`` as mode name: share; ``multipliers`` by mode name."""
    return Component(
        id=name,
        title=name.replace("_", " "),
        kind=kind,
        modes=tuple(
            FailureMode(
                id=f"{name}.{mode}",
                title=mode.replace("_", " "),
                share=share,
                multipliers=(multipliers or {}).get(mode, {}),
                provenance=TEST,
            )
            for mode, share in modes.items()
        ),
    )


def context(name: str, values: Mapping[str, float]) -> Context:
    """Context with value: probability at the call."""
    return Context(
        id=name,
        title=name,
        values={value: value for value in values},
        probabilities=tuple(values.values()),
        provenance=TEST,
    )


def sign(
    name: str,
    causes: Mapping[str, float | Sequence[float]],
    leak: float | Sequence[float] = 0.01,
    states: Sequence[str] = ("absent", "present"),
    masks: Sequence[Mask] = (),
    rows: Sequence[TableRow] = (),
) -> Sign:
    """Noisy-MAX sign, or a table sign when ``rows`` are given."""
    return Sign(
        id=name,
        title=name,
        states=tuple(states),
        combination=Combination.TABLE if rows else Combination.NOISY_MAX,
        leak=_distribution(leak, len(states)),
        causes={mode: _distribution(link, len(states)) for mode, link in causes.items()},
        rows=tuple(rows),
        masks=tuple(masks),
        provenance=TEST,
    )


def observation(
    name: str,
    target: str,
    rows: Sequence[Sequence[float]],
    answers: Sequence[str] = ("no", "yes"),
    *,
    about_context: bool = False,
    channel: Channel = Channel.CALLER,
    minutes: float = 1.0,
    volunteered: Sequence[float] | None = None,
) -> Observation:
    """Observation with one row of answer probabilities per state."""
    return Observation(
        id=name,
        sign=None if about_context else target,
        context=target if about_context else None,
        channel=channel,
        title=name,
        wording=f"{name}?",
        answers={answer: answer for answer in answers},
        likelihood=tuple(tuple(row) for row in rows),
        volunteered=None if volunteered is None else tuple(volunteered),
        minutes=minutes,
        acceptance="as expected" if channel.is_on_site else "",
        provenance=TEST,
    )


def repair(name: str, cures: Sequence[str], success: float = 1.0, minutes: float = 20) -> Repair:
    """Repair by the technician with one part of its own."""
    return Repair(
        id=name,
        title=name,
        cures=tuple(cures),
        by=RepairBy.TECHNICIAN,
        success=success,
        minutes=minutes,
        parts=(f"{name}_part",),
        provenance=TEST,
    )


def network(
    components: Sequence[Component],
    signs: Sequence[Sign],
    observations: Sequence[Observation],
    *,
    contexts: Sequence[Context] = (),
    pairs: Sequence[Pair] = (),
    repairs: Sequence[Repair] = (),
    expected_failed_modes: float = 1.2,
    verification: str | None = None,
    name: str = "test_network",
) -> FaultNetwork:
    """Fault network of these pieces; parts follow from the repairs."""
    part_names = [part for action in repairs for part in action.parts]
    return FaultNetwork(
        id=name,
        title=name,
        version=1,
        description="test",
        expected_failed_modes=expected_failed_modes,
        conflict_threshold_bits=5.0,
        verification=verification,
        contexts={entry.id: entry for entry in contexts},
        components={entry.id: entry for entry in components},
        pairs=tuple(pairs),
        signs={entry.id: entry for entry in signs},
        observations={entry.id: entry for entry in observations},
        repairs={entry.id: entry for entry in repairs},
        parts={
            part: Part(
                id=part, title=part, cost=(1000, 2000), on_van=OnVan.USUALLY, provenance=TEST
            )
            for part in part_names
        },
        sources={"test": "invented for a test"},
    )


def pair(first: str, second: str, probability: float) -> Pair:
    """Two modes that fail together with this probability."""
    return Pair(modes=(first, second), probability=probability, provenance=TEST)


def two_causes_one_sign() -> FaultNetwork:
    """Pump or belt behind one sign, seen through two channels."""
    return network(
        [component("pump", {"burnt": 0.7}), component("belt", {"broken": 0.3})],
        [sign("no_spin", {"pump.burnt": 0.2, "belt.broken": 0.9})],
        [
            observation("says_no_spin", "no_spin", [[0.95, 0.05], [0.1, 0.9]]),
            observation(
                "tests_spin", "no_spin", [[0.98, 0.02], [0.02, 0.98]], channel=Channel.ON_SITE_TEST
            ),
        ],
    )


def random_network(
    seed: int,
    *,
    components_count: int = 4,
    signs_count: int = 5,
    with_context: bool = True,
    with_pair: bool = True,
    with_masks: bool = True,
    with_nothing_failed: bool = True,
    with_table: bool = True,
) -> FaultNetwork:
    """Random fault network with every feature of the model, small enough to enumerate."""
    rng = np.random.default_rng(seed)
    sizes = rng.integers(1, 3, components_count)
    shares = rng.dirichlet(np.ones(int(sizes.sum()) + 2 * with_nothing_failed) * 3)
    place = 0
    parts: list[Component] = []
    for number, size in enumerate(sizes):
        modes = {f"m{k}": float(shares[place + k]) for k in range(size)}
        multipliers = {
            "m0": {"age": {"old": float(rng.uniform(0.0, 3.0)), "new": float(rng.uniform(0.2, 1))}}
        }
        parts.append(
            component(f"c{number}", modes, multipliers=multipliers if with_context else None)
        )
        place += int(size)
    if with_nothing_failed:
        modes = {"normal": float(shares[place]), "gone": float(shares[place + 1])}
        parts.append(component("nothing_failed", modes, ComponentKind.NOTHING_FAILED))
    mode_ids = [mode.id for part in parts for mode in part.modes]
    mode_share = {mode.id: mode.share for part in parts for mode in part.modes}
    pairs = []
    if with_pair and components_count >= 2:
        chosen = ("c0.m0", "c1.m0")
        pairs = [pair(*chosen, 0.4 * min(mode_share[mode] for mode in chosen))]
    signs = _random_signs(rng, mode_ids, signs_count, with_masks=with_masks, with_table=with_table)
    observations = _random_observations(rng, signs)
    contexts = []
    if with_context:
        contexts = [context("age", {"new": 0.3, "mid": 0.2, "old": 0.5})]
        rows = rng.dirichlet(np.ones(2) * 2, 3)
        observations.append(observation("asks_age", "age", rows.tolist(), about_context=True))
    return network(
        parts,
        signs,
        observations,
        contexts=contexts,
        pairs=pairs,
        repairs=[repair(f"fix_{part.id}", [mode.id for mode in part.modes], 0.8) for part in parts],
        expected_failed_modes=1.25,
    )


def _random_signs(
    rng: np.random.Generator, mode_ids: list[str], count: int, *, with_masks: bool, with_table: bool
) -> list[Sign]:
    signs: list[Sign] = []
    for number in range(count):
        parents = list(rng.choice(mode_ids, size=min(3, len(mode_ids)), replace=False))
        levels = 2 + int(number % 3 == 2)
        masks: list[Mask] = []
        states = [*["good", "poor"][: levels - 1], "bad"]
        if with_masks and number >= count - 2:
            masks = [Mask(masker="s0", states=("bad",), shows="untestable")]
            states = [*states, "untestable"]
            if number == count - 1:
                masks.append(
                    Mask(masker=f"s{count - 2}", states=("bad", "untestable"), shows="bad")
                )
        pad = [0.0] * (len(states) - levels)
        links = {mode: [*rng.dirichlet(np.ones(levels)), *pad] for mode in parents}
        leak = [*rng.dirichlet([20.0, *([1.0] * (levels - 1))]), *pad]
        rows: list[TableRow] = []
        if with_table and number == 1:
            rows = [
                TableRow(when=tuple(parents[:2]), then=tuple(rng.dirichlet(np.ones(levels)))),
                TableRow(when=(parents[2],), then=tuple(rng.dirichlet(np.ones(levels)))),
                TableRow(when=(), then=tuple(leak)),
            ]
        signs.append(sign(f"s{number}", {} if rows else links, leak, states, masks, rows))
    return signs


def _random_observations(rng: np.random.Generator, signs: Sequence[Sign]) -> list[Observation]:
    observations = []
    for entry in signs:
        for look in range(2):
            rows = rng.dirichlet(np.ones(3), len(entry.states)).tolist()
            volunteered = rng.uniform(0.01, 0.6, len(entry.states)).tolist()
            observations.append(
                observation(
                    f"o_{entry.id}_{look}",
                    entry.id,
                    rows,
                    ("a", "b", "c"),
                    volunteered=volunteered,
                    minutes=float(look + 1),
                )
            )
    return observations


def _distribution(value: float | Sequence[float], count: int) -> tuple[float, ...]:
    if isinstance(value, float | int):
        return (1.0 - value, *([0.0] * (count - 2)), float(value))
    return tuple(float(entry) for entry in value)
