"""Reading and checking a process description: what a lab logs, step by step."""
