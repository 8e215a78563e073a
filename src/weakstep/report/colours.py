"""The colours of figures, by the tones that layers name."""

from __future__ import annotations

from collections.abc import Mapping

# Hues of Okabe and Ito, "Color Universal Design", 2008; two are darkened to reach a contrast of
# 3 to 1 on white. Greys and pale grounds are our own.
LIGHT: Mapping[str, str] = {
    "ink": "#1d1d1b",
    "muted": "#6b6b66",
    "band": "#e4e6e2",
    "main": "#0072b2",
    "signal": "#d55e00",
    "good": "#009e73",
    "window": "#f6e8b8",
    "fourth": "#a3528a",
    "fifth": "#8a6100",
    "paper": "#ffffff",
    "grid": "#dededa",
}
# The page resolves these names against report.css, so that dark and light both fit.
PAGE: Mapping[str, str] = {tone: f"var(--{tone})" for tone in LIGHT}
