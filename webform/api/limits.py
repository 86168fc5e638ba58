"""How often a program may ask, by its token; counted in the memory of this process."""

import hashlib

from flask import Flask, request
from flask_limiter import Limiter

from webform.api.operations import bp


def token_sent() -> str:
    """Digest of the token that came with a request; who has none is refused before it counts."""
    secret = (request.authorization.token if request.authorization else None) or ""
    return hashlib.sha256(secret.encode()).hexdigest()


def init_limits(app: Flask, limit: str) -> None:
    """Limit every operation together; the answer tells how much is left (docs/api.md)."""
    limiter = Limiter(
        token_sent,
        app=app,
        storage_uri="memory://",
        key_prefix="api",
        headers_enabled=True,
        retry_after="delta-seconds",
        swallow_errors=False,
    )
    limiter.shared_limit(limit, scope="api")(bp)
