"""How far the full likelihood speaks for a factor: what orders factors of the same evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.failures.posterior import EFFECT_SDS, fit_shapes

if TYPE_CHECKING:
    import numpy as np

    from weakstep.failures.candidates import Candidate
    from weakstep.failures.null_model import NullFit


def belief_in(candidate: Candidate, null: NullFit, failed: np.ndarray, tested: np.ndarray) -> float:
    """
    Return the log Bayes factor of a mild effect of one candidate, without fits for its share.

    Parameters
    ----------
    candidate : Candidate
    null : NullFit
        Of the same counts.
    failed, tested : array, shape (n_runs,)
        Divided by the overdispersion.

    Returns
    -------
    float
        As `ShapeFits.belief`, which needs the fits under the first prior spread alone.
    """
    columns, counts = (candidate.columns, candidate.positive), (failed, tested)
    fits = fit_shapes(null, *columns, *counts, sds=EFFECT_SDS[:1], sd_weights=(1.0,))
    return fits.belief(candidate.weights)
