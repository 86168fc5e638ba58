"""How often signing in may fail, by address and by login; kept in the memory of this process."""

from collections.abc import Callable
from http import HTTPStatus
from typing import Any

from flask import Flask, Response, request
from flask_limiter import Limiter
from flask_limiter.util import get_remote_address

BY_ADDRESS = "30 per 10 minutes"  # failures; a shop may have one address for everybody
BY_LOGIN = "10 per 10 minutes"  # failures
VIEW = "auth.sign_in"


def login_typed() -> str:
    """Login that is tried, as the store compares logins."""
    return request.form.get("login", "").strip().casefold()


def failed(response: Response) -> bool:
    """Whether the page came again: who is let in is sent elsewhere."""
    return response.status_code != HTTPStatus.SEE_OTHER


def init_limits(app: Flask) -> None:
    """Limit the sign-in page; the blueprint must be registered already."""
    limiter = Limiter(get_remote_address, app=app, storage_uri="memory://", swallow_errors=False)
    for limit, key in ((BY_ADDRESS, get_remote_address), (BY_LOGIN, login_typed)):
        limited = limiter.limit(limit, key_func=key, methods=["POST"], deduct_when=failed)
        view: Callable[..., Any] = app.view_functions[VIEW]
        app.view_functions[VIEW] = limited(view)
