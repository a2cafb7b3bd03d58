"""No page of the app has a dead link: every address leads to something, and every place named in it is on that page."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from urllib.parse import unquote, urljoin

import pytest
from httpx2 import Response

from tests.browser.conftest import Server
from tests.browser.every_page import every_page
from tests.web_jobs import Visitor, visiting

LINK = re.compile(r'<(?:a|link|script|img)\b[^>]*?\s(?:href|src)="([^"]+)"')
NOT_FOLLOWED = ("data:", "blob:")


@pytest.fixture(scope="module")
def visitor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visitor]:
    """Somebody with a few jobs."""
    with visiting(tmp_path_factory.mktemp("journal")) as found:
        yield found


def _look(visitor: Visitor, path: str) -> Response:
    answer = visitor.client.get(path)
    while answer.status_code == 202:
        answer = visitor.client.get(path)
    return answer


def test_every_link_of_every_page_leads_somewhere(visitor: Visitor) -> None:
    """Whatever a page links to answers with 200, and a '#place' is the id of something there."""
    seen: dict[str, Response] = {}
    dead: list[str] = []
    for shown in every_page(Server("", visitor.journal)):
        page = _look(visitor, shown.path)
        here = str(page.url.raw_path, "ascii")
        for link in sorted(set(map(html.unescape, LINK.findall(page.text)))):
            if link.startswith(NOT_FOLLOWED):
                continue
            path, _hash, place = urljoin(here, link).partition("#")
            if path == here:
                answer = page
            else:
                answer = seen.get(path) or _look(visitor, path)
                seen[path] = answer
            if answer.status_code != 200 and path != here:
                dead.append(f"{shown.name}: {link} ({answer.status_code})")
            elif place and f'id="{unquote(place)}"' not in html.unescape(answer.text):
                dead.append(f"{shown.name}: {link} names no place of its page")
    assert len(seen) > 60
    assert dead == []
