"""A frame on a panel, on the card: what `rendering` and `findings` ask of it."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache
from typing import TYPE_CHECKING, Any

from emulate.cuda.compiling import require_card
from emulate.errors import RequestError
from emulate.fused.draw import Drawn
from emulate.fused.sketch import Sketch
from emulate.fused.tables import OFF, tracking_of
from emulate.panel.zones import Statistics, Zones
from emulate.values import Numbers

if TYPE_CHECKING:
    from emulate.cuda.card import Card, Lit, Loaded


@dataclass(frozen=True, eq=False)
class CardSketch(Sketch):
    """A sketch whose planes are on the card; lit: None until its light source is known."""

    card: Card | None = None
    loaded: Loaded | None = None
    on_card: Lit | None = None

    def seen_by_zones(self) -> Statistics:
        """First pass: what zones see of the light asked."""
        assert self.card is not None
        assert self.loaded is not None
        return self.card.seen_by_zones(self.loaded)

    def lit_by(self, drive: Numbers, unknown_gain: float) -> CardSketch:
        """The same with its light source: drive [d]; what the cell does not know of the gain."""
        assert self.card is not None
        assert self.loaded is not None
        lit = self.card.light(self.loaded, drive, unknown_gain)
        return CardSketch(**_fields(self) | {"on_card": lit})

    def drawn(self) -> Drawn:
        """Everything a rendering shows, by the second pass."""
        assert self.card is not None
        assert self.on_card is not None
        return self.card.drawn(self.on_card)


def on_card(sketch: Sketch) -> CardSketch:
    """A sketch brought to the card. Raises RequestError where there is none or it does not fit."""
    require_card()
    _refuse_what_does_not_fit(sketch)
    card = the_card()
    return CardSketch(**_fields(sketch), card=card, loaded=card.load(sketch))


def _refuse_what_does_not_fit(sketch: Sketch) -> None:
    panel, (height, width) = sketch.panel, sketch.frame.shape
    zones = panel.zones
    if isinstance(zones, Zones) and (zones.rows > height or zones.columns > width):
        raise RequestError(
            f"panel zones {zones.columns} × {zones.rows} on a picture of {width} × {height} px: "
            "accepted is at most one zone a pixel, in either direction"
        )
    if tracking_of(panel.tracking).off > OFF:
        raise RequestError(
            f'{panel.name}: its tracking turns too sharply for device = "cuda"; accepted is '
            'device = "cpu", or levels further apart'
        )


@cache
def the_card() -> Card:
    """The card of this process, with its buffers."""
    from emulate.cuda.card import Card

    return Card()


def _fields(sketch: Sketch) -> dict[str, Any]:
    return {field.name: getattr(sketch, field.name) for field in fields(sketch)}
