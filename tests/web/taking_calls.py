"""Steps of a call as a visitor takes them, for tests that start in the middle."""

from collections.abc import Iterable

from tests.web.page import Page, Visitor

WASHER = "top_load_washer"
WORDS = "It won't drain, the clothes are swimming in it"


def begin(visitor: Visitor, words: str = WORDS, caller: str = "Blue door") -> Page:
    """Open a call; the page with the safety questions."""
    page = visitor.open("/calls/new")
    return visitor.send(page, {"caller": caller, "network": WASHER, "words": words})


def flags(page: Page) -> list[str]:
    """Names of the safety questions on a page."""
    radios = page.root.all("input", type="radio", value="no")
    return [radio.attributes["name"] for radio in radios]


def answer_safety(visitor: Visitor, page: Page, dangers: Iterable[str] = ()) -> Page:
    """Answer every safety question "no" but for these dangers; nothing speaks against helping."""
    answers = dict.fromkeys(flags(page), "no") | {f"flag_{name}": "yes" for name in dangers}
    return past_help(visitor, visitor.send(page, answers))


def past_help(visitor: Visitor, page: Page) -> Page:
    """Go on from "can we help", if that is where the call stands."""
    return visitor.send(page, {"warranty": "no"}) if page.heading == "Can we help?" else page


def to_signs(visitor: Visitor, words: str = WORDS) -> Page:
    """A call in which no danger was reported; the page with the signs."""
    return answer_safety(visitor, begin(visitor, words))


def to_questions(visitor: Visitor, words: str = WORDS) -> Page:
    """A call with the suggested signs ticked; the page with questions and causes."""
    page = to_signs(visitor, words)
    suggested = page.root.all("fieldset")[0].all("input", type="checkbox")
    return visitor.send(page, {"observations": [box.attributes["value"] for box in suggested]})


def answer_number(visitor: Visitor, page: Page, key: str) -> Page:
    """Press the button with a key."""
    button = page.root.all("button", data_key=key)[0]
    return visitor.send(page, {"answer": button.attributes["value"]}, action="/answer")


def causes(page: Page) -> list[str]:
    """Causes in the order of the page, each with its rank and number."""
    return [item.all("div")[0].text for item in page.root.all("ol", class_="causes")[0].all("li")]


def question(page: Page) -> str:
    """The sentence to say."""
    return page.root.all("h2", id="ask-wording")[0].text
