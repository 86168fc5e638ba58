"""Texts that a browser sends, without the character NUL, which no database keeps.

No key of a keyboard gives it; it comes with what is pasted from elsewhere, or from somebody who
tries. Every form and every address is read through here, so that no form has to think of it. The
API refuses it by its models (``webform.api.models.base``).
"""

from collections.abc import Iterable, Mapping
from typing import Any

from flask import Flask, Request, abort, request
from werkzeug.datastructures import ImmutableMultiDict, MultiDict

NUL = "\x00"
NOT_FOUND = 404


def without_nul(text: str) -> str:
    r"""Text without NUL.

    >>> without_nul("Ada\x00 Brook")
    'Ada Brook'
    """
    return text.replace(NUL, "")


class SentTexts(ImmutableMultiDict[str, Any]):
    """Fields of a form, or of an address, cleaned as they come in; files are left alone."""

    def __init__(self, sent: Mapping[str, Any] | Iterable[tuple[str, Any]] | None = None) -> None:
        pairs = MultiDict(sent).items(multi=True)
        super().__init__([(_cleaned(name), _cleaned(value)) for name, value in pairs])


class SentRequest(Request):
    """Request whose texts are clean."""

    parameter_storage_class = SentTexts


def init_texts_sent(app: Flask) -> None:
    """Read what is sent without NUL, and know no page whose address has one."""
    app.request_class = SentRequest

    @app.before_request
    def refuse_nul() -> None:
        if NUL in request.path:
            abort(NOT_FOUND)


def _cleaned(value: Any) -> Any:
    return without_nul(value) if isinstance(value, str) else value
