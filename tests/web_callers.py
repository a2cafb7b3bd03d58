"""People at the app, as browsers without scripts: they load a page, and send its form with the token that it bears."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx2 import Response

from subbase.journal import accounts as who
from subbase.journal.accounts import Account, Role
from subbase.journal.store import Journal, open_journal
from subbase.web.app import create_app
from subbase.web.settings import Settings

AT_HOME = "http://127.0.0.1:8024"
PASSWORD = "seven dry conductors"
ADDRESS = "203.0.113.7"
"""Of somebody far away (RFC 5737: kept for documents)."""


def at_home(app: FastAPI, **more: Any) -> TestClient:
    """Return a client that sends the token of its forms with everything that it sends."""
    client = TestClient(app, base_url=AT_HOME, **more)
    client.headers["X-Form-Token"] = form_token(client)
    return client


def form_token(client: TestClient, path: str = "/") -> str:
    """Return the token that the forms of a page bear."""
    found = re.search(r'name="csrf" value="([^"]+)"', client.get(path).text)
    assert found is not None
    return found[1]


@dataclass
class Browser:
    """One browser: its own cookies, its own address."""

    client: TestClient

    def get(self, path: str) -> Response:
        """Return a page, following no redirect."""
        return self.client.get(path, follow_redirects=False)

    def post(self, path: str, fields: dict[str, Any] | None = None, *, page: str = "/account", **more: Any) -> Response:
        """Send a form of a page, following no redirect."""
        told = {"csrf": form_token(self.client, page), "key": str(uuid.uuid4()), **(fields or {})}
        return self.client.post(path, data=told, follow_redirects=False, **more)

    def sign_in(self, name: str, password: str = PASSWORD) -> Response:
        """Send the sign-in form."""
        return self.post("/sign-in", {"name": name, "password": password}, page="/sign-in")


@dataclass
class Firm:
    """The app with accounts, and those who have one: Ann of the office, Bo and Cy who install."""

    app: FastAPI
    journal: Journal
    people: dict[str, Account]

    def browser(self, address: str = ADDRESS, *, base: str = AT_HOME) -> Browser:
        """Return a browser at which nobody has signed in."""
        return Browser(TestClient(self.app, base_url=base, client=(address, 50_000)))

    def signed_in(self, name: str) -> Browser:
        """Return a browser at which somebody has signed in."""
        found = self.browser()
        answer = found.sign_in(name)
        assert answer.status_code == 303, answer.text
        return found


@contextmanager
def firm(folder: Path, **settings: Any) -> Iterator[Firm]:
    """Yield the app with three accounts over a new journal."""
    place = folder / "jobs.db"
    roles: dict[str, Role] = {"ann": "office", "bo": "installer", "cy": "installer"}
    with open_journal(place) as journal:
        people = {name: who.add_account(journal, name, role, PASSWORD) for name, role in roles.items()}
    app = create_app(Settings(journal=place, **{"accounts": True, **settings}))
    yield Firm(app, app.state.office.journal, people)
    app.state.office.journal.close()
