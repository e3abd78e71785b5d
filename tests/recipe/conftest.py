"""Decisions are about words and figures: their pages need no drawing."""

from __future__ import annotations

from tests.report.conftest import words_only

__all__ = ["words_only"]
