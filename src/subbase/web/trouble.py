"""What goes wrong, as one shape of page; whoever asks for data instead of pages is answered here too."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import Request, Response

from subbase.errors import Fault
from subbase.web.api_problem import is_api, problem
from subbase.web.looks import page, secret_page


def trouble(request: Request, status: int, title: str, *lines: str, faults: Sequence[Fault] = ()) -> Response:
    """Return the page that says what is wrong and what would put it right; under ``/api`` a problem document.

    The page tells the faults as lines of its own.
    """
    if is_api(request):
        return problem(status, title, lines, faults)
    lines = (*lines, *map(str, faults))
    return page(request, "trouble.html", status=status, title=title, lines=lines)


def send_again(request: Request, status: int, title: str, lines: tuple[str, ...], **more: Any) -> Response:
    """Return a page that holds what was sent, so that it can be sent again with one press; under ``/api`` a problem."""
    if is_api(request):
        return problem(status, title, lines[:1])
    return secret_page(request, "send_again.html", status=status, title=title, lines=lines, **more)
