"""One shape for everything that goes wrong under ``/api``: a problem document of RFC 9457, with the faults it names."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from fastapi import Request, Response
from pydantic import Field

from subbase.errors import Fault
from subbase.papers.data_shape import FaultShape, Shape
from subbase.words import mark

MEDIA_TYPE = "application/problem+json"
ROOT = "/api/v1"
PROBLEMS: dict[int, tuple[str, str]] = {
    400: ("malformed", mark("The request is no proper one: its body is cut off, or is not what it says it is.")),
    401: ("signed-out", mark("No token, or one that has ended: send 'Authorization: Bearer TOKEN'.")),
    403: ("refused", mark("It came from another site, bore no form token, or a first password must be changed before.")),
    404: ("not-there", mark("There is none, or it is not yours to see: the two are not told apart.")),
    405: ("method", mark("The address does not know this method; 'Allow' names those that it knows.")),
    409: ("conflict", mark("It does not fit what is there: another entry under this key, or a survey that cannot be read.")),
    412: ("changed", mark("What you changed has been changed by somebody else since you read it; read it again.")),
    413: ("too-large", mark("More bytes than are taken at once.")),
    415: ("media-type", mark("The body is of a kind that is not taken here.")),
    421: ("wrong-host", mark("The app does not answer under this host name.")),
    422: ("unreadable", mark("Something in it cannot be read; 'faults' says what and where.")),
    429: ("too-often", mark("Too many requests; 'Retry-After' says how many seconds to wait.")),
    500: ("broken", mark("A fault of the program; the detail bears a number under which it is in the log.")),
    503: ("journal", mark("The journal cannot be used now: its disk is full, or the database does not answer.")),
}  # fmt: skip
"""Status -> (the last part of the problem's type, what it means)."""


class Problem(Shape):
    """What went wrong (RFC 9457)."""

    type: str = Field(description="Address of what this kind of problem means; the same for the same kind.")
    title: str = Field(description="The problem in a few words, in the reader's language.")
    status: int = Field(ge=400, le=599)
    detail: str = Field(description="What to do about it; may be empty.")
    faults: tuple[FaultShape, ...] = Field(default=(), description="Every fault of what was sent, in its order.")


class ApiProblem(Exception):
    """Something that an operation refuses."""

    def __init__(self, status: int, title: str, *lines: str, faults: Iterable[Fault] = ()) -> None:
        super().__init__(title)
        self.status, self.title, self.lines, self.faults = status, title, lines, tuple(faults)


def is_api(request: Request) -> bool:
    """Return whether a request asks for data, not for pages."""
    path = request.url.path
    return path == "/api" or path.startswith("/api/")


def type_of(status: int) -> str:
    """Return the address that says what a problem means."""
    slug, _meaning = PROBLEMS.get(status, PROBLEMS[500 if status >= 500 else 400])
    return f"{ROOT}/docs#problem-{slug}"


def problem(status: int, title: str, lines: Iterable[str] = (), faults: Iterable[Fault] = ()) -> Response:
    """Return a problem as an answer."""
    said = Problem(
        type=type_of(status),
        title=title,
        status=status,
        detail=" ".join(lines),
        faults=tuple(map(FaultShape.model_validate, faults)),
    )
    # Texts of the sender's may hold halves of characters, which JSON can hold only as escapes.
    text = json.dumps(said.plain(), ensure_ascii=True)
    return Response(text, status_code=status, media_type=MEDIA_TYPE)


def answer(_request: Request, error: Exception) -> Response:
    """Return what an operation refused, as an answer."""
    assert isinstance(error, ApiProblem)
    return problem(error.status, error.title, error.lines, error.faults)


def responses(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return how the schema says that these problems may come."""
    return {
        status: {"description": PROBLEMS[status][1], "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}}
        for status in statuses
    }  # fmt: skip


__all__ = ["PROBLEMS", "ApiProblem", "Problem", "is_api", "problem", "responses"]
