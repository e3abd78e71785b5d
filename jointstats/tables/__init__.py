"""Tables in and out: reading, checking and writing what a site is kept in."""
