"""HDR tone-mapping and local-dimming emulator. Everything public is named here and nowhere else."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from emulate.errors import Caveat as Caveat
    from emulate.errors import EmulateError as EmulateError
    from emulate.frames.frame import Frame as Frame
    from emulate.sight import Viewer as Viewer

_ROOMS = {
    "Caveat": "emulate.errors",
    "EmulateError": "emulate.errors",
    "Frame": "emulate.frames.frame",
    "Viewer": "emulate.sight",
}

__all__ = sorted(_ROOMS)


def __getattr__(name: str) -> Any:
    """Opens a room when one of its names is first used, so that `import emulate` stays light."""
    if name not in _ROOMS:
        raise AttributeError(f"module 'emulate' has no attribute {name!r}")
    value = getattr(import_module(_ROOMS[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
