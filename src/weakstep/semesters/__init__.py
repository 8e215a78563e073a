"""Several semesters in one log: how failures went, what was changed, and what came of it."""
