"""Which parameters moved during a log, and since when, under one false-alarm budget."""
