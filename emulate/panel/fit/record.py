"""Record: what a fit knows of itself, as the table [fit] of a panel file keeps it."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from emulate.panel.fit.account import Account
from emulate.panel.fit.noise import Noise
from emulate.readings.readings import Readings

DIGITS = 12  # significant digits of what is kept: far below any interval


def record(readings: Readings, noise: Noise, account: Account, scatter: float) -> dict[str, Any]:
    """The table [fit]: where the numbers came from, how sure they are, and what is not known."""
    together = account.together
    return {
        "readings_digest": digest_of(readings),
        "readings": len(readings),
        "measured": list(account.measured),
        "noise": {"relative": _short(noise.relative), "floor_cdm2": _short(noise.floor),
                  "degrees_of_freedom": noise.dof, "how": noise.how},
        "misfit": _short(scatter),
        "interval": {n.key: [_short(n.low), _short(n.high)] for n in account.numbers},
        "undetermined": dict(sorted(account.undetermined.items())),
        "doubt": [{"about": doubt.about, "text": doubt.text} for doubt in account.doubts],
        "covariance": {
            "key": list(together.keys),
            "scale": list(together.scales),
            "matrix": [[_short(value) for value in row] for row in together.covariance.tolist()],
        },
    }  # fmt: skip


def digest_of(readings: Readings) -> str:
    """SHA-256 of what was read, whatever file it stood in and in whatever order."""
    lines = [
        repr((r.stimulus, r.luminance, r.xyz, r.spot, r.angle, r.room_lux, r.time_s, r.repeat))
        for r in readings
    ]
    lines += [repr((t.stimulus, t.time_s.tolist(), t.light.tolist())) for t in readings.traces]
    lines += [repr((s.stimulus, s.count)) for s in readings.switch_overs]
    return sha256("\n".join(sorted(lines)).encode()).hexdigest()


def _short(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")
