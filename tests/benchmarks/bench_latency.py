"""From an answer to the next question, with many dispatchers at once, over HTTP.

A real server (``triage serve``, a process of its own) with an SQLite file that holds the demo
shop, and dispatchers with accounts of their own. Each answers every few seconds: the form is
sent, the redirect followed, the page with the ranking read to its end. Call after call is taken;
what lies between (signing in, a new call, safety questions) is measured by itself.

Callers answer as machines drawn from the networks do; with ``--at-random`` as dice do, which no
machine explains and which makes the table of hypotheses grow.

    python -m tests.benchmarks.bench_latency --minutes 10 --write

The dispatchers run on the same machine, in this process, and take some of its time.
"""

import argparse
import contextlib
import html
import http.client
import json
import os
import random
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import numpy as np

from tests.benchmarks.page import write_between
from triage.services.calls.calls import Database
from triage.services.networks.engines import engine_for
from triage.services.people.accounts import PROGRAM, add_person_with_password
from triage.services.people.audit import Stamp
from triage.services.people.passwords import Passwords
from triage.services.people.roles import Person, Role
from triage.simulation.draws import Draws
from triage.simulation.machines import Machine, MachineSource
from webform.config import DATABASE_FILE
from webform.demo import fill

PASSWORD = "twenty telephones ring"
CHEAP = Passwords(passes=1, memory_kib=8, lanes=1)  # signing in is not what is measured
APPLIANCES = ("top_load_washer", "front_load_washer", "electric_dryer", "gas_dryer")
WORDS = (
    "It won't drain, it just hums and the clothes are swimming in it.",
    "It does not spin and bangs around.",
    "It takes for ever to dry and the room gets steamy.",
    "There is no heat at all.",
)
ANSWERS_A_CALL = 12
VOLUNTEERED_MAX = 2
SETTLE_SECONDS = 20.0
TARGET_MS = 150.0
UNEVEN = (0.5, 1.5)  # pauses between answers, as multiples; people keep no beat
HEADING = (
    "| what | times | ms, median | ms, 95 % | ms, 99 % | ms, longest |",
    "|---|---|---|---|---|---|",
)
FORM = re.compile(r"<form\b[^>]*>.*?</form>", re.DOTALL)
ATTRIBUTE = re.compile(r'([\w-]+)="([^"]*)"')
TAG = re.compile(r"<(?:input|button)\b[^>]*>")

Fields = list[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Page:
    """A page that was read: its path and its text."""

    path: str
    text: str

    def fields(self, action: str) -> Fields:
        """Hidden fields of the form that is sent to an address."""
        form = self.form(action)
        return [
            (one["name"], one.get("value", ""))
            for one in self.tags(form)
            if one.get("type") == "hidden" and "name" in one
        ]

    def form(self, action: str) -> str:
        """Text of the form that is sent to an address; empty if there is none."""
        for form in FORM.findall(self.text):
            head = dict(ATTRIBUTE.findall(form.partition(">")[0]))
            if head.get("action", self.path) == action:
                return str(form)
        return ""

    @staticmethod
    def tags(form: str) -> list[dict[str, str]]:
        """Attributes of every input and button of a form."""
        found = (ATTRIBUTE.findall(tag) for tag in TAG.findall(form))
        return [{name: html.unescape(value) for name, value in one} for one in found]


@dataclass(slots=True)
class Line:
    """A browser's connection: keeps its cookie, follows redirects."""

    host: str
    cookie: str = ""
    connection: http.client.HTTPConnection = field(init=False)

    def __post_init__(self) -> None:
        self.connection = http.client.HTTPConnection(self.host, timeout=30)

    def get(self, path: str) -> Page:
        """Read a page."""
        return self._ask("GET", path, None)

    def send(self, path: str, fields: Fields) -> Page:
        """Send a form and read the page it leads to."""
        return self._ask("POST", path, urlencode(fields))

    def _ask(self, method: str, path: str, body: str | None) -> Page:
        headers = {"Cookie": self.cookie}
        if body is not None:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        self.connection.request(method, path, body, headers)
        response = self.connection.getresponse()
        text = response.read().decode()
        for name, value in response.getheaders():
            if name.lower() == "set-cookie":
                self.cookie = value.partition(";")[0]
        if response.status in (302, 303):
            target = urlsplit(response.getheader("Location") or "/")
            return self._ask("GET", target._replace(scheme="", netloc="").geturl(), None)
        if response.status != 200:
            raise RuntimeError(f"{method} {path}: {response.status}\n{text[:500]}")
        return Page(path, text)


@dataclass(slots=True)
class Measured:
    """Seconds that answers and other steps took, and what went wrong."""

    answers: list[tuple[float, float]] = field(default_factory=list)
    others: list[tuple[float, float]] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


class Callers:
    """Machines that are called about, and what their owners answer."""

    def __init__(self, *, at_random: bool) -> None:
        self.at_random = at_random
        self._sources = [MachineSource(engine_for(name)) for name in APPLIANCES]

    def next(self, dispatcher: int, call: int) -> tuple[int, Machine]:
        """Place of the appliance and the machine of a call; the same in every run."""
        draws = Draws((dispatcher, call))
        place = int(draws.uniform("appliance") * len(APPLIANCES))
        return place, self._sources[place].machine(draws)

    def said(self, machine: Machine) -> list[str]:
        """What the caller says unasked, at most two signs."""
        if self.at_random:
            return []
        asked = machine.network.observations.values()
        said = [one.id for one in asked if not one.channel.is_on_site and machine.volunteers(one)]
        return said[:VOLUNTEERED_MAX]

    def answer(self, machine: Machine, name: str, keys: list[str], dice: random.Random) -> str:
        """Answer to a question, one of those that the page has keys for."""
        answer = machine.answer(machine.network.observations[name]).answer
        return dice.choice(keys) if self.at_random or answer not in keys else str(answer)


class Dispatcher(threading.Thread):
    """Somebody who takes call after call, with an answer every ``every`` seconds."""

    def __init__(
        self, host: str, number: int, every: float, until: float, callers: Callers, out: Measured
    ) -> None:
        super().__init__(name=f"dispatcher {number}", daemon=True)
        self.line, self.number, self.every = Line(host), number, every
        self.until, self.callers, self.out = until, callers, out
        self.random, self.calls = random.Random(number), 0

    def run(self) -> None:
        """Work until the time is over."""
        try:
            time.sleep(self.random.uniform(0.0, 2.0 * self.every))
            page = self._timed(self.out.others, self.sign_in)
            while time.monotonic() < self.until:
                page = self._call(page)
        except Exception as error:
            self.out.faults.append(f"{self.name}: {error!r}")

    def sign_in(self) -> Page:
        page = self.line.get("/sign-in")
        typed = [("login", f"desk{self.number}"), ("password", PASSWORD)]
        return self.line.send("/sign-in", page.fields("/sign-in") + typed)

    def _call(self, page: Page) -> Page:
        """One call from its first word to its last answer."""
        place, machine = self.callers.next(self.number, self.calls)
        self.calls += 1
        said = self.callers.said(machine)
        page = self._timed(self.out.others, lambda: self.open_call(place, said))
        for _ in range(ANSWERS_A_CALL):
            begun = time.monotonic()
            action = page.path.partition("?")[0].replace("/questions", "/answer")
            form = page.form(action)
            keys = [one["value"] for one in page.tags(form) if one.get("name") == "answer"]
            if not keys or begun > self.until:
                break
            hidden = page.fields(action)
            asked = dict(hidden)["observation"]
            answer = self.callers.answer(machine, asked, keys, self.random)
            fields = [*hidden, ("answer", answer)]
            page = self._timed(self.out.answers, partial(self.line.send, action, fields))
            if not page.path.endswith("/questions"):
                raise RuntimeError(f"an answer led to {page.path}")
            pause = self.every * self.random.uniform(*UNEVEN)
            time.sleep(max(0.0, begun + pause - time.monotonic()))
        return page

    def open_call(self, place: int, said: list[str]) -> Page:
        page = self.line.get("/calls/new")
        report = [
            ("caller", f"Caller {self.random.randrange(1000)}"),
            ("network", APPLIANCES[place]),
            ("words", WORDS[place]),
        ]
        page = self.line.send("/calls/new", page.fields("/calls/new") + report)
        form = page.form(page.path)
        dangers = {one["name"] for one in page.tags(form) if one.get("type") == "radio"}
        fields = page.fields(page.path) + [(name, "no") for name in sorted(dangers)]
        page = self.line.send(page.path, fields)
        if page.path.endswith("/help"):
            page = self.line.send(page.path, page.fields(page.path))
        ticked = [("observations", name) for name in said]
        page = self.line.send(page.path, page.fields(page.path) + ticked)
        if not page.path.endswith("/questions"):
            raise RuntimeError(f"a new call led to {page.path}, not to its questions")
        return page

    def _timed(self, times: list[tuple[float, float]], step: Callable[[], Page]) -> Page:
        begun = time.monotonic()
        page = step()
        times.append((begun, time.monotonic() - begun))
        return page


@contextlib.contextmanager
def serving(folder: Path) -> Iterator[tuple[str, int]]:
    """A server in a process of its own; its host with port, and its process id."""
    command = [sys.executable, "-c", "from triage.cli.main import main; main()"]
    words = ["serve", "--data", str(folder), "--port", "0", "--json"]
    with subprocess.Popen([*command, *words], stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        said = json.loads(server.stdout.readline())
        try:
            yield urlsplit(said["url"]).netloc, server.pid
        finally:
            server.terminate()


def prepare(folder: Path, dispatchers: int) -> None:
    """Fill a data folder with the demo shop and the accounts of the dispatchers."""
    now = datetime.now(UTC)
    database = Database.at(folder / DATABASE_FILE)
    for number in range(dispatchers):
        person = Person(f"desk{number}", f"Desk {number}", Role.DISPATCHER)
        add_person_with_password(database, person, PASSWORD, CHEAP, Stamp(now, PROGRAM))
    fill(database, now)
    database.close()


def cpu_seconds(process: int) -> float:
    """Seconds of processor that a process has used."""
    told = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")


def measure(arguments: argparse.Namespace) -> str:
    """Run the dispatchers and give the table of what they met."""
    out, callers = Measured(), Callers(at_random=arguments.at_random)
    with tempfile.TemporaryDirectory() as name:
        prepare(Path(name), arguments.dispatchers)
        with serving(Path(name)) as (host, process):
            first = Dispatcher(host, 0, arguments.every, 0.0, callers, Measured())
            first.sign_in()
            for place in range(len(APPLIANCES)):  # a shop has been open for a while
                first.open_call(place, [])
            begin = time.monotonic() + arguments.settle
            until = begin + 60.0 * arguments.minutes
            team = [
                Dispatcher(host, number, arguments.every, until, callers, out)
                for number in range(arguments.dispatchers)
            ]
            for one in team:
                one.start()
            time.sleep(arguments.settle)
            used, load = cpu_seconds(process), os.getloadavg()[0]
            for one in team:
                one.join()
            used = cpu_seconds(process) - used
    for fault in out.faults:
        print(fault, file=sys.stderr)
    answers = [1e3 * seconds for at, seconds in out.answers if at >= begin]
    others = [1e3 * seconds for at, seconds in out.others if at >= begin]
    rows = [_row("answer to screen", answers), _row("new call to first question", others)]
    about = (
        f"{arguments.dispatchers} dispatchers, an answer every {arguments.every:g} s, "
        f"{arguments.minutes:g} min; {len(out.faults)} faults. The server used "
        f"{100 * used / (60 * arguments.minutes):.0f} % of one processor; load of the machine at "
        f"the beginning {load:.1f}, at the end {os.getloadavg()[0]:.1f}, on {os.cpu_count()} "
        f"processors. Target: 95 % under {TARGET_MS:g} ms."
    )
    return "\n".join([about, "", *HEADING, *rows])


def _row(what: str, times: list[float]) -> str:
    if not times:
        return f"| {what} | 0 | | | | |"
    median, high, higher = np.percentile(times, [50, 95, 99])
    return (
        f"| {what} | {len(times)} | {median:.0f} | {high:.0f} | {higher:.0f} | {max(times):.0f} |"
    )


def main() -> None:
    """Measure and print, or write into docs/benchmarks.md."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--dispatchers", type=int, default=20)
    parser.add_argument("--every", type=float, default=5.0, help="seconds between two answers")
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--settle", type=float, default=SETTLE_SECONDS, help="seconds left out")
    parser.add_argument("--at-random", action="store_true", help="answers by dice")
    parser.add_argument("--write", action="store_true", help="write into docs/benchmarks.md")
    arguments = parser.parse_args()
    table = measure(arguments)
    print(table)
    if arguments.write:
        write_between("benchmarks.md", "latency", table)


if __name__ == "__main__":
    main()
