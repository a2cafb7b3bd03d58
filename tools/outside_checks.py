"""A pytest plugin that prints every test marked ``outside``, for the validation page."""

from __future__ import annotations

import pytest


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Print (test, its sentence, source, how known), once for each test function."""
    seen: set[str] = set()
    for item in items:
        marker = item.get_closest_marker("outside")
        function = item.nodeid.partition("[")[0]
        if marker is None or function in seen:
            continue
        seen.add(function)
        sentence = " ".join((getattr(getattr(item, "obj", None), "__doc__", "") or "").split())
        fields = [function, sentence, str(marker.kwargs["source"]), str(marker.kwargs["how"])]
        print("OUTSIDE\t" + "\t".join(field.replace("|", "/").replace("\t", " ") for field in fields))
