"""Qt-free view models: snapshot to text, level and arrays."""
