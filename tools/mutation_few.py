"""A pytest plugin for runs of one mutant: fewer drawn examples, no shrinking, nothing kept, the same draws each time."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, Phase, settings

MOST = int(os.environ.get("MUTATION_EXAMPLES", "25"))

settings.register_profile(
    "mutation",
    max_examples=MOST,
    phases=(Phase.explicit, Phase.generate),
    database=None,
    derandomize=True,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
_made = settings.__init__


def _fewer(self: settings, parent: settings | None = None, **options: object) -> None:
    if isinstance(options.get("max_examples"), int):
        options["max_examples"] = min(MOST, int(str(options["max_examples"])))
    _made(self, parent, **options)  # type: ignore[arg-type]


settings.__init__ = _fewer  # type: ignore[method-assign]


def pytest_configure() -> None:
    """Take the place of the profile that the tests' own conftest sets."""
    settings.load_profile("mutation")
