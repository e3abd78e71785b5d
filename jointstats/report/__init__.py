"""Pictures, tables and the page a person reads."""
