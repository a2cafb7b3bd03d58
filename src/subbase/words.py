"""Sentences in the reader's language: messages stand in the code in English, translations in standard gettext catalogues.

``_`` looks a message up in the language that is set; parts are put in afterwards: ``_("{place} opens").format(place=...)``.
A message that is made when a module loads is only marked, with ``mark``, and looked up where it is shown. The language
is held in a context variable: each thread and each request has its own, and English needs no catalogue.
"""

from __future__ import annotations

import datetime
import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache

LANGUAGES = {"en": "English", "es": "español"}
"""Language code -> its own name, of every language there is a whole catalogue for; English is the code's own."""
_language: ContextVar[str] = ContextVar("language", default="en")


def mark(message: str) -> str:
    """Return the message as it is, marked for the catalogue."""
    return message


def _(message: str) -> str:
    """Return a message in the language that is set."""
    code = _language.get()
    return message if code == "en" or not message else _catalogue(code).gettext(message)


def plural(one: str, many: str, count: int) -> str:
    """Return the form of a message that goes with a count."""
    code = _language.get()
    if code == "en":
        return one if count == 1 else many
    return _catalogue(code).ngettext(one, many, count)


def current_language() -> str:
    """Return the code of the language that is set."""
    return _language.get()


@contextmanager
def language(code: str) -> Iterator[None]:
    """Set the language inside a block; one that there is no catalogue for is English."""
    token = _language.set(code if code in LANGUAGES else "en")
    try:
        yield
    finally:
        _language.reset(token)


def nearest_language(wanted: str) -> str:
    """Return the code of the first language that a locale or a browser asks for and that there is."""
    for part in wanted.replace(";", ",").split(","):
        code = part.strip().lower()[:2]
        if code in LANGUAGES:
            return code
    return "en"


def date_words(date: datetime.date) -> str:
    """Return a date that reads the same everywhere: 5 March 2026."""
    return _("{day} {month} {year}").format(day=date.day, month=month_words(date.month), year=date.year)


def day_and_month(date: datetime.date) -> str:
    """Return a day without its year: 5 March."""
    return _("{day} {month}").format(day=date.day, month=month_words(date.month))


def month_words(month: int) -> str:
    """Return a month's name; January is 1."""
    names = (
        _("January"), _("February"), _("March"), _("April"), _("May"), _("June"),
        _("July"), _("August"), _("September"), _("October"), _("November"), _("December"),
    )  # fmt: skip
    return names[month - 1]


@cache
def _catalogue(code: str) -> gettext.NullTranslations:
    from importlib import resources  # slow to load, and English needs none

    file = resources.files("subbase") / "locale" / code / "LC_MESSAGES" / "subbase.mo"
    with file.open("rb") as stream:
        return gettext.GNUTranslations(stream)
