"""A job from the first word to the owner's list, by clicking only what the pages offer.

A washer with a burnt drain pump: caller and technician answer as it does.
"""

import re
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.conftest import EXPECTED
from tests.browser.shop import CHEAP, DESKTOP, PHONE, serving
from tests.browser.test_call import tab_to
from triage.network.catalogue import load_network
from triage.services.calls.calls import Database
from triage.simulation.draws import Draws
from triage.simulation.machines import Machine
from webform.app import create_app
from webform.config import DATABASE_FILE, Config
from webform.demo import fill
from webform.demo_people import add_people
from webform.desk import EXTENSION

pytestmark = pytest.mark.browser

MORNING = datetime(2026, 3, 2, 9, 10, tzinfo=UTC)
CALLER = "Juno Thistle"
WORDS = "It won't drain, it just hums and the clothes are swimming in it"
FAILED = ("drain_pump.burnt",)
STEPS_MAX = 12  # of a visit


class Clock:
    """Time of the shop; it stands still until somebody waits."""

    def __init__(self) -> None:
        self.now = MORNING

    def __call__(self) -> datetime:
        return self.now


class Windows:
    """Browsers of the people of the shop; each begins on the sign-in page."""

    def __init__(self, browser: Browser, address: str) -> None:
        self._browser, self._address = browser, address
        self._pages: list[Page] = []
        self.faults: list[str] = []

    def of(self, title: str, size: dict[str, int]) -> Page:
        """Window of a person of the demo, signed in by the button with the title."""
        context = self._browser.new_context(base_url=self._address, viewport=size)  # type: ignore[arg-type]
        context.set_default_timeout(20_000)
        page = context.new_page()
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on(
            "console", lambda one: self.faults.append(one.text) if one.type == "error" else None
        )
        self._pages.append(page)
        page.goto("/")
        expect(page.locator("h1")).to_have_text("Sign in")
        page.get_by_role("button", name=f"{title}: ").click()
        return page

    def close(self) -> None:
        for page in self._pages:
            page.context.close()


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the demo shop on a Monday morning; nobody writes into it."""
    folder = tmp_path_factory.mktemp("morning")
    database = Database.at(folder / DATABASE_FILE)
    add_people(database, MORNING, CHEAP)
    fill(database, MORNING)
    database.close()
    return folder


@pytest.fixture
def address(morning: Path, tmp_path: Path, clock: Clock) -> Iterator[str]:
    """Address of the demo shop on a Monday morning."""
    folder = Path(shutil.copytree(morning, tmp_path / "morning"))
    config = Config(data_folder=folder, uses_https=False, is_demo=True)
    app = create_app(config, clock=clock, passwords=CHEAP)
    with serving(app) as url:
        yield url
    app.extensions[EXTENSION].database.close()


@pytest.fixture
def machine() -> Machine:
    """A washer of middle age whose drain pump is burnt."""
    network = load_network("top_load_washer")
    values = {name: next(iter(context.values)) for name, context in network.contexts.items()}
    values |= {"age": "from_8_to_12", "drive": "belt"}
    return Machine(network, Draws((7,)), FAILED, values)


@pytest.fixture
def windows(browser: Browser, address: str) -> Iterator[Windows]:
    opened = Windows(browser, address)
    yield opened
    opened.close()
    assert [fault for fault in opened.faults if not EXPECTED.search(fault)] == []


def answer_by(page: Page, name: str) -> Locator:
    """Button that records an answer, by the value it sends."""
    return page.locator(f".ask button.answer[value='{name}']").first


def asked(page: Page, machine: Machine) -> str:
    """Answer of the caller of a machine to the question that is proposed."""
    name = page.locator(".ask form input[name=observation]").first.input_value()
    return str(machine.answer(machine.network.observations[name]).answer)


def take_the_call(page: Page) -> None:
    """From the list of calls to the questions."""
    page.get_by_role("link", name="New call").click()
    page.get_by_label("Caller", exact=True).fill(CALLER)
    page.get_by_label("Appliance").select_option(label="Top-load washer")
    page.get_by_label("What the caller says").fill(WORDS)
    page.get_by_role("button", name="Go on to the safety questions").click()
    expect(page.locator("h1")).to_have_text("Safety questions")
    for danger in page.locator(".danger-question").all():
        danger.get_by_label("No", exact=True).check()
    page.get_by_role("button", name="Record the answers").click()
    expect(page.locator("h1")).to_have_text("Can we help?")
    page.get_by_label("What is the postcode or the town").fill("Mill End")
    page.get_by_role("button", name="Go on").click()
    expect(page.locator("h1")).to_have_text("What the caller said")
    page.get_by_role("button", name="Go on to the questions").first.click()


def answer_questions(page: Page, machine: Machine, count: int) -> None:
    """Answer the proposed questions as the caller of this machine does."""
    for given in range(count):
        expect(page.locator(".given-answers li")).to_have_count(given)
        answer_by(page, asked(page, machine)).click()
    expect(page.locator(".given-answers li")).to_have_count(count)


def put_on_record(page: Page) -> None:
    """Enter who the caller is and where the machine stands."""
    page.get_by_role("link", name="Enter who it is and where").click()
    form = page.locator("form", has=page.get_by_role("button", name="Put on record and go on"))
    form.get_by_label("Name").fill(CALLER)
    form.get_by_label("Phone").fill("(202) 555-0199")
    form.get_by_label("Street").fill("Mill Lane 5")
    form.get_by_label("Town").fill("Mill End")
    form.get_by_role("button").click()
    expect(page.get_by_role("heading", name=f"On record: {CALLER}")).to_be_visible()
    page.get_by_role("link", name="Go on with the call").click()


def book_the_visit(page: Page) -> datetime:
    """From the questions to a booked visit of the north van; when it begins."""
    to_booking(page)
    put_on_record(page)
    to_booking(page)
    slot = page.locator(".slots label", has_text="North van").first.locator("input")
    slot.check()
    begins = re.search(r"\d{4}-\d\d-\d\dT[\d:+]+", str(slot.get_attribute("value")))
    assert begins is not None
    page.get_by_role("button", name="Book the visit").click()
    expect(page.locator("h1")).to_contain_text(CALLER)
    expect(page.locator("#confirmation")).to_contain_text("arrival between")
    return datetime.fromisoformat(begins.group())


def to_booking(page: Page) -> None:
    """From the questions by the plan to the free times."""
    page.get_by_role("link", name="Visit plan").last.click()
    expect(page.get_by_role("heading", name="Parts to load")).to_be_visible()
    page.get_by_role("link", name="Book a visit").click()
    expect(page.locator("h1")).to_contain_text("Book a visit for call")


def repair_on_site(page: Page, machine: Machine) -> None:
    """Follow the proposed steps from the arrival until the machine works."""
    page.get_by_role("button", name="I am there").click()
    expect(page.get_by_role("button", name="I am there")).to_have_count(0)
    times: dict[str, int] = {}
    log = page.locator("#log .given-answers li")
    for done in range(STEPS_MAX):
        expect(log).to_have_count(done)
        step = str(page.locator("#now").get_attribute("data-step"))
        before = times.get(step, 0)
        if step in machine.network.repairs:
            machine = machine.after(machine.network.repairs[step], before)
            answer = "works" if machine.works else "still_broken"
        else:
            answer = str(machine.answer(machine.network.observations[step], before).answer)
        times[step] = before + 1
        page.locator(f"#now button.answer[value='{answer}']").click()
        if machine.works:
            break
    expect(page.get_by_text("The check run shows that it works.")).to_be_visible()


def test_job_goes_from_the_first_word_to_the_list_of_the_owner(
    windows: Windows, clock: Clock, machine: Machine
) -> None:
    desk = windows.of("Dispatcher", DESKTOP)
    take_the_call(desk)
    answer_questions(desk, machine, 3)
    begins = book_the_visit(desk)

    clock.now = begins + timedelta(minutes=5)
    van = windows.of("Technician", PHONE)
    expect(van.locator("h1")).to_contain_text("North van")
    van.locator(".visit-line", has_text=CALLER).click()
    repair_on_site(van, machine)
    clock.now += timedelta(minutes=50)
    van.get_by_role("link", name="Close the job").first.click()
    van.get_by_role("button", name="Close the job like this").click()
    expect(van.locator("h1")).to_contain_text("Invoice of job")
    total = van.locator(".invoice tfoot td").inner_text()

    office = windows.of("Owner", DESKTOP)
    office.get_by_role("link", name="Shop", exact=True).click()
    office.get_by_role("link", name="Closed jobs").click()
    row = office.get_by_role("row").filter(has_text=CALLER)
    expect(row).to_contain_text("Repaired")
    expect(row).to_contain_text(total)
    expect(row).to_contain_text("Tarn Holloway")
    row.get_by_role("link", name=CALLER).click()
    expect(office.get_by_role("main")).to_contain_text("Drain pump")
    expect(office.get_by_role("main")).to_contain_text("Wren Ashby")


def test_customer_who_calls_again_is_known_and_may_be_a_call_back(windows: Windows) -> None:
    desk = windows.of("Dispatcher", DESKTOP)

    desk.locator(".call-line", has_text="does the same again").click()

    expect(desk.locator("h1")).to_have_text("Can we help?")
    expect(desk.locator("main .notice")).to_contain_text("May be a call-back")


def test_technician_looks_at_tomorrow_and_loads_for_it(windows: Windows) -> None:
    van = windows.of("Technician", PHONE)

    van.get_by_role("link", name="Day after").click()

    expect(van.locator("h1")).to_contain_text("Tuesday, 03 March")
    expect(van.locator(".visit-line")).to_contain_text("Maren Oakhill")
    expect(van.get_by_role("heading", name="Load list")).to_be_visible()
    van.get_by_role("link", name="Today").click()
    expect(van.locator("h1")).to_contain_text("Today")


def test_call_is_taken_from_signing_in_to_a_visit_without_a_mouse(
    windows: Windows, machine: Machine
) -> None:
    page = windows.of("Dispatcher", DESKTOP)
    press(page, "New call")
    expect(page.get_by_label("Caller", exact=True)).to_be_focused()
    page.keyboard.type(CALLER)  # the first field has focus
    tab_to(page, "Appliance")
    page.keyboard.type("Top-load")
    tab_to(page, "What the caller says")
    page.keyboard.type(WORDS)
    press(page, "Go on to the safety questions")
    expect(page.locator(".danger-question").first).to_be_focused()
    for _ in range(page.locator(".danger-question").count()):
        page.keyboard.press("n")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Can we help?")
    press(page, "Go on")
    expect(page.locator("h1")).to_have_text("What the caller said")
    press(page, "Go on to the questions")
    for given in range(3):
        expect(page.locator(".given-answers li")).to_have_count(given)
        expect(page.locator(".ask")).to_be_focused()
        key = answer_by(page, asked(page, machine)).get_attribute("data-key")
        page.keyboard.press(str(key))
    expect(page.locator(".given-answers li")).to_have_count(3)
    press(page, "Visit plan")
    expect(page.locator("h1")).to_contain_text("Visit plan for call")
    press(page, "Book a visit")
    expect(page.locator("h1")).to_contain_text("Book a visit for call")

    press(page, "Book the visit")  # the earliest time is chosen

    expect(page.locator("h1")).to_have_text(re.compile(rf"Visit \d+: {CALLER}"))


def press(page: Page, name: str) -> None:
    """Go to a link or button by Tab and press Enter."""
    tab_to(page, name)
    page.keyboard.press("Enter")
