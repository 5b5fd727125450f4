"""The commands: a thin skin that parses, calls one function and shows the result."""

import gc

gc.set_threshold(100_000, 50, 50)
"""One short run makes many values that all live to its end: looking for dead ones is time lost, most of all while
modules are imported."""
