"""Which step's variation costs the most failures: tallies, ranking, models, verdict."""
