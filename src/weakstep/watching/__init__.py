"""Watching the next runs against a frozen baseline."""
