"""The API held against its own OpenAPI document by schemathesis, which makes up requests, good and bad, from it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from schemathesis.checks import not_a_server_error
from schemathesis.config import SchemathesisConfig
from schemathesis.specs.openapi.checks import (
    allow_header_conformance,
    content_type_conformance,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from subbase.journal.tokens import make_token
from tests.journal_entries import photo
from tests.web_callers import Firm, firm
from tests.web_jobs import put_job

SOURCE = "schemathesis 4.32.5 over OpenAPI 3.1"
EXAMPLES_EACH = 12
LENIENT = ("/api/v1/jobs/{job}/entries",)
"""Here what is wrong with one entry is told in the answer, which is 200, because it holds up no other."""
schemathesis.serializer.alias("application/zip", "application/octet-stream")
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    allow_header_conformance,
]


@dataclass
class Service:
    """The app with a job to read and one to write, and a token of the office."""

    firm: Firm
    headers: dict[str, str]
    read: str
    written: str
    photo: str


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """The app behind a clock by which nobody asks too often."""
    with firm(tmp_path_factory.mktemp("api"), names=("testserver",)) as found:
        ticks = itertools.count(0, 1000)
        found.app.state.goes.clock = lambda: float(next(ticks))
        token = make_token(found.journal, found.people["ann"].id, "schemathesis")
        jobs = put_job(found.journal), put_job(found.journal)
        picture = found.journal.put_photo(jobs[0], photo())
        yield Service(found, {"Authorization": f"Bearer {token}"}, *jobs, picture)


@pytest.fixture(scope="module")
def schema(service: Service) -> schemathesis.BaseSchema:
    """The API's own description, as it is served."""
    config = SchemathesisConfig.discover()
    return schemathesis.openapi.from_asgi(
        "/api/v1/openapi.json", service.firm.app, config=config, headers=service.headers
    )


@pytest.fixture(autouse=True)
def named_as_before(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Schemathesis 4.32 reads a test's name from ``_nodeid``, which pytest 9.2 has no more."""
    monkeypatch.setattr(request.node, "_nodeid", request.node.nodeid, raising=False)


api = schemathesis.pytest.from_fixture("schema")


@pytest.mark.outside(source=SOURCE, how="run")
@api.parametrize()
@settings(
    max_examples=EXAMPLES_EACH,
    derandomize=True,
    deadline=None,
    database=None,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=list(HealthCheck),
)
def test_made_up_requests_are_answered_as_described(case: schemathesis.Case[Any], service: Service) -> None:
    """No answer is a server's fault, and each has a status, a kind, headers and a body that the description names.

    Every request is sent twice: as it was made up, and at a job, a photo and a kind that are there.
    """
    checks = [*CHECKS, *([] if case.operation.path in LENIENT else [negative_data_rejection])]
    case.headers.update(service.headers)
    case.call_and_validate(checks=checks)
    there = {
        "job": service.read if case.method == "GET" else service.written,
        "photo": service.photo,
        "kind": "gas-furnace-1",
        "name": "landings.csv",
    }
    case.path_parameters = {name: there[name] for name in case.path_parameters or {}}
    answer = case.call()
    case.validate_response(answer, checks=CHECKS)


# What pytest sees is schemathesis' own wrapper, with its own words.
test_made_up_requests_are_answered_as_described.__doc__ = (
    "No answer is a server's fault, and each has a status, a kind, headers and a body that the description names."
)
