"""Report: everything that was found, on one page for viewers, in one file. Door to jinja2."""
