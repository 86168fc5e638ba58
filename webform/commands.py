"""Commands that the web form adds to ``triage``: ``serve`` for a shop, ``demo`` to try it out."""

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from webform.config import Config

LOOPBACK = ("127.0.0.1", "localhost", "::1")
PORT = 8765
PORTS_TRIED = 20
port_option = click.option(
    "--port", type=click.IntRange(0, 65535), default=PORT, show_default=True, help="Port to use."
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print the address as JSON.")


@click.command()
@click.option(
    "--data",
    type=click.Path(path_type=Path, file_okay=False),
    envvar="TRIAGE_DATA",
    required=True,
    help="Folder that holds the calls and the secret key; made if it is not there.",
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
    TRIAGE_HTTPS, TRIAGE_HOSTS. Nobody has to sign in yet, so listen on this machine only, or behind
    a proxy that asks who is there.
    """
    _one_thread_for_matrices()
    # Here, not at the top: reading the help must not wait for Flask and SQLAlchemy.
    from webform.config import Config

    settings = {**os.environ, "TRIAGE_DATA": str(data)}
    if host in LOOPBACK:
        settings = {"TRIAGE_HOSTS": ",".join(LOOPBACK), "TRIAGE_HTTPS": "no", **settings}
    if plain_http:
        settings["TRIAGE_HTTPS"] = "no"
    _serve(Config.from_environment(settings), host, [port], opens_browser, as_json)


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
    from webform.demo import demo_config, prepare_demo  # late, as above

    folder = data or Path(click.get_app_dir("washer-triage")) / "demo"
    prepare_demo(folder, reset=reset)
    ports = range(port, min(port + PORTS_TRIED, 65536)) if port else [0]
    _serve(demo_config(folder), LOOPBACK[0], ports, not no_open, as_json)


def _one_thread_for_matrices() -> None:
    """Set before numpy is imported, which reads it once; see ``triage.cli.main``."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def _serve(
    config: "Config", host: str, ports: "range | list[int]", opens_browser: bool, as_json: bool
) -> None:
    from webform.app import create_app  # late, as above
    from webform.server import listen, run

    listening = listen(create_app(config), host, ports)
    folder = str(config.data_folder)
    if as_json:
        click.echo(json.dumps({"url": listening.url, "data": folder}))
    else:
        if listening.port != ports[0] and ports[0]:
            click.echo(f"Port {ports[0]} is in use; taking {listening.port}.")
        click.echo(f"The form is at {listening.url}")
        click.echo(f"Calls are kept in {folder}. Stop with Ctrl+C.")
    run(listening, opens_browser=opens_browser)
