"""How operations of the API read what is asked of them: raw bodies by their kind, JSON, keys, what is known already."""

from __future__ import annotations

import hashlib
import json
from typing import Annotated, Any

from fastapi import Depends, Header, Request, Response

from subbase import __version__
from subbase.errors import Fault, InputError
from subbase.journal import Entry, new_key
from subbase.journal.events import Kept, Refused
from subbase.web.api_problem import ApiProblem
from subbase.web.jobs import JobView, Office
from subbase.words import _, current_language

UUID_PATTERN = r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"
JSON_TYPES = ("application/json",)
ZIP_TYPES = ("application/zip",)
PHOTO_TYPES = ("image/jpeg", "image/png", "image/webp")
SURVEY_TYPES = ("application/yaml", "application/json")

KeyHeader = Annotated[
    str | None,
    Header(
        alias="Idempotency-Key",
        pattern=UUID_PATTERN,
        description="A UUID in small letters of your making: the same request sent again with it changes nothing.",
    ),
]
IfNoneMatch = Annotated[
    str | None, Header(alias="If-None-Match", description="ETag of what you have: 304 when it is still so.")
]
IfMatch = Annotated[
    str | None, Header(alias="If-Match", description="ETag of what you changed: 412 when it has changed meanwhile.")
]


class Body:
    """A dependency: the bytes of a request whose kind is one of those that are taken.

    The gate reads forms, and what it has read is gone; so the kind is looked at before anything else.
    """

    def __init__(self, *types: str) -> None:
        self._types = types

    async def __call__(self, request: Request) -> bytes:
        """Return the bytes.

        Raises
        ------
        ApiProblem
            When the kind is another.
        """
        told = request.headers.get("content-type", "").partition(";")[0].strip().lower()
        if told not in self._types:
            line = _("Send one of: {types}.").format(types=", ".join(self._types))
            raise ApiProblem(415, _("That kind of body is not taken here"), line)
        return await request.body()


JsonBytes = Annotated[bytes, Depends(Body(*JSON_TYPES))]
ZipBytes = Annotated[bytes, Depends(Body(*ZIP_TYPES))]
PhotoBytes = Annotated[bytes, Depends(Body(*PHOTO_TYPES))]
SurveyBytes = Annotated[bytes, Depends(Body(*SURVEY_TYPES))]


def body_schema(**schemas: dict[str, Any]) -> dict[str, Any]:
    """Return how the schema describes a raw body; each kind's ``/`` and ``+`` are written ``_``."""
    content = {name.replace("_", "/", 1): {"schema": schema} for name, schema in schemas.items()}
    return {"requestBody": {"required": True, "content": content}}


def read_json(data: bytes) -> Any:
    """Return what a JSON text holds.

    Raises
    ------
    ApiProblem
        When it is no JSON.
    """
    try:
        return json.loads(data)
    except (ValueError, RecursionError):
        raise ApiProblem(400, _("The body is no JSON")) from None


def etag(view: JobView, *parts: object, survey_only: bool = False) -> str:
    """Return a mark of what an answer is made from: the job's events, or its survey alone, the language and the version."""
    told = [__version__, current_language(), view.id, view.state.survey.sha256, *map(str, parts)]
    told += [] if survey_only else [str(view.state.sequence)]
    return f'W/"{hashlib.sha256(json.dumps(told).encode()).hexdigest()[:32]}"'


def is_known(header: str | None, tag: str) -> bool:
    """Return whether the sender has what bears this mark (RFC 9110, 13.1.2: compared weakly)."""
    bare = tag.removeprefix("W/")
    told = [item.strip().removeprefix("W/") for item in (header or "").split(",")]
    return bare in told or told == ["*"]


def unchanged(tag: str) -> Response:
    """Return that the sender has it already."""
    return Response(status_code=304, headers={"ETag": tag})


def kept(office: Office, job: str, entry: Entry) -> Kept:
    """Put one entry into the journal.

    Raises
    ------
    ApiProblem
        When it is refused.
    """
    (result,) = office.journal.append(job, (entry,))
    if isinstance(result, Refused):
        raise ApiProblem(409, _("That was not kept"), result.reason)
    return result


def key_or_new(key: str | None) -> str:
    """Return the sender's key, or a new one."""
    return key or new_key()


def text_of(data: bytes) -> str:
    """Return a body as text.

    Raises
    ------
    InputError
        When it is no UTF-8.
    """
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        raise InputError((Fault(_("The text is not UTF-8; save it as UTF-8 and send it again.")),)) from None
