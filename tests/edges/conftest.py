"""The app and a job in it, for the tests of its pages."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from subbase.journal.store import Journal
from tests.web_jobs import Visitor, answering, put_job


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, Journal]]:
    """The app over one journal for all tests of this file."""
    with answering(tmp_path_factory.mktemp("journal")) as found:
        yield found


@pytest.fixture
def visitor(app: tuple[TestClient, Journal]) -> Visitor:
    """A new job of the first example."""
    client, journal = app
    return Visitor(client, journal, put_job(journal))
