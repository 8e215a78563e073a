"""What a log of a given length can and cannot see."""

from __future__ import annotations


def power_note(n_runs: int) -> str:
    """Say what a log of *n_runs* runs can and cannot see, in one sentence."""
    if n_runs < 25:
        return f"With {n_runs} runs nothing can be judged; at least 25 runs are needed."
    return f"With {n_runs} runs, shifts of less than one standard deviation may go unseen."
