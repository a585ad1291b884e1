"""Damaged files for every reader: mutation runs, coverage-guided runs, and what both start from."""
