"""The app without a browser: its forms read out of a page and sent back as a browser without JavaScript would."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from fastapi.testclient import TestClient

from subbase.web.app import create_app
from subbase.web.settings import Settings
from tests.web_callers import at_home

Pairs = list[tuple[str, str]]
FORM = {"Content-Type": "application/x-www-form-urlencoded"}


@dataclass
class Form:
    """One form of a page: what it would send, and what can be chosen in it."""

    action: str
    id: str = ""
    sends: Pairs = field(default_factory=list)
    offers: set[tuple[str, str]] = field(default_factory=set)
    """(name, value) of every radio, tick box and option, chosen or not."""
    buttons: list[tuple[str, str]] = field(default_factory=list)

    def names(self) -> set[str]:
        """Return the names of its fields."""
        return {name for name, _ in self.sends} | {name for name, _ in self.offers}

    def set(self, name: str, value: str) -> None:
        """Type into a field, or choose one of several."""
        assert name in self.names(), f"the form has no field {name}"
        offered = {v for n, v in self.offers if n == name}
        assert not offered or value in offered, f"{name} offers {sorted(offered)}, not {value}"
        self.sends = [(n, v) for n, v in self.sends if n != name] + [(name, value)]

    def tick(self, name: str, *values: str) -> None:
        """Tick boxes."""
        for value in values:
            assert (name, value) in self.offers, f"{name} offers no {value}"
            self.sends.append((name, value))


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.labels: set[str] = set()
        self.unlabelled: list[str] = []
        self.headings: list[int] = []
        self.ids: list[str] = []
        self._form: Form | None = None
        self._select: tuple[str, bool, bool] | None = None
        self._option: tuple[str | None, bool] | None = None
        self._text = ""
        self._area = ""
        self._in_label = 0
        self._controls: list[tuple[str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        a = {name: value or "" for name, value in attrs}
        has = {name for name, _ in attrs}
        if "id" in a:
            self.ids.append(a["id"])
        if tag[0] == "h" and tag[1:].isdigit():
            self.headings.append(int(tag[1:]))
        if tag == "label":
            self._in_label += 1
            self.labels.add(a.get("for", ""))
        if tag in ("input", "select", "textarea") and a.get("type") != "hidden" and "aria-label" not in a:
            self._controls.append((a.get("id", ""), "labelled" if self._in_label else a.get("name", "?")))
        if tag == "form":
            self._form = Form(a.get("action", ""), a.get("id", ""))
            self.forms.append(self._form)
        if self._form is not None:
            self._field(self._form, tag, a, has)

    def _field(self, form: Form, tag: str, a: dict[str, str], has: set[str]) -> None:
        name, value = a.get("name", ""), a.get("value", "")
        if tag == "input" and name and a.get("type") in ("radio", "checkbox"):
            form.offers.add((name, value))
            if "checked" in has:
                form.sends.append((name, value))
        elif tag == "input" and name and a.get("type") != "file":
            form.sends.append((name, value))
        elif tag == "button":
            form.buttons.append((name, value))
        elif tag == "textarea":
            self._area, self._text = name, ""
        elif tag == "select":
            self._select = (name, "multiple" in has, False)
        elif tag == "option" and self._select is not None:
            self._option, self._text = (a.get("value") if "value" in has else None, "selected" in has), ""

    def handle_data(self, data: str) -> None:
        self._text += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "label":
            self._in_label -= 1
        if self._form is None:
            return
        if tag == "option" and self._select is not None and self._option is not None:
            name, multiple, chosen_before = self._select
            given, chosen = self._option
            value = self._text.strip() if given is None else given
            first = not any(n == name for n, _ in self._form.offers) and not multiple
            self._form.offers.add((name, value))
            if chosen or first:
                if chosen and not multiple and not chosen_before:
                    self._form.sends = [(n, v) for n, v in self._form.sends if n != name]
                self._form.sends.append((name, value))
            self._select, self._option = (name, multiple, chosen_before or chosen), None
        if tag == "select":
            self._select = None
        if tag == "textarea":
            self._form.sends.append((self._area, self._text.removeprefix("\n")))
        if tag == "form":
            self._form = None

    def finish(self) -> None:
        self.unlabelled = [name for i, name in self._controls if name != "labelled" and i not in self.labels]


def read(page: str) -> _Reader:
    """Return what a page holds."""
    reader = _Reader()
    reader.feed(page)
    reader.finish()
    return reader


@dataclass
class Phone:
    """A person without JavaScript, at one job."""

    client: TestClient
    job: str

    @property
    def text(self) -> str:
        """Return the survey as the journal has it."""
        return self.client.get(f"/jobs/{self.job}/survey/survey.yaml").text

    def page(self, path: str = "survey") -> str:
        """Return a page of the job."""
        answer = self.client.get(f"/jobs/{self.job}/{path}")
        assert answer.status_code == 200, answer.text
        return answer.text

    def form(self) -> Form:
        """Return the survey's form as it stands."""
        return next(form for form in read(self.page()).forms if form.id == "survey-form")

    def post(self, path: str, fields: Pairs) -> Any:
        """Send fields."""
        return self.client.post(f"/jobs/{self.job}/{path}", content=urlencode(fields), headers=FORM)

    def press(self, do: str, form: Form | None = None) -> None:
        """Press a button of the survey's form."""
        form = form or self.form()
        assert ("do", do) in form.buttons, f"no button {do}; there are {[v for _, v in form.buttons]}"
        assert self.post("survey", [*form.sends, ("do", do)]).status_code == 200

    def write(self, text: str) -> None:
        """Put a text in the survey's place, as the text page does."""
        assert self.post("survey/text", [("text", text), ("key", "")]).status_code == 200


def new_phone(folder: Path, name: str = "House 1") -> Phone:
    """Return a phone at a new job in a new journal."""
    client = at_home(create_app(Settings(journal=folder / "jobs.db")))
    answer = client.post("/jobs", data={"name": name})
    return Phone(client, str(answer.url).split("/")[4])


HOUSE = """survey: 1
name: House 1
units: us
signs: []
equipment:
  furnace: {kind: gas-furnace-1}
  outdoor: {kind: condensing-unit-1}
controls:
  hall:
    old: {terminals: [R, W, Y, G], power: battery}
    new: {terminals: [R, C, W1, W2, Y1, Y2, G, O/B], power: common, asleep_va: 0.6, awake_va: 3}
cables:
  hall to furnace:
    from: hall
    to: furnace
    length: 38
    conductors: {red: R, white: W, yellow: Y, green: G, blue: loose}
  furnace to outdoor:
    from: furnace
    to: outdoor
    length: 24
    conductors: {yellow: Y, blue: C, red: loose}
"""
"""Eight conductors in two cables, as somebody would write it by hand."""
LANDED = {
    "hall to furnace": {"red": ("R", "R"), "white": ("W", "W"), "yellow": ("Y", "Y"), "green": ("G", "G"),
                        "blue": ("loose", "loose")},
    "furnace to outdoor": {"yellow": ("Y", "Y"), "blue": ("C", "C"), "red": ("loose", "loose")},
}  # fmt: skip
"""Cable -> conductor -> where its two ends land."""
