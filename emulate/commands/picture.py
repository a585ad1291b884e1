"""`emulate picture`: one frame on one panel."""

from __future__ import annotations

from emulate.commands.material import frame_of
from emulate.commands.options import (
    Absolute,
    Age,
    Angle,
    At,
    Bars,
    Chroma,
    Distance,
    FrameFile,
    Gamut,
    Index,
    Intervals,
    Mastered,
    Noise,
    Out,
    PanelFile,
    Policy,
    Range,
    RoomLux,
    Scale,
    SdrWhite,
    Softness,
    Subpixels,
    Transfer,
)
from emulate.commands.telling import tell_findings, tell_standing
from emulate.commands.terminal import progress, say


def picture(
    frame: FrameFile,
    panel: PanelFile,
    out: Out,
    scale: Scale = None,
    absolute: Absolute = False,
    mastered: Mastered = None,
    transfer: Transfer = None,
    gamut: Gamut = None,
    range_: Range = None,
    at: At = None,
    index: Index = None,
    bars: Bars = False,
    policy: Policy = None,
    angle: Angle = 0.0,
    room_lux: RoomLux = 0.0,
    distance: Distance = 3.2,
    age: Age = 35.0,
    sdr_white: SdrWhite = 203.0,
    intervals: Intervals = None,
    chroma: Chroma = "444",
    softness: Softness = 0.0,
    noise: Noise = 0.0,
    subpixels: Subpixels = 1,
) -> None:
    """Show one HDR frame on a panel on file, and what is lost."""
    from emulate import Processing, load_panel
    from emulate.compiling import compile_aside
    from emulate.panel.fit.draws import is_fitted
    from emulate.showing import Conditions, show
    from emulate.sight import Viewer

    viewer = Viewer(distance_h=distance, age=age)
    given = {"scale": scale, "absolute": absolute, "at": at, "index": index, "bars": bars}
    signal = {"transfer": transfer, "gamut": gamut, "range_": range_, "mastered": mastered}
    with progress(7, "reading") as begin:
        on_file = load_panel(panel)
        light = frame_of(frame, **given, **signal)  # type: ignore[arg-type]
        compile_aside(light, on_file)
        done = Processing(chroma, softness, noise, subpixels)  # type: ignore[arg-type]
        knows = is_fitted(on_file) and done == Processing()
        sure = knows if intervals is None else intervals
        conditions = Conditions(policy, angle, room_lux, viewer, sdr_white, sure, done)
        findings = show(light, on_file, out, conditions, tell=begin)
    tell_standing(on_file)
    tell_findings(findings)
    say(
        f"Open {out / 'pair.png'} first; loss.png says where and why. light_pq.png is for an HDR "
        f"screen, light_sdr.png for any other, light.exr and findings.json for your own tools."
    )
