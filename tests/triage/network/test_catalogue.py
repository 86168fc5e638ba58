from pathlib import Path

import pytest

from triage.errors import NetworkFileError, UnknownNetworkError
from triage.network.catalogue import load_network, network_names, network_source

NETWORKS = Path(__file__).parents[3] / "networks"
SMALL_WASHER = Path(__file__).parent / "networks_files" / "small_washer.yaml"


def test_network_names_are_the_files_beside_the_readme_without_fragments():
    names = network_names()

    assert names == tuple(sorted(path.stem for path in NETWORKS.glob("*.yaml")))


def test_network_source_is_the_file_of_a_shipped_network():
    sources = [network_source(name) for name in network_names()]

    assert all(source.is_file() for source in sources)


def test_unknown_network_is_refused():
    with pytest.raises(UnknownNetworkError, match='Unknown network "toaster"; expected one of'):
        load_network("toaster")


@pytest.mark.parametrize("path", [SMALL_WASHER, str(SMALL_WASHER)])
def test_network_is_loaded_from_a_path(path):
    network = load_network(path)

    assert network.id == "small_washer"


def test_missing_file_is_refused(tmp_path):
    with pytest.raises(NetworkFileError, match="got no readable file"):
        load_network(tmp_path / "missing.yaml")


def test_shipped_network_is_read_once():
    loaded = [(load_network(name), load_network(name)) for name in network_names()]

    assert all(first is second for first, second in loaded)
