"""Words."""
from fitsolve.report.demands import contradiction_text

__all__ = ["contradiction_text"]
