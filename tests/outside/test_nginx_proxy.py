"""The app behind a real nginx with the configuration that is handed out: TLS, cookies, forged addresses, large bodies."""

from __future__ import annotations

import os
import re
import socket
import ssl
import subprocess
import threading
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import httpx2
import pytest
import uvicorn

from subbase.journal import accounts as who
from subbase.journal.store import Journal
from tests.web_callers import PASSWORD, firm

NAME = "jobs.example.org"
CONF = Path(__file__).parents[2] / "deploy" / "nginx.conf"
nginx_documents = pytest.mark.outside(
    source="nginx documentation: ngx_http_ssl_module, ngx_http_proxy_module, ngx_http_core_module (client_max_body_size)",
    how="deploy/nginx.conf run by Debian's nginx in front of the app; asked over TLS with a certificate made for the test",
)


class _Told(uvicorn.Server):
    """Tells when it answers, so that nothing has to wait by the clock."""

    def __init__(self, config: uvicorn.Config) -> None:
        super().__init__(config)
        self.answers = threading.Event()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then tell."""
        await super().startup(sockets)
        self.answers.set()


@dataclass
class Site:
    """nginx with the app behind it."""

    port: int
    plain_port: int
    folder: Path
    journal: Journal

    def client(self, address: str = "127.0.0.1", name: str = NAME) -> httpx2.Client:
        """Return a client that trusts the test's certificate, from one of this machine's own addresses."""
        trusted = ssl.create_default_context(cafile=str(self.folder / "fullchain.pem"))
        transport = httpx2.HTTPTransport(verify=trusted, local_address=address)
        return httpx2.Client(
            transport=transport, base_url=f"https://127.0.0.1:{self.port}", headers={"Host": f"{name}:{self.port}"},
            event_hooks={"request": [lambda request: request.extensions.__setitem__("sni_hostname", name)]},
        )  # fmt: skip


def _free_port() -> int:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        port: int = held.getsockname()[1]
        return port


def _configured(folder: Path, app_port: int, port: int, plain_port: int) -> str:
    """Return the whole configuration: the file that is handed out, with the test's own ports, paths and owner."""
    site = CONF.read_text("utf-8")
    for ours, theirs in (
        ("listen 443 ssl", f"listen 127.0.0.1:{port} ssl"),
        ("listen 80;", f"listen 127.0.0.1:{plain_port};"),
        ("server 127.0.0.1:8024;", f"server 127.0.0.1:{app_port};"),
        ("/etc/ssl/subbase/", f"{folder}/"),
        ("/var/log/nginx/", f"{folder}/"),
    ):
        assert ours in site, ours
        site = site.replace(ours, theirs)
    paths = "".join(
        f"{kind}_temp_path {folder}/{kind};\n" for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    user = "user root;\n" if os.getuid() == 0 else ""
    return f"{user}pid {folder}/nginx.pid;\nworker_processes 1;\nevents {{}}\nhttp {{\n{paths}{site}}}\n"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """Nginx and the app, both on free ports of this machine."""
    folder = tmp_path_factory.mktemp("nginx")
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2",
         "-subj", f"/CN={NAME}", "-addext", f"subjectAltName=DNS:{NAME}",
         "-keyout", str(folder / "privkey.pem"), "-out", str(folder / "fullchain.pem")],
        check=True, capture_output=True,
    )  # fmt: skip
    with firm(folder, accounts=False, behind_proxy=True, names=(NAME,)) as found, socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen(64)
        config = uvicorn.Config(found.app, log_level="warning", lifespan="off", proxy_headers=False)
        answering = _Told(config)
        thread = threading.Thread(target=answering.run, kwargs={"sockets": [held]}, daemon=True)
        thread.start()
        assert answering.answers.wait(60)
        port, plain_port = _free_port(), _free_port()
        conf = folder / "nginx.conf"
        conf.write_text(_configured(folder, held.getsockname()[1], port, plain_port), "utf-8")
        nginx = ["nginx", "-p", str(folder), "-c", str(conf), "-e", str(folder / "error.log")]
        # As a daemon: when the command returns, it listens.
        subprocess.run(nginx, check=True, capture_output=True)
        yield Site(port, plain_port, folder, found.journal)
        subprocess.run([*nginx, "-s", "stop"], check=True, capture_output=True)
        answering.should_exit = True
        thread.join(20)


def _sign_in(client: httpx2.Client, name: str, password: str, **headers: str) -> httpx2.Response:
    token = re.search(r'name="csrf" value="([^"]+)"', client.get("/sign-in", headers=headers).text)
    assert token is not None
    fields = {"csrf": token[1], "key": str(uuid.uuid4()), "name": name, "password": password}
    return client.post("/sign-in", data=fields, headers=headers)


@nginx_documents
def test_signing_in_over_tls_works(site: Site) -> None:
    """Over TLS somebody signs in with cookies for this host alone, begins a job, and is told to stay with TLS."""
    with site.client() as client:
        answer = _sign_in(client, "bo", PASSWORD, Origin=f"https://{NAME}:{site.port}")
        assert answer.status_code == 303
        cookies = answer.headers.get_list("set-cookie")
        assert len(cookies) == 2
        assert all(cookie.startswith("__Host-") and "; Secure" in cookie and "HttpOnly" in cookie for cookie in cookies)
        page = client.get("/")
        assert page.status_code == 200
        assert page.headers["strict-transport-security"] == "max-age=31536000"
        assert "not encrypted" not in client.get("/account").text
        token = re.search(r'name="csrf" value="([^"]+)"', page.text)
        assert token is not None
        made = client.post("/jobs", data={"name": "Behind TLS", "csrf": token[1]})
        assert client.get(made.headers["location"]).status_code == 200


@nginx_documents
def test_plain_http_is_sent_to_tls(site: Site) -> None:
    """Port 80 answers nothing but where to go."""
    answer = httpx2.get(f"http://127.0.0.1:{site.plain_port}/jobs/x", headers={"Host": NAME})
    assert (answer.status_code, answer.headers["location"]) == (301, f"https://{NAME}/jobs/x")


@nginx_documents
def test_another_name_is_not_answered(site: Site) -> None:
    """A handshake for a name that is not ours is refused, and so is a request that names another host afterwards."""
    with site.client(name="other.example.org") as client, pytest.raises(httpx2.ConnectError):
        client.get("/sign-in")
    with site.client() as client:
        assert client.get("/sign-in", headers={"Host": "other.example.org"}).status_code == 421


@nginx_documents
def test_a_forged_address_does_not_fool_the_count_of_tries(site: Site) -> None:
    """Whoever writes another X-Forwarded-For with each try is still one address; another address is another."""
    with site.client("127.0.0.2") as client:
        codes = [
            _sign_in(client, f"name {at}", "not the password", **{"X-Forwarded-For": f"198.51.100.{at}"}).status_code
            for at in range(21)
        ]
    assert codes == [401] * 20 + [429]
    with site.client("127.0.0.3") as client:
        assert _sign_in(client, "cy", PASSWORD).status_code == 303
    assert who.recorded(site.journal)[0].address == "127.0.0.0/24"


@nginx_documents
@pytest.mark.parametrize(("size", "by"), [(27_000_000, "subbase"), (28_000_000, "nginx")])
def test_a_body_that_is_too_large_is_refused(site: Site, size: int, by: str) -> None:
    """More than a photo and its form is refused by the app, and more than that never reaches it."""
    with site.client() as client:
        answer = client.post("/sign-in", content=b"x" * size)
    assert answer.status_code == 413
    assert f"<title>That is too large - {by}" in answer.text or f"<center>{by}</center>" in answer.text


@nginx_documents
def test_a_link_s_token_is_in_no_log(site: Site) -> None:
    """An owner's link works over TLS, and what opens it is written down nowhere."""
    job = site.journal.create_job("House")
    token = who.make_share(site.journal, job, "bo")
    with site.client() as client:
        assert client.get(f"/look/{token}").status_code == 303
        assert client.get(f"/jobs/{job}/look").status_code == 200
    logs = "".join(path.read_text("utf-8") for path in site.folder.glob("*.log"))
    assert "/look/..." in logs
    assert token not in logs
    assert token not in str(who.recorded(site.journal))
