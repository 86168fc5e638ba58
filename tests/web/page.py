"""A page as a person without JavaScript meets it: parsed, checked, its forms filled in and sent."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from html.parser import HTMLParser
from urllib.parse import urlencode

from flask.testing import FlaskClient

VOID = {"area", "br", "col", "hr", "img", "input", "link", "meta"}
TYPED = {"text", "password", "checkbox", "radio"}


@dataclass
class Node:
    """An element: tag, attributes, and what is inside, in order."""

    tag: str
    attributes: dict[str, str]
    inside: list["Node | str"] = field(default_factory=list)

    def walk(self) -> list["Node"]:
        """The element and all that are inside, in the order of the page."""
        return self._elements

    @cached_property
    def _elements(self) -> list["Node"]:
        found, waiting = [], [self]
        while waiting:
            node = waiting.pop()
            found.append(node)
            waiting += [one for one in reversed(node.inside) if isinstance(one, Node)]
        return found

    def all(self, tag: str, **wanted: str) -> list["Node"]:
        """Elements of a tag with these attributes (``_`` for ``-``)."""
        names = {name.rstrip("_").replace("_", "-"): value for name, value in wanted.items()}
        return [
            node
            for node in self.walk()
            if node.tag == tag
            and all(node.attributes.get(name) == value for name, value in names.items())
        ]

    @property
    def text(self) -> str:
        return " ".join(" ".join(self._strings()).split())

    def _strings(self) -> Iterator[str]:
        waiting: list[Node | str] = [self]
        while waiting:
            one = waiting.pop()
            if isinstance(one, str):
                yield one
            else:
                waiting += reversed(one.inside)

    def without(self, *tags: str) -> "Node":
        """The same without the elements of some tags."""
        inside = [
            one.without(*tags) if isinstance(one, Node) else one
            for one in self.inside
            if not (isinstance(one, Node) and one.tag in tags)
        ]
        return Node(self.tag, self.attributes, inside)


class _Builder(HTMLParser):
    """Builds the tree and refuses what is not closed properly."""

    def __init__(self) -> None:
        super().__init__()
        self.root = Node("", {})
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"<{tag}> has an attribute twice: {names}"
        node = Node(tag, {name: value or "" for name, value in attrs})
        self.open[-1].inside.append(node)
        if tag not in VOID:
            self.open.append(node)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].inside.append(Node(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert tag == self.open[-1].tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].inside.append(data)


def parse(html: str) -> Node:
    builder = _Builder()
    builder.feed(html)
    builder.close()
    assert builder.open == [builder.root], f"<{builder.open[-1].tag}> is not closed"
    return builder.root


@dataclass
class Page:
    """A response with its tree; see ``check`` for what holds of every page."""

    status: int
    path: str
    root: Node

    @property
    def heading(self) -> str:
        return self.root.all("h1")[0].text

    @property
    def text(self) -> str:
        return self.root.all("main")[0].text

    def forms(self, action: str = "") -> list[Node]:
        """Forms that are sent to an address ending so."""
        found = self.root.all("form")
        return [form for form in found if form.attributes.get("action", self.path).endswith(action)]

    def links(self) -> list[str]:
        return [link.attributes["href"] for link in self.root.all("a")]


def check(page: Page) -> None:
    """Assert what holds of every page."""
    root = page.root
    headings = root.all("h1")
    assert len(headings) == 1
    assert root.all("title")[0].text.startswith(headings[0].text)
    ids = [node.attributes["id"] for node in root.walk() if "id" in node.attributes]
    assert len(ids) == len(set(ids)), sorted(one for one in ids if ids.count(one) > 1)
    _check_labels(root)
    for name in ("for", "aria-describedby", "aria-labelledby"):
        named = " ".join(node.attributes.get(name, "") for node in root.walk()).split()
        assert set(named) <= set(ids), f"{name} leads nowhere"
    for form in root.all("form"):
        _check_form(form)
    for node in root.walk():
        assert "style" not in node.attributes
        assert not [name for name in node.attributes if name.startswith("on")]
        assert node.tag != "script" or "src" in node.attributes
    current = [link.text for nav in root.all("nav") for link in nav.all("a", aria_current="page")]
    assert len(current) <= 1
    main = root.all("main")[0].without("svg", "textarea", "pre")
    text = main.text  # a file shown as it is may have names of the program
    # "None, with supply present" is a sentence of the networks.
    assert not re.search(r"None(?!, [a-z])", text)
    assert not re.search(r"\d\.\d{6,}|\de-\d|\bnan\b|\{\{|Undefined|_[a-z]+_", text), text


def _check_form(form: Node) -> None:
    """A form that records something has its ticket; one that only asks keeps no secret."""
    assert form.attributes["method"] in ("get", "post")
    hidden = {one.attributes["name"] for one in form.all("input", type="hidden")}
    if form.attributes["method"] == "post":
        assert hidden >= {"csrf_token", "client_id", "shown_version"}
    else:
        assert hidden == set()


def _check_labels(root: Node) -> None:
    labelled = {label.attributes.get("for") for label in root.all("label")}
    typed = [node for node in root.all("input") if node.attributes.get("type") in TYPED]
    for node in [*typed, *root.all("select"), *root.all("textarea")]:
        assert node.attributes.get("id") in labelled, node
    for button in [*root.all("button"), *root.all("a")]:
        assert button.text, button
    for group in root.all("fieldset"):
        assert group.all("legend")[0].text


def values_of(form: Node) -> list[tuple[str, str]]:
    """What a browser would send if nothing were changed and no button had a name."""
    sent: list[tuple[str, str]] = []
    for node in form.walk():
        name, kind = node.attributes.get("name", ""), node.attributes.get("type", "")
        if node.tag == "input" and (kind not in ("radio", "checkbox") or _is_on(node)):
            sent.append((name, node.attributes.get("value", "")))
        elif node.tag == "textarea":
            sent.append((name, node.text))
        elif node.tag == "select":
            options = node.all("option")
            chosen = [one for one in options if "selected" in one.attributes] or options[:1]
            sent.extend((name, one.attributes["value"]) for one in chosen)
    return sent


def _is_on(node: Node) -> bool:
    return "checked" in node.attributes


class Visitor:
    """Opens pages and sends forms through a test client; every page is checked on the way."""

    def __init__(self, client: FlaskClient) -> None:
        self.client = client

    def open(self, path: str) -> Page:
        """Open a page, following redirects."""
        response = self.client.get(path, follow_redirects=True)
        return self._page(response.status_code, response.request.full_path, response.text)

    def send(
        self,
        page: Page,
        values: Mapping[str, str | Sequence[str]],
        *,
        action: str = "",
        number: int = 0,
    ) -> Page:
        """Fill in a form of the page, send it as its method says, and follow where it leads."""
        form = page.forms(action)[number]
        data: dict[str, list[str]] = {}
        for name, value in values_of(form):
            data.setdefault(name, []).append(value)
        for name, given in values.items():
            data[name] = [given] if isinstance(given, str) else list(given)
        path = form.attributes.get("action", page.path)
        if form.attributes["method"] == "get":
            return self.open(f"{path}?{urlencode(data, doseq=True)}")
        response = self.client.post(path, data=data, follow_redirects=True)
        return self._page(response.status_code, response.request.full_path, response.text)

    def _page(self, status: int, path: str, html: str) -> Page:
        page = Page(status, path.rstrip("?"), parse(html))
        check(page)
        return page
