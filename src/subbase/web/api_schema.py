"""The API described: an OpenAPI document made from the operations, and a page of them made from that."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from fastapi import APIRouter, FastAPI, Request, Response
from fastapi.openapi.utils import get_openapi
from fastapi.responses import JSONResponse
from pydantic import TypeAdapter

from subbase import __version__
from subbase.web import api_files, api_jobs, api_survey
from subbase.web.api_problem import MEDIA_TYPE, PROBLEMS, ROOT, Problem, type_of
from subbase.web.api_shapes import EntryList
from subbase.web.looks import page
from subbase.words import _

router = APIRouter(prefix=ROOT, tags=["about"])
METHODS = ("get", "post", "put", "delete", "patch")
EVERYWHERE = (401, 403, 429, 500, 503)
"""Problems that any operation may answer with."""
ABOUT = """Jobs of the house, what was read there, and what follows from it.

Send the token that you made on the page *Your account* as `Authorization: Bearer TOKEN`; what it may see is what its person
may see. On the machine itself, where nobody signs in, a program needs none. A script in a page of the app uses the page's session
and sends the form token of a page as `X-Form-Token` with everything that changes something.

Everything that goes wrong is a problem document (RFC 9457). Lists bear `next`, the address of their next page. What is
worked out for longer than a second is answered with 202 and `Retry-After`: ask again. Reads bear an `ETag`.
"""


@dataclass(frozen=True, slots=True)
class Operation:
    """One operation, as the page and the reference show it."""

    method: str
    path: str
    summary: str
    about: str
    asks: tuple[tuple[str, str, str], ...]
    """(name, where, what it means) of everything that may be sent."""
    takes: str
    """Kinds of body."""
    answers: tuple[tuple[str, str], ...]
    """(status, what comes with it)."""
    tag: str


@cache
def schema() -> dict[str, Any]:
    """Return the OpenAPI 3.1 document of the API."""
    apart = FastAPI(openapi_url=None)
    for each in (api_jobs.router, api_survey.router, api_files.router, router):
        apart.include_router(each)
    made = get_openapi(title="subbase", version=__version__, routes=apart.routes, description=ABOUT)
    parts: dict[str, Any] = made["components"]["schemas"]
    # What is sent may leave out what is always there when it is read, so the two have names of their own.
    kinds: tuple[tuple[Any, str, Literal["serialization", "validation"]], ...]
    kinds = ((Problem, "", "serialization"), (EntryList, "Sent", "validation"))
    for model, before, mode in kinds:
        found = TypeAdapter(model).json_schema(mode=mode, ref_template=f"#/components/schemas/{before}{{model}}")
        parts |= {f"{before}{name}": part for name, part in found.pop("$defs", {}).items()}
        parts[model.__name__] = found
    for gone in ("HTTPValidationError", "ValidationError"):
        parts.pop(gone, None)
    for part in parts.values():
        _any_of_bodies(part)
    made["components"]["securitySchemes"] = {
        "token": {"type": "http", "scheme": "bearer", "description": "Made on the page 'Your account'."},
        "session": {"type": "apiKey", "in": "cookie", "name": "subbase-session", "description": "Of a page."},
        "form": {"type": "apiKey", "in": "header", "name": "X-Form-Token", "description": "Of a page, with changes."},
    }
    made["security"] = [{"token": []}, {"session": [], "form": []}, {}]
    for _path, _method, operation in _operations(made):
        _with_problems(operation)
    return made


def _any_of_bodies(part: Any) -> None:
    """An event of a kind that is known fits the unrecognised one too, so that one of them is too much to ask."""
    if isinstance(part, dict):
        choices = part.get("oneOf")
        if isinstance(choices, list) and "discriminator" not in part:
            part["anyOf"] = part.pop("oneOf")
        for value in part.values():
            _any_of_bodies(value)
    elif isinstance(part, list):
        for value in part:
            _any_of_bodies(value)


def _with_problems(operation: dict[str, Any]) -> None:
    answers: dict[str, Any] = operation["responses"]
    if "HTTPValidationError" in str(answers.get("422")):
        del answers["422"]
    told = [status for status in PROBLEMS if str(status) in answers]
    if operation.get("parameters") or operation.get("requestBody"):
        told.append(422)
    if operation.get("requestBody"):
        told += [400, 413]
    for status in {*told, *EVERYWHERE}:
        answers[str(status)] = {
            "description": PROBLEMS[status][1],
            "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
        }
    operation["responses"] = dict(sorted(answers.items()))


def _operations(made: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, item in made["paths"].items():
        for method in METHODS:
            if method in item:
                yield path, method, item[method]


def operations() -> tuple[Operation, ...]:
    """Return every operation, in the order of the schema."""
    return tuple(_operation(path, method, found) for path, method, found in _operations(schema()))


def _operation(path: str, method: str, found: dict[str, Any]) -> Operation:
    asks = tuple(
        (told["name"], told["in"], told.get("description", "") or told["schema"].get("description", ""))
        for told in found.get("parameters", ())
    )
    body = found.get("requestBody", {}).get("content", {})
    answers = tuple((status, _answer(told)) for status, told in found["responses"].items() if int(status) < 400)
    about = " ".join(found.get("description", "").split())
    takes = ", ".join(f"{kind}{_shape(told)}" for kind, told in body.items())
    return Operation(method.upper(), path, found["summary"], about, asks, takes, answers, found["tags"][0])


def _answer(told: dict[str, Any]) -> str:
    kinds = ", ".join(f"{kind}{_shape(content)}" for kind, content in told.get("content", {}).items())
    return kinds or str(told["description"])


def _shape(content: dict[str, Any]) -> str:
    name = str(content.get("schema", {}).get("$ref", "")).rpartition("/")[2]
    return f" ({name})" if name else ""


@router.get(
    "/openapi.json", summary="Read this description", response_class=JSONResponse,
    responses={200: {"description": "OpenAPI 3.1.", "content": {"application/json": {"schema": {"type": "object"}}}}},
)  # fmt: skip
def read_schema() -> Response:
    """The OpenAPI document of every operation."""
    return JSONResponse(schema())


@router.get(
    "/docs", summary="Read this description as a page", response_class=Response,
    responses={200: {"description": "A page.", "content": {"text/html": {"schema": {"type": "string"}}}}},
)  # fmt: skip
def read_docs(request: Request) -> Response:
    """Every operation in a table, and what each kind of problem means; made from the OpenAPI document."""
    problems = [(type_of(status), status, slug, _(meaning)) for status, (slug, meaning) in PROBLEMS.items()]
    return page(request, "api.html", operations=operations(), problems=problems, root=ROOT)


ROUTERS = (api_jobs.router, api_survey.router, api_files.router, router)
__all__ = ["ROUTERS", "Operation", "operations", "schema"]
