"""An app on a real server in a thread of the tests, stopped so that nothing is left open."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from flask import Flask

from webform.server import listen


@contextmanager
def serving(app: Flask, proxy: str = "") -> Iterator[str]:
    """Serve an app on a free port of this machine; gives its address."""
    listening = listen(app, "127.0.0.1", [0], proxy=proxy)
    server: Any = listening.server

    def stop() -> None:  # in the thread of the server, which then has nothing left to wait for
        for channel in tuple(server.active_channels.values()):
            channel.handle_close()
        server.close()

    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield listening.url.rstrip("/")
    finally:
        server.task_dispatcher.shutdown()  # answers under way are sent first
        server.trigger.pull_trigger(stop)
        thread.join(timeout=10)
