"""The pocket's folder, built once from what the registries gave, and a plain host for it that can be switched off."""

from __future__ import annotations

import functools
import http.client
import http.server
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from subbase.web.pocket.build import Pocket, build
from subbase.web.pocket.fetch import Runtime, pins

ROOT = Path(__file__).parents[1]
KEPT = ROOT / ".venv/browser/pocket"


def kept_runtime() -> Runtime:
    """Return what ``tools/pocket-packages.sh`` fetched; nothing is fetched while tests run."""
    runtime = Runtime(KEPT / pins()["python"]["file"], KEPT / pins()["core"]["file"])
    for file in (runtime.python, runtime.core):
        assert file.exists(), "the browser's Python is not here: run tools/pocket-packages.sh"
    return runtime


def built(folder: Path) -> Pocket:
    """Return the pocket, written into a folder."""
    return build(kept_runtime(), folder)


class _Quiet(http.server.SimpleHTTPRequestHandler):
    beside = ""
    """Address of the app that answers for everything but ``/pocket/``; none when empty."""

    def log_message(self, format: str, *args: object) -> None:
        pass

    def translate_path(self, path: str) -> str:
        return super().translate_path(path.removeprefix("/pocket") if self.beside else path)

    def do_GET(self) -> None:
        if self.beside and not self.path.startswith("/pocket/"):
            self._pass_on()
        else:
            super().do_GET()

    def do_POST(self) -> None:
        self._pass_on()

    def _pass_on(self) -> None:
        asked = http.client.HTTPConnection(self.beside.removeprefix("http://"))
        body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
        asked.request(self.command, self.path, body, dict(self.headers.items()))
        answer = asked.getresponse()
        data = answer.read()
        self.send_response(answer.status)
        for name, value in answer.getheaders():
            if name.lower() not in ("transfer-encoding", "connection", "content-length", "date", "server"):
                self.send_header(name, value)
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        self.wfile.write(data)
        asked.close()


@dataclass(frozen=True, slots=True)
class Host:
    """A static host."""

    port: int

    @property
    def url(self) -> str:
        """Return the address of its first page."""
        return f"http://127.0.0.1:{self.port}/"


@contextmanager
def hosting(folder: Path, *, beside: str = "") -> Iterator[Host]:
    """Yield a host for a folder, which is gone when the block ends.

    Parameters
    ----------
    beside
        Address of the app, if the host is to show it too: the folder is then at ``/pocket/``, as behind a reverse proxy.
    """
    kind = type("Beside", (_Quiet,), {"beside": beside})
    handler = functools.partial(kind, directory=str(folder))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield Host(server.server_address[1])
    finally:
        server.shutdown()
        server.server_close()
        thread.join(10)
