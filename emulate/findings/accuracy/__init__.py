"""Accuracy: what the readings alone say of a panel, against what was asked; a table a file."""
