"""Hole against hole, core against image."""
