"""A whole call in a real browser, by keyboard, with and without JavaScript."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage

pytestmark = pytest.mark.browser

WORDS = "It won't drain, it just hums and the clothes are swimming in it"
TABS_MAX = 120


def tab_to(page: Page, name: str) -> None:
    """Press Tab until what has focus, or its label, holds this text."""
    for _ in range(TABS_MAX):
        page.keyboard.press("Tab")
        focused = page.locator(":focus")
        if focused.count() == 0:
            continue
        label = page.locator(f"label[for='{focused.get_attribute('id')}']")
        texts = [focused.inner_text(), *label.all_inner_texts()]
        if any(name in text for text in texts):
            return
    raise AssertionError(f"{name!r} was not reached with {TABS_MAX} presses of Tab")


def begin_by_keyboard(page: Page, words: str = WORDS) -> None:
    """From the list of calls to the safety questions."""
    tab_to(page, "New call")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("New call")
    page.keyboard.type("Blue door")  # the first field has focus
    tab_to(page, "Appliance")
    page.keyboard.type("Top-load")
    tab_to(page, "What the caller says")
    page.keyboard.type(words)
    tab_to(page, "Go on to the safety questions")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Safety questions")
    page.wait_for_load_state()
    expect(page.locator(".danger-question").first).to_be_focused()


def past_help(page: Page) -> None:
    """Go on from "can we help" with nothing that speaks against it."""
    expect(page.locator("h1")).to_have_text("Can we help?")
    tab_to(page, "Go on")
    page.keyboard.press("Enter")


def tick_first_sign(page: Page) -> None:
    """Tick the first suggestion and go on to the questions."""
    expect(page.locator("h1")).to_have_text("What the caller said")
    tab_to(page, "Water left in it")
    page.keyboard.press("Space")
    tab_to(page, "Go on to the questions")
    page.keyboard.press("Enter")
    expect(page.locator(".ask")).to_be_visible()


def open_questions(open_page: OpenPage) -> Page:
    """The questions of call 4, once keys are answers: a page takes them only with focus."""
    page = open_page("/calls/4/questions")
    expect(page.locator(".ask")).to_be_focused()
    return page


def answers_given(page: Page) -> int:
    return page.locator(".given-answers li").count()


def ranks(page: Page) -> list[str]:
    return page.locator(".causes b").all_inner_texts()


def test_whole_call_by_keyboard_from_words_to_visit_plan(open_page: OpenPage) -> None:
    page = open_page("/")
    begin_by_keyboard(page)
    for _ in range(page.locator(".danger-question").count()):
        page.keyboard.press("n")
    page.keyboard.press("Enter")
    past_help(page)
    tick_first_sign(page)
    page.evaluate("window.sameDocument = true")

    for given, key in enumerate(["1", "2", "0"], start=2):
        expect(page.locator(".ask")).to_be_focused()
        page.keyboard.press(key)
        expect(page.locator(".given-answers li")).to_have_count(given)

    assert page.evaluate("window.sameDocument")
    assert ranks(page) == [f"{number}." for number in range(1, len(ranks(page)) + 1)]
    expect(page.locator("#announced")).to_contain_text("Most probable")
    tab_to(page, "Visit plan")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("Visit plan for call")
    expect(page.get_by_role("heading", name="Parts to load")).to_be_visible()


def test_whole_call_by_keyboard_without_javascript(open_page: OpenPage) -> None:
    page = open_page("/", java_script_enabled=False)
    begin_by_keyboard(page)
    page.keyboard.press("Tab")
    for _ in range(page.locator(".danger-question").count()):
        page.keyboard.press("Space")  # the first radio of the group
        page.keyboard.press("ArrowDown")  # the second: "No"
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    past_help(page)
    tick_first_sign(page)

    for given in (2, 3):
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        expect(page.locator(".given-answers li")).to_have_count(given)

    tab_to(page, "Visit plan")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("Visit plan for call")


def test_key_answers_only_while_the_question_has_focus(open_page: OpenPage) -> None:
    page = open_questions(open_page)
    before = answers_given(page)
    page.get_by_role("link", name="Calls", exact=True).focus()

    page.keyboard.press("1")

    page.wait_for_timeout(300)
    assert answers_given(page) == before


def test_digit_typed_into_a_field_is_only_a_digit(open_page: OpenPage) -> None:
    page = open_page("/calls/new")

    page.keyboard.type("1 0 n y s")

    expect(page.get_by_label("Caller", exact=True)).to_have_value("1 0 n y s")


def test_skip_change_and_take_back_exchange_only_the_main_part(open_page: OpenPage) -> None:
    page = open_questions(open_page)
    page.evaluate("window.sameDocument = true")
    first = page.locator("#ask-wording").inner_text()
    before = answers_given(page)

    page.keyboard.press("s")
    expect(page.locator("#ask-wording")).not_to_have_text(first)
    page.get_by_role("link", name="Change the answer: Sound at drain time").click()
    expect(page.get_by_text("(present answer)")).to_be_visible()
    page.keyboard.press("3")
    expect(page.locator(".given-answers")).to_contain_text("Sound at drain time: Silent")
    page.get_by_role("button", name="Take back the answer: Sound at drain time").click()
    expect(page.locator(".given-answers li")).to_have_count(before - 1)

    assert page.evaluate("window.sameDocument")
    assert page.url.endswith("/calls/4/questions")


def test_reload_shows_what_was_answered(open_page: OpenPage) -> None:
    page = open_questions(open_page)
    before = answers_given(page)
    page.keyboard.press("1")
    expect(page.locator(".given-answers li")).to_have_count(before + 1)
    causes = page.locator(".causes").inner_text()

    page.reload()

    assert page.locator(".causes").inner_text() == causes


def test_old_window_says_that_nothing_was_overwritten(open_page: OpenPage) -> None:
    old = open_questions(open_page)
    new = open_questions(open_page)
    new.keyboard.press("1")
    expect(new.locator(".given-answers li")).to_have_count(3)

    old.keyboard.press("2")

    expect(old.locator("h1")).to_have_text("Not recorded")
    expect(old.get_by_role("alert").last).to_contain_text("Nothing was overwritten")
    old.get_by_role("link", name="Go on with the call as it is now").click()
    expect(old.locator(".given-answers li")).to_have_count(3)


def test_lost_connection_is_said_and_the_answer_can_be_sent_again(open_page: OpenPage) -> None:
    page = open_questions(open_page)
    page.context.set_offline(True)
    page.keyboard.press("1")
    expect(page.locator("#lost")).to_be_visible()

    page.context.set_offline(False)
    page.locator(".ask").focus()
    page.keyboard.press("1")

    expect(page.locator(".given-answers li")).to_have_count(3)
    expect(page.locator("#lost")).to_be_hidden()


def test_double_press_records_one_answer(open_page: OpenPage) -> None:
    page = open_questions(open_page)
    before = answers_given(page)

    page.evaluate(
        "() => { const one = document.querySelector('.answer'); one.click(); one.click() }"
    )

    expect(page.locator(".given-answers li")).not_to_have_count(before)
    page.wait_for_load_state("networkidle")
    assert answers_given(page) == before + 1
    assert page.locator("h1").inner_text().startswith("Call 4")


def test_gas_smell_in_the_words_is_asked_about_and_stops_the_call(open_page: OpenPage) -> None:
    page = open_page("/calls/new")
    page.get_by_label("Caller", exact=True).fill("Blue door")
    page.get_by_label("Appliance").select_option(label="Gas dryer")
    page.get_by_label("What the caller says").fill("No heat, and I smell gas when it runs")
    page.get_by_role("button", name="Go on to the safety questions").click()
    asked = page.locator(".danger-question", has_text="Raised by the caller's words")
    expect(asked).to_have_count(1)
    expect(asked).to_contain_text("gas")
    expect(asked.get_by_label("Yes")).to_be_checked()

    page.get_by_role("button", name="Record the answers").click()

    expect(page.locator("h1")).to_have_text("Everyone out, and call for help")
    expect(page.get_by_text("This call has ended here.")).to_be_visible()
    expect(page.locator(".causes")).to_have_count(0)


def test_call_made_safe_goes_on_to_its_causes(open_page: OpenPage) -> None:
    page = open_page("/calls/3/danger")
    expect(page.get_by_role("heading", name="When it is safe")).to_be_visible()
    page.get_by_label("Who confirms it").fill("The farmer")

    page.get_by_role("button", name="It is safe: go on with the call").click()

    past_help(page)
    expect(page.locator("h1")).to_have_text("What the caller said")
    page.get_by_role("button", name="Go on to the questions").first.click()
    expect(page.locator(".causes li").first).to_be_visible()
