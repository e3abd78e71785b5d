"""What the analyst decided: sets given, taken out, merged and split, and settings, as plain data."""
