# mypy: ignore-errors
"""What a busy user does, for locust (``bench.load`` starts it; it runs in locust's own environment, without the project)."""

from __future__ import annotations

import os
import random

from locust import HttpUser, between, task

JOBS = os.environ["SUBBASE_LOAD_JOBS"].split(",")
LIST_PAGES = 400


class Reader(HttpUser):
    """Somebody who reads pages of jobs, one after another."""

    wait_time = between(0.5, 1.5)

    def _read(self, page: str, path: str) -> None:
        with self.client.get(path, name=page, catch_response=True) as answer:
            if answer.status_code != 200:
                # A page that says 'not yet' is no page.
                answer.failure(f"{answer.status_code}")

    def _job(self, stage: str) -> None:
        self._read(stage, f"/jobs/{random.choice(JOBS)}/{stage}")

    @task(2)
    def jobs(self) -> None:
        """Read a page of the list, mostly the first."""
        number = 1 if random.random() < 0.7 else random.randint(1, LIST_PAGES)
        self._read("list of jobs", f"/?page={number}")

    @task(1)
    def search(self) -> None:
        """Search the list."""
        self._read("search", f"/?search=row+{random.randint(0, 96)}")

    @task(3)
    def survey(self) -> None:
        """Read a survey."""
        self._job("survey")

    @task(3)
    def plan(self) -> None:
        """Read a plan."""
        self._job("plan")

    @task(3)
    def work(self) -> None:
        """Read the step that comes next."""
        self._job("work")

    @task(2)
    def check(self) -> None:
        """Read the sheet of checks."""
        self._job("check")

    @task(1)
    def hand_over(self) -> None:
        """Read what is handed over."""
        self._job("hand-over")

    @task(1)
    def history(self) -> None:
        """Read what happened."""
        self._job("history")
