"""What every answer says to the browser: fetch nothing from elsewhere, run nothing of anyone else's, keep no page."""

from __future__ import annotations

from typing import Final

from flask import Flask, Response, g

from webui.assets import csp_hash


def speak(app: Flask, *, style: str, script: str) -> None:
    """Put the headers on every answer; `style` and `script` are the only inline texts that may count."""
    policy = "; ".join(
        [
            "default-src 'none'",
            f"style-src 'self' {csp_hash(style)}",
            f"script-src 'self' {csp_hash(script)}",
            "connect-src 'self'",
            "form-action 'self'",
            "frame-ancestors 'none'",
            "base-uri 'none'",
        ]
    )

    @app.after_request
    def headers(answer: Response) -> Response:
        """Set what is not set already: a file that may be kept says so itself."""
        # Only a page that shows a picture may fetch one, and ours alone.
        bound = f"{policy}; img-src 'self'" if g.get("pictures") else policy
        for name, value in {**_ALWAYS, "Content-Security-Policy": bound}.items():
            answer.headers.setdefault(name, value)
        return answer


_ALWAYS: Final = {
    "X-Content-Type-Options": "nosniff",
    # "no-referrer" would make browsers send "Origin: null" with our own forms; this sends nothing to anyone else.
    "Referrer-Policy": "same-origin",
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
