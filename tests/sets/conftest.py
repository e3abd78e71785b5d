"""The tests of the results read the analyses that the tests of the report share."""

from __future__ import annotations

from tests.report.conftest import (
    empty,
    html,
    record,
    result,
    scant,
    svg,
    vertical,
    words_only,
)

__all__ = ["empty", "html", "record", "result", "scant", "svg", "vertical", "words_only"]
