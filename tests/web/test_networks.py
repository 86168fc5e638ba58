"""Claims about the pages of the networks, through the test client and without JavaScript."""

import re
from xml.etree import ElementTree

import pytest

from tests.web.page import Page, Visitor
from triage.network.catalogue import load_network, network_names
from triage.network.drawing import draw_network
from triage.network.values import NetworkIndex

pytestmark = pytest.mark.one_engine

NAMES = network_names()


def rows(page: Page, caption: str) -> list[str]:
    """Rows of every table whose caption begins so."""
    tables = [
        table
        for table in page.root.all("table")
        if table.all("caption") and table.all("caption")[0].text.startswith(caption)
    ]
    return [row.text for table in tables for row in table.all("tbody")[0].all("tr")]


def test_network_list_counts_every_network_and_leads_to_it(visitor: Visitor) -> None:
    page = visitor.open("/networks")

    counted = page.root.all("table", class_="figures")[0]
    signs = next(row for row in counted.all("tr") if row.text.startswith("Signs "))
    assert {f"/networks/{name}" for name in NAMES} <= set(page.links())
    assert sorted(int(cell.text) for cell in signs.all("td")) == sorted(
        len(load_network(name).signs) for name in NAMES
    )


@pytest.mark.parametrize("name", NAMES)
def test_network_page_holds_every_cause_repair_and_part(visitor: Visitor, name: str) -> None:
    network = load_network(name)

    page = visitor.open(f"/networks/{name}")

    causes = rows(page, "Causes: ")
    assert len(causes) == len(NetworkIndex(network).modes)
    assert all(re.search(r"\d %", row) for row in causes)
    assert len(rows(page, "Repairs")) == len(network.repairs)
    assert len(rows(page, "Parts")) == len(network.parts)


def test_network_page_holds_the_picture_without_style_or_script(visitor: Visitor) -> None:
    page = visitor.open("/networks/top_load_washer")

    picture = page.root.all("svg", role="img")[0]
    assert picture.all("title")[0].text == "Top-load washer: causes and signs"
    assert not [node for node in picture.walk() if node.tag in ("style", "script", "a")]


def test_picture_alone_is_a_file_under_the_same_policy(visitor: Visitor) -> None:
    response = visitor.client.get("/networks/gas_dryer/picture.svg")

    assert response.mimetype == "image/svg+xml"
    assert response.text == draw_network(load_network("gas_dryer"))
    assert ElementTree.fromstring(response.text).tag == "{http://www.w3.org/2000/svg}svg"
    assert "unsafe" not in response.headers["Content-Security-Policy"]


@pytest.mark.parametrize("name", NAMES)
def test_every_component_of_a_network_page_leads_to_what_is_around_it(
    visitor: Visitor, name: str
) -> None:
    page = visitor.open(f"/networks/{name}")

    around = sorted({link for link in page.links() if "/around?" in link})

    assert len(around) == len([c for c in load_network(name).components.values() if c.modes])
    for link in around[:3]:
        assert visitor.open(link).heading.startswith("Around: ")


def test_part_is_chosen_by_a_form(visitor: Visitor) -> None:
    page = visitor.open("/networks/top_load_washer")

    around = visitor.send(page, {"node": "drain_pump"}, action="/around")

    assert around.heading == "Around: Drain pump"
    assert around.root.all("svg", role="img")
    assert any("almost always" in row for row in rows(around, "Causes and signs"))
    assert "Drain pump on: on-site test, 2 minutes" in around.text


def test_around_a_sign_stand_its_causes_strongest_first(visitor: Visitor) -> None:
    network = load_network("top_load_washer")
    sign = max(network.signs.values(), key=lambda one: len(one.causes))

    page = visitor.open(f"/networks/top_load_washer/around?node={sign.id}")

    strengths = [
        next(word for word in ("almost always", "often", "sometimes", "rarely") if word in row)
        for row in rows(page, "Causes and signs")
    ]
    assert len(strengths) == len(sign.parents)
    assert strengths == sorted(
        strengths, key=["almost always", "often", "sometimes", "rarely"].index
    )


@pytest.mark.parametrize("name", NAMES)
def test_every_node_has_a_page(visitor: Visitor, name: str) -> None:
    network = load_network(name)
    nodes = [*list(network.components)[::4], *list(network.signs)[::9]]

    pages = [visitor.open(f"/networks/{name}/around?node={node}") for node in nodes]

    assert {page.status for page in pages} == {200}
    assert all(page.root.all("svg", role="img") for page in pages)


@pytest.mark.parametrize("query", ["", "?node=", "?node=toaster", "?node=..%2F..", "?other=1"])
def test_without_a_part_the_page_asks_for_one(visitor: Visitor, query: str) -> None:
    page = visitor.open(f"/networks/gas_dryer/around{query}")

    assert page.status == 200
    assert "Choose a component or a sign" in page.text
    assert page.forms("/around")


@pytest.mark.parametrize(
    "path",
    ["toaster", "toaster/picture.svg", "toaster/around", "gas_dryer.yaml", "small.yaml/around"],
)
def test_network_that_is_not_shipped_says_choose_from_the_list(visitor: Visitor, path: str) -> None:
    page = visitor.open(f"/networks/{path}")

    assert page.status == 404
    assert "Choose one from the list" in page.text
    assert "/networks" in page.links()
