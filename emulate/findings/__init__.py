"""Findings: what a panel loses of a frame, one question a file (physics §9)."""
