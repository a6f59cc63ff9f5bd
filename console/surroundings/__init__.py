"""Light and link coverage over the coming minutes."""
