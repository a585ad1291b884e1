"""The panel on file: one physical effect a file, put together in panel.py."""
