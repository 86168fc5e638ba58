"""Published networks give their published numbers, and the numbers of pgmpy and pyAgrum.

The files are those that pgmpy ships. Where no book prints a number to enough digits, it was
computed once by enumeration or by pyAgrum (said beside it) and is also checked live here.
"""

from collections.abc import Mapping
from functools import cache

import numpy as np
import pytest

from tests.discrete_networks import burglary, in_pgmpy, in_pyagrum, joint_table, published
from triage.errors import ImpossibleEvidenceError
from triage.inference.elimination import Elimination
from triage.inference.information import decibans, entropy_bits, generalized_bayes_factor
from triage.inference.root_causes import RootCauseModel
from triage.network.discrete import DiscreteNetwork

network_file = cache(published)  # parsing takes half a second


@cache
def asia() -> RootCauseModel:
    """Chest clinic [LauritzenSpiegelhalter1988]_ with its three diseases as causes."""
    return RootCauseModel(
        network_file("asia"),
        {"tub": "no", "lung": "no", "bronc": "no"},
        ["asia", "smoke", "xray", "dysp"],
    )


@cache
def printing(*roots: str) -> RootCauseModel:
    """Print troubleshooting (the win95pts file); every status and problem can be observed."""
    network = network_file("win95pts")
    parents = {parent for above in network.parents.values() for parent in above}
    leaves = [name for name in network.states if name not in parents]
    return RootCauseModel(network, dict.fromkeys(roots), leaves)


def yes(model: RootCauseModel, findings: Mapping[str, str], *variables: str) -> list[float]:
    posterior = model.posterior(findings)
    return [posterior.marginal(variable)["yes"] for variable in variables]


@pytest.mark.parametrize(
    ("name", "findings"),
    [
        ("asia", {"dysp": "yes", "xray": "no"}),
        ("cancer", {"Xray": "positive", "Dyspnoea": "True"}),
        ("earthquake", {"JohnCalls": "True", "MaryCalls": "True"}),
        ("alarm", {"BP": "LOW", "HRBP": "HIGH"}),
        ("win95pts", {"Problem1": "No_Output", "PrtStatOff": "No_Error"}),
    ],
)
def test_every_marginal_equals_pgmpy_and_pyagrum(name: str, findings: dict[str, str]) -> None:
    import pyagrum
    from pgmpy.inference import VariableElimination

    network = network_file(name)
    states = {variable: network.state_index(variable, seen) for variable, seen in findings.items()}
    agrum = pyagrum.LazyPropagation(in_pyagrum(network))
    agrum.setEvidence(states)
    pgmpy = VariableElimination(in_pgmpy(network))
    likelihoods = {
        variable: np.eye(len(network.states[variable]))[state] for variable, state in states.items()
    }

    evidence, joint = Elimination(network, network.states).derivatives(likelihoods)

    assert evidence == pytest.approx(agrum.evidenceProbability(), abs=1e-9)
    asked = [variable for variable in network.states if variable not in findings]
    for variable in asked:
        ours = joint[variable] / joint[variable].sum()
        assert ours == pytest.approx(agrum.posterior(variable).toarray(), abs=1e-9)
    for variable in asked[::5]:  # pgmpy needs many milliseconds for each
        ours = joint[variable] / joint[variable].sum()
        reference = pgmpy.query([variable], findings, show_progress=False)
        assert ours == pytest.approx(reference.values, abs=1e-9)


def test_asia_has_its_known_marginals() -> None:
    # Products of the printed tables, by enumeration.
    expected = [0.0104, 0.055, 0.45, 0.064828, 0.11029004, 0.4359706]

    marginals = yes(asia(), {}, "tub", "lung", "bronc", "either", "xray", "dysp")

    assert marginals == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("findings", "evidence", "expected"),  # computed by enumeration; tub, lung, bronc, either
    [
        ({"dysp": "yes"}, 0.4359706, (0.01884531, 0.10275922, 0.83396734, 0.12053583)),
        (
            {"asia": "yes", "dysp": "yes"},
            0.004501375,
            (0.08775097, 0.09952515, 0.81140208, 0.18229985),
        ),
        (
            {"asia": "yes", "dysp": "yes", "xray": "yes"},
            9.88226754e-4,
            (0.39171172, 0.44427051, 0.62882178, 0.8137687),
        ),
        (
            {"asia": "yes", "dysp": "yes", "xray": "no"},
            0.004501375 - 9.88226754e-4,
            (0.0022487, 0.00255042, 0.86276078, 0.00467159),
        ),
        (
            {"xray": "yes", "dysp": "yes"},
            0.0706701044,
            (0.11393332, 0.6212528, 0.68186854, 0.72872509),
        ),
    ],
)
def test_asia_posteriors_equal_enumeration(
    findings: dict[str, str], evidence: float, expected: tuple[float, ...]
) -> None:
    posterior = asia().posterior(findings)

    assert posterior.evidence_probability == pytest.approx(evidence, abs=1e-9)
    assert yes(asia(), findings, "tub", "lung", "bronc", "either") == pytest.approx(
        expected, abs=1e-8
    )


def test_asia_gains_are_about_the_diseases_together() -> None:
    posterior = asia().posterior({"dysp": "yes"})

    gains = posterior.expected_information_gain()
    apart = [posterior.expected_information_gain([root])["xray"] for root in asia().roots]

    # Computed by enumeration. The gains about single diseases do not add up to the joint one.
    assert entropy_bits(posterior.probabilities) == pytest.approx(1.2317143087, abs=1e-9)
    assert gains == pytest.approx(
        {"asia": 0.0010413788, "smoke": 0.0662911141, "xray": 0.3703813531, "dysp": 0.0}, abs=1e-9
    )
    assert apart == pytest.approx([0.0472326376, 0.3017461636, 0.0202475640], abs=1e-9)


def test_asia_xray_weighs_for_lung_cancer_in_decibans() -> None:
    before, after = (
        asia().posterior(findings).marginal("lung")["yes"]
        for findings in ({"dysp": "yes"}, {"dysp": "yes", "xray": "yes"})
    )

    factor = generalized_bayes_factor(before, after)

    # Computed by enumeration: P(xray | lung, dysp) over P(xray | no lung, dysp).
    assert factor == pytest.approx(14.3221, abs=1e-4)
    assert decibans(factor) == pytest.approx(11.5601, abs=1e-4)


def test_asia_most_relevant_explanation_is_the_single_fault() -> None:
    # Method of [YuanLimLu2011]_; factors computed by enumeration.
    prior = asia().posterior({})
    posterior = asia().posterior({"xray": "yes", "dysp": "yes"})
    explanations: dict[tuple[tuple[str, str], ...], float] = {}
    for choice in np.ndindex(3, 3, 3):  # each disease left open, present or absent
        chosen = {
            root: ("yes", "no")[state - 1]
            for root, state in zip(asia().roots, choice, strict=True)
            if state
        }
        if chosen:
            explanations[tuple(chosen.items())] = generalized_bayes_factor(
                prior.probability_of(chosen), posterior.probability_of(chosen)
            )

    best = max(explanations, key=lambda chosen: explanations[chosen])

    assert best == (("lung", "yes"),)
    lung, no_tub = ("lung", "yes"), ("tub", "no")
    bronc = ("bronc", "yes")
    assert explanations[best] == pytest.approx(28.183053, abs=1e-6)
    assert explanations[no_tub, lung] == pytest.approx(27.727117, abs=1e-6)
    assert explanations[lung, bronc] == pytest.approx(19.917805, abs=1e-6)
    assert explanations[no_tub, lung, bronc] == pytest.approx(19.791203, abs=1e-6)
    assert explanations[("tub", "yes"), bronc] == pytest.approx(13.192686, abs=1e-6)


def test_asia_refuses_findings_that_exclude_each_other() -> None:
    # pgmpy 1.1.2 and pyAgrum 3.3.1 answer P(dysp) = 0.788571 here, although P(findings) = 0.
    findings = {"either": "yes", "lung": "no", "tub": "no"}

    with pytest.raises(ImpossibleEvidenceError, match='"either = yes", "lung = no", "tub = no"'):
        asia().posterior(findings)


@pytest.mark.parametrize(
    ("findings", "cause", "expected"),
    [  # The book prints P(burglary | both call) = 0.284; digits computed by enumeration.
        ({"john": "yes", "mary": "yes"}, "burglary", 0.28417184),
        ({"john": "yes", "mary": "yes"}, "earthquake", 0.17606684),
        ({"john": "yes"}, "burglary", 0.01628373),
        ({"alarm": "yes"}, "burglary", 0.37355123),
        ({"alarm": "yes", "earthquake": "yes"}, "burglary", 0.00326842),  # explained away
    ],
)
def test_burglary_posterior_is_the_published_one(
    findings: dict[str, str], cause: str, expected: float
) -> None:
    model = RootCauseModel(
        burglary(), {"burglary": "no", "earthquake": "no"}, ["alarm", "john", "mary"]
    )

    assert yes(model, findings, cause) == pytest.approx([expected], abs=1e-8)


@pytest.mark.parametrize(
    ("name", "root", "findings", "state", "expected"),
    [  # The files; earthquake has other priors than the book. Computed by enumeration.
        ("earthquake", "Burglary", {"JohnCalls": "True", "MaryCalls": "True"}, "True", 0.55652206),
        ("earthquake", "Burglary", {"Alarm": "True"}, "True", 0.58346055),
        ("cancer", "Cancer", {}, "True", 0.01163),
        ("cancer", "Cancer", {"Xray": "positive"}, "True", 0.05028802),
        ("cancer", "Cancer", {"Xray": "positive", "Dyspnoea": "True"}, "True", 0.10291918),
        # Computed by pyAgrum 3.3.1 on tables filled by hand.
        ("alarm", "HYPOVOLEMIA", {"BP": "LOW", "HRBP": "HIGH"}, "TRUE", 0.267968235435),
        ("alarm", "LVFAILURE", {"BP": "LOW", "HRBP": "HIGH"}, "TRUE", 0.088371123572),
    ],
)
def test_posterior_of_a_file_has_its_known_value(
    name: str, root: str, findings: dict[str, str], state: str, expected: float
) -> None:
    model = RootCauseModel(network_file(name), {root: None}, list(findings))

    posterior = model.posterior(findings)

    # ALARM has rows that are off by 1e-7 and are made exact here.
    assert posterior.marginal(root)[state] == pytest.approx(expected, abs=1e-7)


PRINTING_FINDINGS = {
    "dead": {"Problem1": "No_Output"},
    "two lights": {
        "Problem1": "No_Output",
        "PrtStatOff": "No_Error",
        "PrtStatPaper": "No_Error",
    },
    "all lights": {
        "Problem1": "No_Output",
        "PrtStatOff": "No_Error",
        "PrtStatPaper": "No_Error",
        "PrtStatToner": "No_Error",
        "PrtStatMem": "No_Error",
        "PrtIcon": "Normal",
    },
    "slow": {"Problem2": "Too_Long"},
    "garbled": {"Problem6": "Yes", "REPEAT": "Yes__Always_the_Same_"},
}


@pytest.mark.parametrize(
    ("call", "evidence", "expected"),
    [  # Computed by pyAgrum 3.3.1 (lazy propagation) on tables filled by hand, and by pgmpy 1.1.2.
        (
            "dead",
            0.427446035951,
            {
                ("PTROFFLINE", "Offline"): 0.338604202966,
                ("FllCrrptdBffr", "Full_or_Corrupt"): 0.277973761683,
                ("NetPrint", "Yes__Network_printer_"): 0.252256458293,
                ("PrtOn", "No"): 0.184208447425,
                ("PrtDriver", "No"): 0.166820026747,
                ("PrtTimeOut", "Too_Short"): 0.108808439929,
                ("PrtMem", "Less_than_2Mb"): 0.083965296356,
                ("PrtPaper", "No_Paper"): 0.035743981448,
            },
        ),
        (
            "two lights",
            0.331543641643,
            {
                ("PTROFFLINE", "Offline"): 0.353316218597,
                ("FllCrrptdBffr", "Full_or_Corrupt"): 0.328267469318,
                ("PrtDriver", "No"): 0.192285059113,
                ("PrtTimeOut", "Too_Short"): 0.128270912790,
                ("PrtOn", "No"): 0.002342447413,
            },
        ),
        (
            "all lights",
            0.264854027620,
            {
                ("FllCrrptdBffr", "Full_or_Corrupt"): 0.360638296042,
                ("PTROFFLINE", "Offline"): 0.285316502172,
                ("PrtDriver", "No"): 0.207582705301,
                ("PrtTimeOut", "Too_Short"): 0.140797287683,
            },
        ),
        (
            "slow",
            0.052095066713,
            {
                ("PrtMem", "Less_than_2Mb"): 0.716428295609,
                ("NetPrint", "Yes__Network_printer_"): 0.265865513175,
                ("PrtQueue", "Long"): 0.035493244111,
            },
        ),
        (
            "garbled",
            0.110295211979,
            {
                ("PrtDriver", "No"): 0.530552054956,
                ("PrtMem", "Less_than_2Mb"): 0.341307800021,
                ("NtwrkCnfg", "Incorrect"): 0.018989844484,
            },
        ),
    ],
)
def test_printing_posteriors_equal_pyagrum(
    call: str, evidence: float, expected: dict[tuple[str, str], float]
) -> None:
    posterior = printing("PrtOn", "PrtPaper", "PTROFFLINE").posterior(PRINTING_FINDINGS[call])

    actual = {(name, state): posterior.marginal(name)[state] for name, state in expected}
    assert posterior.evidence_probability == pytest.approx(evidence, abs=1e-11)
    assert actual == pytest.approx(expected, abs=1e-11)


@pytest.mark.parametrize(
    ("observation", "root", "bits"),  # computed by pyAgrum 3.3.1
    [
        ("PrtStatOff", "PrtOn", 0.6217738396),
        ("PrtStatMem", "PrtMem", 0.2876818624),
        ("PrtStatPaper", "PrtPaper", 0.2154142308),
        ("PrtIcon", "PTROFFLINE", 0.1285761770),
        ("PrtStatToner", "TnrSpply", 0.0681297156),
    ],
)
def test_printing_status_tells_as_much_as_pyagrum_says(
    observation: str, root: str, bits: float
) -> None:
    model = printing("PrtOn", "PrtMem", "PrtPaper", "PTROFFLINE", "TnrSpply")

    gains = model.posterior(PRINTING_FINDINGS["dead"]).expected_information_gain([root])

    assert gains[observation] == pytest.approx(bits, abs=1e-9)


def test_printing_file_status_tells_as_much_as_pyagrum_says() -> None:
    network = network_file("win95pts")
    model = RootCauseModel(network, {"PrtDriver": None}, ["PrtFile", "Problem1"])

    gains = model.posterior(PRINTING_FINDINGS["dead"]).expected_information_gain()

    assert gains["PrtFile"] == pytest.approx(0.0924146421, abs=1e-9)  # computed by pyAgrum 3.3.1


def printing_faults() -> tuple[DiscreteNetwork, list[str]]:
    """The printing network and its 28 roots that are seldom not normal (below 0.12)."""
    network = network_file("win95pts")
    roots = [name for name, parents in network.parents.items() if not parents]
    return network, [root for root in roots if network.tables[root].min() < 0.12]


@pytest.mark.parametrize(
    ("max_causes", "hypotheses", "prior_mass", "covered"),
    [(1, 29, 0.753, 0.690), (2, 407, 0.934, 0.922), (3, 3683, 0.987, 0.987)],
)
def test_printing_list_covers_more_with_every_cause_allowed(
    max_causes: int, hypotheses: int, prior_mass: float, covered: float
) -> None:
    network, faults = printing_faults()
    model = RootCauseModel(
        network, dict.fromkeys(faults), list(PRINTING_FINDINGS["two lights"]), max_causes=max_causes
    )

    before = model.posterior({})
    after = model.posterior(PRINTING_FINDINGS["two lights"])

    # Prior mass: by the recursion for independent roots. Cover: by pyAgrum's P(findings).
    assert len(model.hypotheses) == hypotheses
    assert before.evidence_probability == pytest.approx(prior_mass, abs=5e-4)
    assert 1 - after.missing_mass() == pytest.approx(covered, abs=5e-4)
    assert after.evidence_probability / 0.331543641643 == pytest.approx(
        1 - after.missing_mass(), abs=1e-10
    )


def test_asia_joint_equals_enumeration_cell_by_cell() -> None:
    network = network_file("asia")
    places = [list(network.states).index(root) for root in asia().roots]
    table = np.moveaxis(joint_table(network), places, [0, 1, 2]).sum(axis=(3, 4, 5, 6, 7))

    posterior = asia().posterior({})

    expected = [table[tuple(states)] for states in asia().hypotheses]
    assert posterior.weights == pytest.approx(expected, abs=1e-15)
