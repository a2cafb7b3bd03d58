"""A survey with many unknowns plans for longer than a page may wait."""

from __future__ import annotations

import threading

import pytest

from subbase.plan import make_plan
from tests.web_jobs import Visitor


def test_a_page_says_that_the_plan_is_on_its_way_and_shows_it_once_it_is_there(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page that waits is answered at once and looks again; nothing is planned twice."""
    let_go, begun = threading.Event(), []

    def waiting(*args: object, **options: object) -> object:
        begun.append(args)
        let_go.wait(60)
        return make_plan(*args, **options)  # type: ignore[arg-type]

    monkeypatch.setattr("subbase.web.jobs.make_plan", waiting)
    monkeypatch.setattr("subbase.web.stage_plan.PATIENCE_S", 0.0)
    first = visitor.client.get(f"/jobs/{visitor.job}/plan")
    let_go.set()
    assert first.status_code == 202
    assert "The plan of this house" in first.text
    assert visitor.get("plan").status_code == 200
    assert len(begun) == 1
