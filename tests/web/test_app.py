"""Claims about the app itself: settings, key, headers, errors, vendored files."""

import hashlib
import re
import stat
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask
from hypothesis import given
from hypothesis import strategies as st

from tests.web.conftest import CHEAP, make_app, signed_in_visitor
from tests.web.page import Visitor
from tests.web.taking_calls import begin
from triage.services.people.passwords import STRONG
from webform.app import create_app
from webform.config import Config, ConfigError
from webform.desk import EXTENSION
from webform.formatting import bar, minutes, percent
from webform.secret_key import secret_key

ROOT = Path(__file__).parents[2]
VENDORED = [ROOT / "webform" / "static", ROOT / "tests" / "browser"]


def test_settings_are_read_from_the_environment() -> None:
    environ = {
        "TRIAGE_DATA": "/srv/shop",
        "TRIAGE_SHOP": "A shop",
        "TRIAGE_TIME_ZONE": "America/Chicago",
        "TRIAGE_HTTPS": "no",
        "TRIAGE_HOSTS": "shop.example, localhost",
    }

    config = Config.from_environment(environ)

    assert (config.data_folder, config.shop) == (Path("/srv/shop"), "A shop")
    assert (str(config.time_zone), config.uses_https) == ("America/Chicago", False)
    assert config.hosts == ("shop.example", "localhost")
    assert config.database_address == "sqlite:////srv/shop/calls.sqlite"


def test_settings_are_safe_where_nothing_is_said() -> None:
    config = Config.from_environment({"TRIAGE_DATA": "/srv/shop"})

    assert config.uses_https
    assert not config.is_demo


def test_all_problems_with_settings_are_reported_at_once(tmp_path: Path) -> None:
    a_file = tmp_path / "file"
    a_file.touch()
    environ: Mapping[str, str] = {
        "TRIAGE_DATA": str(a_file),
        "TRIAGE_TIME_ZONE": "America/Chicgo",
        "TRIAGE_HTTPS": "perhaps",
        "TRIAGE_DATABASE_URL": "calls.db",
        "TRIAGE_PROXY": "the proxy",
        "TRIAGE_API_LIMIT": "now and then",
    }

    with pytest.raises(ConfigError, match='Did you mean "America/Chicago"') as caught:
        Config.from_environment(environ)

    assert sorted(problem.split(":")[0] for problem in caught.value.problems) == sorted(environ)


def test_settings_without_a_data_folder_are_refused() -> None:
    with pytest.raises(ConfigError, match="TRIAGE_DATA"):
        Config.from_environment({})


def test_secret_key_is_made_once_and_is_its_owners_only(tmp_path: Path) -> None:
    key = secret_key(tmp_path)

    file = tmp_path / "secret.key"
    assert secret_key(tmp_path) == key
    assert len(key) >= 32
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_damaged_secret_key_is_refused(tmp_path: Path) -> None:
    (tmp_path / "secret.key").write_bytes(b"short")

    with pytest.raises(ConfigError, match="Remove the file"):
        secret_key(tmp_path)


def test_pages_allow_nothing_inside_and_are_not_kept(app: Flask) -> None:
    headers = app.test_client().get("/sign-in").headers

    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert headers["Cache-Control"] == "no-store"
    assert headers["X-Content-Type-Options"] == "nosniff"


def test_app_of_a_shop_spends_on_passwords_what_is_recommended(tmp_path: Path) -> None:
    app = create_app(Config(data_folder=tmp_path))

    assert app.extensions[EXTENSION].passwords is STRONG


def test_session_cookie_is_hidden_from_scripts_and_secure_on_https(tmp_path: Path) -> None:
    client = create_app(Config(data_folder=tmp_path)).test_client()

    cookie = client.get("/sign-in", base_url="https://localhost").headers["Set-Cookie"]

    assert {"HttpOnly", "Secure", "SameSite=Lax"} <= set(cookie.split("; "))


def test_other_host_names_are_refused_where_hosts_are_set(tmp_path: Path) -> None:
    client = create_app(Config(data_folder=tmp_path, hosts=("localhost",))).test_client()

    assert client.get("/sign-in", base_url="https://localhost").status_code == 200
    assert client.get("/sign-in", base_url="https://elsewhere.example").status_code == 400


def test_demo_marks_every_page_as_invented(tmp_path: Path) -> None:
    app = create_app(Config(data_folder=tmp_path, is_demo=True, uses_https=False, shop="A shop"))

    for path in ("/", "/sign-in", "/nowhere"):
        assert "are invented" in app.test_client().get(path, follow_redirects=True).text


def test_fault_in_the_program_gives_a_page_without_details(app: Flask, visitor: Visitor) -> None:
    app.testing = False
    app.view_functions["checks.check_list"] = lambda: 1 / 0

    page = visitor.open("/checks")

    assert page.status == 500
    assert "What was recorded before is kept" in page.text
    assert "ZeroDivisionError" not in page.text


def test_post_that_is_too_long_gives_a_page(visitor: Visitor) -> None:
    page = visitor.send(visitor.open("/calls/new"), {"caller": "x", "words": "w" * 200_000})

    assert page.status == 413
    assert "too long" in page.text


def test_call_opened_before_midnight_is_listed_while_it_is_open(tmp_path: Path) -> None:
    first = create_app(
        Config(data_folder=tmp_path, uses_https=False),
        clock=lambda: datetime(2026, 3, 1, 23, 0, tzinfo=UTC),
        passwords=CHEAP,
    )
    begin(signed_in_visitor(first), caller="Night caller")

    page = signed_in_visitor(make_app(tmp_path)).open("/")

    assert "Night caller" in page.text
    assert "Sun 01 Mar, 23:00" in page.text


@pytest.mark.parametrize("folder", VENDORED, ids=lambda folder: folder.name)
def test_vendored_files_are_the_ones_that_were_checked(folder: Path) -> None:
    table = (folder / "VENDORED.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `([^`]+)` .* `([0-9a-f]{64})` \|$", table, re.MULTILINE)

    found = {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name, _ in rows}

    assert rows
    assert found == dict(rows)


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.004, "under 1 %"), (0.5, "50 %"), (0.995, "over 99 %"), (1.0, "over 99 %")],
)
def test_percent_never_says_nought_or_a_hundred(value: float, text: str) -> None:
    assert percent(value).replace("\u00a0", " ") == text


@given(st.floats(min_value=0.0, max_value=1.0))
def test_bar_is_a_length_in_percent(probability: float) -> None:
    assert 0.0 <= float(bar(probability)) <= 100.0


@given(st.floats(min_value=0.01, max_value=1000.0))
def test_minutes_hold_no_raw_number(value: float) -> None:
    assert re.fullmatch(r"(under half a|half a|[\d.]{1,4}) minutes?", minutes(value))
