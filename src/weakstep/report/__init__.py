"""A Review becomes one page, findings.json and tables."""
