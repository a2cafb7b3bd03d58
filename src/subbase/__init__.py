"""subbase: from what an installer finds on the wall to a proven wiring plan with its papers.

>>> import subbase
>>> survey = subbase.load_survey("examples/01-no-common-spare-blue.yaml")
>>> subbase.make_plan(survey).verdict
'planned'
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"
_WHERE = {
    "load_catalog": "subbase.catalog",
    "load_survey": "subbase.survey",
    "read_survey": "subbase.survey",
    "make_plan": "subbase.plan",
    "write_papers": "subbase.papers.write",
}

if TYPE_CHECKING:
    from subbase.catalog import load_catalog
    from subbase.papers.write import write_papers
    from subbase.plan import make_plan
    from subbase.survey import load_survey, read_survey

__all__ = ["__version__", "load_catalog", "load_survey", "make_plan", "read_survey", "write_papers"]


def __getattr__(name: str) -> Any:
    """Bring a public name in when it is first asked for, so that ``--help`` stays quick."""
    if name in _WHERE:
        from importlib import import_module

        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"subbase has no public name '{name}'.")
