"""Recalls of the machine at hand, above every page of its call and of its job."""

from typing import Any

from flask import Flask, request

from triage.errors import UnknownCallError
from triage.services.shop.plates import Recall, recalls_of
from webform.desk import desk
from webform.session import signed_in

CALL_NUMBER = "call_id"  # name in the addresses of such pages


def recalls() -> tuple[Recall, ...]:
    """Recalls to show on the page that is being built; none where it is about no call."""
    call_id = (request.view_args or {}).get(CALL_NUMBER)
    if call_id is None or signed_in() is None:
        return ()
    try:
        return recalls_of(desk().database, call_id)
    except UnknownCallError:
        return ()  # the page says so itself


def init_recalls(app: Flask) -> None:
    """Give every page the recalls it is to show."""

    def given() -> dict[str, Any]:
        return {"recalls": recalls()}

    app.context_processor(given)
