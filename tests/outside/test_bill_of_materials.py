"""The software bill of materials against the published schema."""

from __future__ import annotations

import pytest
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

from tools.sbom import as_json, bill


@pytest.mark.outside(source="CycloneDX 1.6 (ECMA-424), JSON schema in cyclonedx-python-lib 11.12.0", how="run")
def test_the_bill_of_materials_is_cyclonedx() -> None:
    """It follows the published schema strictly, formats included."""
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(as_json(bill())) is None
