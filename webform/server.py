"""Run the web form with waitress on this machine."""

import errno
import signal
import socket
import threading
import webbrowser
from collections.abc import Sequence
from dataclasses import dataclass
from types import FrameType
from typing import Any

from flask import Flask
from waitress.server import create_server

from triage.errors import TriageError
from triage.planning.shop.settings import ShopSettings
from triage.services.calls.board import warm_up

THREADS = 8  # a request holds a thread for some tens of milliseconds
PORT_MAX = 65535
FORWARDED = {"x-forwarded-for", "x-forwarded-proto", "x-forwarded-host"}


class PortError(TriageError):
    """Raised when the program cannot listen where it was told to."""

    def __init__(self, host: str, ports: Sequence[int], reason: str) -> None:
        self.host, self.ports = host, tuple(ports)
        shown = str(ports[0]) if len(ports) == 1 else f"{ports[0]} to {ports[-1]}"
        super().__init__(
            f"Cannot listen on {host}, port {shown}: {reason}. "
            "Choose another with --port, or stop what uses it."
        )


@dataclass(frozen=True, slots=True)
class Listening:
    """A server that listens, and the address at which browsers find it."""

    server: object
    url: str
    port: int


def listen(app: Flask, host: str, ports: Sequence[int], *, proxy: str = "") -> Listening:
    """Listen on the first free port; ``proxy`` is the address whose word is taken for others'.

    Raises
    ------
    PortError
        None of the ports is free, or the host is not this machine's.
    """
    for port in ports:
        try:
            bound = _bound(host, port)
        except OSError as error:
            if error.errno == errno.EADDRINUSE:
                continue
            raise PortError(host, [port], error.strerror or "not allowed") from None
        server = create_server(app, sockets=[bound], threads=THREADS, ident=None, **_trust(proxy))
        taken = int(bound.getsockname()[1])
        shown = f"[{host}]" if ":" in host else host
        return Listening(server, f"http://{shown}:{taken}/", taken)
    raise PortError(host, ports, "in use")


def _trust(proxy: str) -> dict[str, Any]:
    """Words for waitress: whose headers about the browser are believed; of others none are."""
    if not proxy:
        return {"clear_untrusted_proxy_headers": True}
    return {
        "trusted_proxy": proxy,
        "trusted_proxy_headers": FORWARDED,
        "clear_untrusted_proxy_headers": True,
    }


def _bound(host: str, port: int) -> socket.socket:
    """Socket on a port; waitress itself would leave a socket open where the port is in use."""
    family, kind, protocol, _, address = socket.getaddrinfo(
        host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
    )[0]
    bound = socket.socket(family, kind, protocol)
    try:
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind(address)
    except OSError:
        bound.close()
        raise
    return bound


def run(listening: Listening, settings: ShopSettings, *, opens_browser: bool) -> None:
    """Serve until the program is told to stop; ranks once beforehand, in the background.

    ``settings`` of the shop are those to rank with.
    """
    signal.signal(signal.SIGTERM, _stop)
    threading.Thread(target=warm_up, args=[settings], name="warm-up", daemon=True).start()
    if opens_browser:
        threading.Thread(target=webbrowser.open, args=[listening.url], daemon=True).start()
    listening.server.run()  # type: ignore[attr-defined]


def _stop(number: int, frame: FrameType | None) -> None:
    raise SystemExit(0)
