"""Display: how a value shows itself in a notebook, although it lies below the rooms that draw.

A notebook asks the value itself (`_repr_html_`), and a value must not know of pictures. So this
room only knows a name: the room that draws is opened by it when a notebook asks, and not before.
It and the front door are the only places where a room is opened by name.
"""

from __future__ import annotations

from importlib import import_module

DRAWN_BY = "emulate.report.notebook"


class Displayed:
    """Parent of values that show themselves in a notebook."""

    def _repr_html_(self) -> str:
        """What a notebook shows of it: HTML with every name escaped."""
        html: str = import_module(DRAWN_BY).html_of(self)
        return html
