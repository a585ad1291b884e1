"""Fit: a panel out of readings, each effect beside the model that explains it (physics §10)."""
