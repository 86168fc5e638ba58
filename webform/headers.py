"""Response headers: what a page may load, where it may send, and that nothing of it is kept."""

from flask import Flask, Response, request

# Scripts and styles come from files of this program only; nothing is allowed inside a page.
CONTENT_SECURITY_POLICY = "; ".join(
    [
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    ]
)

FOR_ALL = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # Not "no-referrer": on https the token of a form is checked together with the referrer.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


def add_headers(response: Response) -> Response:
    """Add the headers of every response; a page with customers in it is never kept by a browser."""
    response.headers.update(FOR_ALL)
    if request.endpoint != "static":
        response.headers["Cache-Control"] = "no-store"
    if request.is_secure:
        response.headers["Strict-Transport-Security"] = "max-age=31536000"
    # A live update may end at another address than the one in the address bar.
    if "HX-Request" in request.headers and request.method == "GET" and response.status_code == 200:
        response.headers["HX-Replace-Url"] = request.full_path.rstrip("?")
    return response


def init_headers(app: Flask) -> None:
    """Add the headers to every response of the app."""
    app.after_request(add_headers)
