"""Run the web form with waitress on this machine."""

import errno
import signal
import threading
import webbrowser
from collections.abc import Sequence
from dataclasses import dataclass
from types import FrameType

from flask import Flask
from waitress.server import create_server

from triage.errors import TriageError
from triage.services.call_board import warm_up

THREADS = 8  # a request holds a thread for some tens of milliseconds
PORT_MAX = 65535


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


def listen(app: Flask, host: str, ports: Sequence[int]) -> Listening:
    """Listen on the first free port.

    Raises
    ------
    PortError
        None of the ports is free, or the host is not this machine's.
    """
    for port in ports:
        try:
            server = create_server(app, host=host, port=port, threads=THREADS, ident=None)
        except OSError as error:
            if error.errno == errno.EADDRINUSE:
                continue
            raise PortError(host, [port], error.strerror or "not allowed") from None
        shown = f"[{host}]" if ":" in host else host
        taken = int(server.effective_port)
        return Listening(server, f"http://{shown}:{taken}/", taken)
    raise PortError(host, ports, "in use")


def run(listening: Listening, *, opens_browser: bool) -> None:
    """Serve until the program is told to stop; ranks once beforehand, in the background."""
    signal.signal(signal.SIGTERM, _stop)
    threading.Thread(target=warm_up, name="warm-up", daemon=True).start()
    if opens_browser:
        threading.Thread(target=webbrowser.open, args=[listening.url], daemon=True).start()
    listening.server.run()  # type: ignore[attr-defined]


def _stop(number: int, frame: FrameType | None) -> None:
    raise SystemExit(0)
