"""Control charts as pure functions on arrays: limits, patterns, nothing about any process."""
