"""A server over an empty journal, and a real Chromium, for tests that click."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

from subbase.journal.store import Journal
from subbase.web.app import create_app
from subbase.web.settings import Settings

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PHONE = {"width": 390, "height": 844}


@dataclass(frozen=True, slots=True)
class Server:
    """The app, answering on this machine."""

    url: str
    journal: Journal
    """The journal that it keeps its jobs in, to look at from a test."""


class _Told(uvicorn.Server):
    """Tells when it answers, so that nothing has to wait by the clock."""

    def __init__(self, config: uvicorn.Config) -> None:
        super().__init__(config)
        self.answers = threading.Event()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then tell."""
        await super().startup(sockets)
        self.answers.set()

    def install_signal_handlers(self) -> None:
        """Leave signals to pytest."""


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The app on a free port, over a journal of its own that goes away with the tests."""
    place: Path = tmp_path_factory.mktemp("journal") / "jobs.db"
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen(128)
        port = held.getsockname()[1]
        app = create_app(Settings(journal=place, port=port))
        answering = _Told(uvicorn.Config(app, log_level="warning", lifespan="off", timeout_graceful_shutdown=2))
        thread = threading.Thread(target=answering.run, kwargs={"sockets": [held]}, daemon=True)
        thread.start()
        assert answering.answers.wait(60), "the server did not start"
        yield Server(f"http://127.0.0.1:{port}", app.state.office.journal)
        answering.should_exit = True
        thread.join(20)
        app.state.office.journal.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A Chromium without a window."""
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield found
        found.close()


def _errors(message: ConsoleMessage) -> list[str]:
    """Return what a script complained of; requests that a test itself cuts off are none of it."""
    if message.type != "error" or "net::ERR_" in message.text or message.location["url"].endswith("/favicon.ico"):
        return []
    return [f"{message.text} ({message.location['url']})"]


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    """A phone-sized context that takes taps; any script error in it fails the test."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    troubles: list[str] = []
    context.on("weberror", lambda error: troubles.append(str(error.error)))
    context.on("console", lambda message: troubles.extend(_errors(message)))
    yield context
    context.close()
    assert not troubles


@pytest.fixture
def page(phone: BrowserContext) -> Page:
    """A page on the phone."""
    return phone.new_page()
