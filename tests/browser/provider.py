"""An OpenID Connect provider of our own on this machine: discovery, code flow with PKCE, keys, signed tokens.

It stands on the libraries that the app's sign-in comes with (Starlette, uvicorn, joserfc) and follows
OpenID Connect Core 1.0, sections 3.1.2 and 3.1.3, and RFC 7636 (from memory). It refuses what does not fit.
"""

from __future__ import annotations

import base64
import hashlib
import secrets
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import escape
from typing import Any
from urllib.parse import parse_qs, urlencode

import uvicorn
from joserfc import jwt
from joserfc.jwk import RSAKey
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

CLIENT, CLIENT_SECRET = "test-days", "only-for-this-test"


@dataclass
class Provider:
    """`people` can sign in, by the name on their button: subject and e-mail; tests change them."""

    issuer: str
    redirect_uri: str
    people: dict[str, dict[str, str]]
    codes: dict[str, dict[str, str]] = field(default_factory=dict)
    refused: list[str] = field(default_factory=list)
    key: RSAKey = field(default_factory=lambda: RSAKey.generate_key(2048, {"kid": "1", "use": "sig"}))

    def app(self) -> Starlette:
        return Starlette(
            routes=[
                Route("/.well-known/openid-configuration", self.discovery),
                Route("/authorize", self.authorize),
                Route("/consent", self.consent),
                Route("/token", self.token, methods=["POST"]),
                Route("/jwks", self.jwks),
                Route("/leave", self.leave),
            ]
        )

    async def discovery(self, request: Request) -> Response:
        place = self.issuer
        return JSONResponse(
            {
                "issuer": place, "authorization_endpoint": f"{place}/authorize",
                "token_endpoint": f"{place}/token", "jwks_uri": f"{place}/jwks",
                "end_session_endpoint": f"{place}/leave", "response_types_supported": ["code"],
                "subject_types_supported": ["public"], "scopes_supported": ["openid", "email", "profile"],
                "id_token_signing_alg_values_supported": ["RS256"],
                "token_endpoint_auth_methods_supported": ["client_secret_basic", "client_secret_post"],
                "code_challenge_methods_supported": ["S256"],
            }
        )  # fmt: skip

    async def jwks(self, request: Request) -> Response:
        return JSONResponse({"keys": [self.key.as_dict(private=False)]})

    async def authorize(self, request: Request) -> Response:
        asked = dict(request.query_params)
        wanted = {"client_id": CLIENT, "redirect_uri": self.redirect_uri, "response_type": "code"}
        if any(asked.get(name) != value for name, value in wanted.items()):
            return self._refuse("a request of another client")
        if asked.get("code_challenge_method") != "S256" or "openid" not in asked.get("scope", "").split():
            return self._refuse("a request without PKCE or without the scope openid")
        links = "".join(
            f'<p><a href="/consent?{escape(urlencode({**asked, "person": name}))}">{escape(name)}</a></p>'
            for name in self.people
        )
        return HTMLResponse(f"<h1>Who are you?</h1>{links}")

    async def consent(self, request: Request) -> Response:
        asked = dict(request.query_params)
        code = secrets.token_urlsafe(16)
        self.codes[code] = asked
        back = urlencode({"code": code, "state": asked["state"]})
        return RedirectResponse(f"{self.redirect_uri}?{back}", status_code=302)

    async def token(self, request: Request) -> Response:
        form = {name: values[0] for name, values in parse_qs((await request.body()).decode()).items()}
        if not self._is_client(request, form):
            return self._refuse("a client with another secret", 401)
        asked = self.codes.pop(form.get("code", ""), None)
        if asked is None or form.get("redirect_uri") != asked["redirect_uri"]:
            return self._refuse("a code that was not given out, or twice")
        digest = hashlib.sha256(form.get("code_verifier", "").encode()).digest()
        if base64.urlsafe_b64encode(digest).rstrip(b"=").decode() != asked["code_challenge"]:
            return self._refuse("a verifier that does not fit")
        access = secrets.token_urlsafe(16)
        body = {
            "access_token": access,
            "token_type": "Bearer",
            "expires_in": 300,
            "id_token": self._id(asked),
        }
        return JSONResponse(body)

    def _id(self, asked: dict[str, str]) -> str:
        now = int(time.time())
        claims: dict[str, Any] = {"iss": self.issuer, "aud": CLIENT, "iat": now, "exp": now + 300}
        claims |= {"nonce": asked["nonce"], **self.people[asked["person"]]}
        return jwt.encode({"alg": "RS256", "kid": "1"}, claims, self.key)

    def _is_client(self, request: Request, form: dict[str, str]) -> bool:
        basic = base64.b64encode(f"{CLIENT}:{CLIENT_SECRET}".encode()).decode()
        by_form = (form.get("client_id"), form.get("client_secret")) == (CLIENT, CLIENT_SECRET)
        return request.headers.get("authorization") == f"Basic {basic}" or by_form

    async def leave(self, request: Request) -> Response:
        return RedirectResponse(request.query_params["post_logout_redirect_uri"], status_code=302)

    def _refuse(self, why: str, status: int = 400) -> Response:
        self.refused.append(why)
        return JSONResponse({"error": "invalid_request"}, status_code=status)


@contextmanager
def provided(redirect_uri: str, people: dict[str, dict[str, str]]) -> Iterator[Provider]:
    """A running provider on a free port of this machine."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    made = Provider(f"http://127.0.0.1:{port}", redirect_uri, people)
    server = uvicorn.Server(uvicorn.Config(made.app(), host="127.0.0.1", port=port, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 30
    while not server.started:
        assert time.monotonic() < until, "the provider did not start"
        time.sleep(0.02)
    try:
        yield made
    finally:
        server.should_exit = True
        thread.join(10)
