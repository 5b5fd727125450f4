"""Findings: solved pieces turned into sizes, verdicts, doubts and contradictions, in millimetres."""
