"""Commands that the web form adds to ``triage``: ``serve`` for a shop, ``demo`` to try it out."""

import json
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from webform.data_folder import config_of, data_option

if TYPE_CHECKING:
    from flask import Flask

    from webform.config import Config

LOOPBACK = ("127.0.0.1", "localhost", "::1")
PORT = 8765
PORTS_TRIED = 20
port_option = click.option(
    "--port", type=click.IntRange(0, 65535), default=PORT, show_default=True, help="Port to use."
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print the address as JSON.")


@click.command()
@data_option(
    "Folder that holds the calls and the secret key; made if it is not there.", exists=False
)
@click.option("--host", default=LOOPBACK[0], show_default=True, help="Address to listen on.")
@port_option
@click.option(
    "--plain-http", is_flag=True, help="Browsers on other machines reach the form without https."
)
@click.option("--open", "opens_browser", is_flag=True, help="Open the form in a browser.")
@json_option
def serve(
    data: Path, host: str, port: int, plain_http: bool, opens_browser: bool, as_json: bool
) -> None:
    """Serve the web form from a data folder.

    More settings are read from the environment: TRIAGE_DATABASE_URL, TRIAGE_TIME_ZONE, TRIAGE_SHOP,
    TRIAGE_HTTPS, TRIAGE_HOSTS, TRIAGE_PROXY, TRIAGE_API_LIMIT. People sign in with login and
    password. The first start at a terminal makes the owner and shows a one-time password; "triage
    people" adds others. To be reached from other machines, let a proxy with https ask this one
    (docs/how-to/run-on-a-small-host.md).
    """
    _one_thread_for_matrices()
    standing_in = {}
    if host in LOOPBACK and not os.environ.get("TRIAGE_PROXY"):
        standing_in = {"TRIAGE_HOSTS": ",".join(LOOPBACK), "TRIAGE_HTTPS": "no"}
    config = config_of(data, standing_in, {"TRIAGE_HTTPS": "no"} if plain_http else {})
    _serve(config, host, [port], opens_browser, as_json)


@click.command()
@click.option(
    "--data",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder of the demo; one of this program's own if it is left out.",
)
@port_option
@click.option("--no-open", is_flag=True, help="Do not open a browser.")
@click.option("--reset", is_flag=True, help="Throw the demo's calls away and make them anew.")
@json_option
def demo(data: Path | None, port: int, no_open: bool, reset: bool, as_json: bool) -> None:
    """Open a demo shop with invented calls on this machine."""
    _one_thread_for_matrices()
    # Here, not at the top: reading the help must not wait for Flask and SQLAlchemy.
    from webform.demo import demo_config, prepare_demo

    folder = data or Path(click.get_app_dir("washer-triage")) / "demo"
    prepare_demo(folder, reset=reset, learns=True)
    ports = range(port, min(port + PORTS_TRIED, 65536)) if port else [0]
    _serve(demo_config(folder), LOOPBACK[0], ports, not no_open, as_json)


def _one_thread_for_matrices() -> None:
    """Set before numpy is imported, which reads it once; see ``triage.cli.main``."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def _serve(
    config: "Config", host: str, ports: "range | list[int]", opens_browser: bool, as_json: bool
) -> None:
    from webform.app import create_app  # late, as above
    from webform.desk import desk
    from webform.server import listen, run

    app = create_app(config)
    listening = listen(app, host, ports, proxy=config.proxy)
    folder = str(config.data_folder)
    if as_json:
        click.echo(json.dumps({"url": listening.url, "data": folder, **_people_json(app, config)}))
    else:
        if listening.port != ports[0] and ports[0]:
            click.echo(f"Port {ports[0]} is in use; taking {listening.port}.")
        click.echo(f"The form is at {listening.url}")
        click.echo(f"Calls are kept in {folder}. Stop with Ctrl+C.")
        _tell_who_may_sign_in(app, config)
    with app.app_context():
        settings = desk().settings()
    run(listening, settings, opens_browser=opens_browser)


def _tell_who_may_sign_in(app: "Flask", config: "Config") -> None:
    """Print the demo's passwords, or that of the first owner; that one to a terminal only.

    What is printed elsewhere, such as under a service manager, is kept in a log.
    """
    from webform.demo_people import DEMO_PEOPLE
    from webform.first_start import ADD, TELL, first_owner, needs_owner

    if config.is_demo:
        click.echo("Sign in as one of these invented people:")
        for person in DEMO_PEOPLE:
            click.echo(f"  {person.title:<10}  login {person.login:<6}  password {person.password}")
    elif needs_owner(app) and sys.stdout.isatty():
        made = first_owner(app)
        click.echo(f"\n{TELL.format(login=made.account.login, password=made.password)}")
    elif needs_owner(app):
        click.echo(ADD.format(folder=config.data_folder))


def _people_json(app: "Flask", config: "Config") -> Mapping[str, Any]:
    from webform.demo_people import DEMO_PEOPLE
    from webform.first_start import needs_owner

    if config.is_demo:
        people = [{"login": one.login, "password": one.password} for one in DEMO_PEOPLE]
        return {"needs_owner": False, "people": people}
    return {"needs_owner": needs_owner(app), "people": []}
