"""The one error by which the ground says that a figure is beyond what its formula holds for."""

from __future__ import annotations


class OutOfRangeError(ValueError):
    """A figure lies outside the range of a formula: a sentence with the value, the range and the next step.

    Whoever works on figures that people typed catches this and nothing wider: any other error is a fault.
    """
