"""Which parameters go together."""

from __future__ import annotations

import numpy as np

from weakstep.failures.links import correlations_within


def test_correlations_are_those_of_values_less_their_strata_means():
    """Against numpy on residuals of two strata; a column that only differs between them has 0."""
    rng = np.random.default_rng(121)
    strata = np.repeat([0, 1], 20)
    columns = rng.normal(size=(40, 3)) + 5.0 * strata[:, None]
    columns[:, 2] = strata
    within = correlations_within(columns, strata)
    left = columns[:, :2] - np.array([columns[strata == s, :2].mean(axis=0) for s in strata])
    np.testing.assert_allclose(within[:2, :2], np.corrcoef(left.T), atol=1e-12)
    np.testing.assert_array_equal(within[2], 0.0)
