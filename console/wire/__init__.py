"""Bytes and table rows to records and back; sans-IO."""
