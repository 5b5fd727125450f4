"""Findings in the maker's words, on a terminal or for other programs."""
