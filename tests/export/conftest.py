"""The tests of exported results read the analyses that the tests of the report share."""

from __future__ import annotations

from tests.report.conftest import empty, result, scant, vertical

__all__ = ["empty", "result", "scant", "vertical"]
