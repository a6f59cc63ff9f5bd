"""Units, port frame, UTC, ids, records and errors: what every other room speaks in."""
