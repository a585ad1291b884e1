"""What to put on screen, and what the meter said: patterns, sheets, meter files, traces."""
