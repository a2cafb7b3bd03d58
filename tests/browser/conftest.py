"""A server over an empty journal, a door to it that can be shut, and a real Chromium, for tests that click."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, ViewportSize, sync_playwright

from subbase.journal.store import Journal
from subbase.web.app import create_app
from subbase.web.settings import Settings

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PHONE: ViewportSize = {"width": 390, "height": 844}


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


@contextmanager
def serving(settings: Settings) -> Iterator[Server]:
    """Yield the app on a free port."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen(128)
        port = held.getsockname()[1]
        app = create_app(replace(settings, port=port))
        answering = _Told(uvicorn.Config(app, log_level="warning", lifespan="off", timeout_graceful_shutdown=2))
        thread = threading.Thread(target=answering.run, kwargs={"sockets": [held]}, daemon=True)
        thread.start()
        assert answering.answers.wait(60), "the server did not start"
        yield Server(f"http://127.0.0.1:{port}", app.state.office.journal)
        answering.should_exit = True
        thread.join(20)
        app.state.office.journal.close()


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The app on a free port, over a journal of its own that goes away with the tests."""
    place: Path = tmp_path_factory.mktemp("journal") / "jobs.db"
    with serving(Settings(journal=place)) as found:
        yield found


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A Chromium without a window."""
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield found
        found.close()


def _errors(message: ConsoleMessage) -> list[str]:
    """Return what a script complained of; requests that a test itself cuts off are none of it."""
    if (
        message.type != "error"
        or "net::ERR_" in message.text
        or message.location["url"].endswith("/favicon.ico")
        or "503 (" in message.text
    ):
        return []
    return [f"{message.text} ({message.location['url']})"]


@dataclass
class Door:
    """The only way from a phone to the server: open, shut, or one that lets requests in and loses the answers."""

    upstream: int
    state: Literal["open", "shut", "loses answers"] = "open"
    lost: threading.Event = field(default_factory=threading.Event)
    """Set once an answer was lost: by then the server has done what it was asked."""
    _held: set[socket.socket] = field(default_factory=set)
    _listening: socket.socket = field(default_factory=socket.socket)

    def begin(self) -> None:
        """Listen on a free port."""
        self._listening.bind(("127.0.0.1", 0))
        self._listening.listen(64)
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def url(self) -> str:
        """Return the address that phones open."""
        return f"http://127.0.0.1:{self._listening.getsockname()[1]}"

    def open(self) -> None:
        """Let everything pass."""
        self.state = "open"

    def shut(self) -> None:
        """Cut every connection, and each that comes."""
        self.state = "shut"
        self._cut()

    def lose_answers(self) -> None:
        """Pass requests on, and cut the connection when the server has answered."""
        self._cut()
        self.lost.clear()
        self.state = "loses answers"

    def end(self) -> None:
        """Listen no more."""
        self.shut()
        self._listening.close()

    def _cut(self) -> None:
        for held in tuple(self._held):
            with suppress(OSError):
                held.shutdown(socket.SHUT_RDWR)

    def _accept(self) -> None:
        while True:
            try:
                phone, _ = self._listening.accept()
            except OSError:
                return
            if self.state == "shut":
                phone.close()
                continue
            server = socket.create_connection(("127.0.0.1", self.upstream))
            self._held |= {phone, server}
            for one, other, answers in ((phone, server, False), (server, phone, True)):
                threading.Thread(target=self._pass, args=(one, other, answers), daemon=True).start()

    def _pass(self, one: socket.socket, other: socket.socket, answers: bool) -> None:
        with suppress(OSError):
            while data := one.recv(65536):
                if answers and self.state == "loses answers":
                    self.lost.set()
                    break
                other.sendall(data)
        for end in (one, other):
            self._held.discard(end)
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()


@pytest.fixture
def door(server: Server) -> Iterator[Door]:
    """A door to the server, open."""
    made = Door(int(server.url.rpartition(":")[2]))
    made.begin()
    yield made
    made.end()


@pytest.fixture
def new_phone(browser: Browser) -> Iterator[Callable[[], BrowserContext]]:
    """Return a maker of phones that keep pages and entries; a script error in any of them fails the test."""
    made: list[BrowserContext] = []
    troubles: list[str] = []

    def make() -> BrowserContext:
        context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
        context.on("weberror", lambda error: troubles.append(str(error.error)))
        context.on("console", lambda message: troubles.extend(_errors(message)))
        made.append(context)
        return context

    yield make
    for context in made:
        context.close()
    assert not troubles


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    """A phone-sized context that takes taps and keeps nothing; any script error in it fails the test."""
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True, service_workers="block")
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
