"""Many passes: scoring, comparison of limit sets, campaigns."""
