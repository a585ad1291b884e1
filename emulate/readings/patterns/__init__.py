"""Patterns to put on screen, one family a file; plan.py puts them in order."""
