"""What a caller or a file says of its code values, and what is assumed where neither does."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace
from typing import Any, get_args

from emulate.errors import Caveat, RequestError
from emulate.frames.frame import Encoding, Gamut, Matrix, Metadata, Siting
from emulate.frames.gamut import Chromaticities, is_gamut
from emulate.frames.metadata import PEAKS
from emulate.transfer import SDR_WHITE, Transfer

HLG_PEAK = 1000.0  # cd/m², nominal peak of the reference display, ITU-R BT.2100-2 table 5


def _check_light(name: str, value: float | None) -> None:
    if value is not None and not (math.isfinite(value) and value > 0):
        raise RequestError(f"{name} {value:g}; accepted is light above 0 cd/m²")


def _check_peak(value: float | None) -> None:
    if value is not None and not PEAKS[0] <= value <= PEAKS[1]:
        low, high = PEAKS
        raise RequestError(f"mastered {value:g}; accepted is {low:g} to {high:g} cd/m²")


_OTHER_WORDS = {  # what else the trade calls them -> our word
    **dict.fromkeys(("rec709", "709", "bt.709", "rec.709", "srgb"), "bt709"),
    **dict.fromkeys(("rec2020", "2020", "bt.2020", "rec.2020"), "bt2020"),
    **dict.fromkeys(("p3-d65", "p3d65", "dci-p3", "displayp3", "display-p3"), "p3"),
    **dict.fromkeys(("st2084", "smpte2084", "hdr10", "st.2084"), "pq"),
    **dict.fromkeys(("arib-std-b67", "std-b67"), "hlg"),
    **dict.fromkeys(("bt1886", "gamma", "gamma2.4"), "sdr"),
}


def _meant(value: str, accepted: tuple[str, ...]) -> str:
    """A hint, where it is another word for one that is accepted."""
    meant = _OTHER_WORDS.get(value.lower(), value.lower())
    return f"; {meant} is the word here" if meant in accepted else ""


def _check_word(name: str, value: str | None, accepted: tuple[str, ...]) -> None:
    if value is not None and value not in accepted:
        hint = _meant(value, accepted)
        raise RequestError(f"{name} {value!r}; accepted are {', '.join(accepted)}{hint}")


def _check_gamut(gamut: Gamut | Chromaticities | None) -> None:
    if gamut is None or gamut in get_args(Gamut):
        return
    if isinstance(gamut, str) or not is_gamut(gamut):
        raise RequestError(
            f"gamut {gamut!r}; accepted are {', '.join(get_args(Gamut))}, or xy of red, green, "
            f"blue and, where it is not D65, white{_meant(str(gamut), get_args(Gamut))}"
        )


@dataclass(frozen=True)
class Said:
    """Everything a caller may say that a file does not; None where nothing is said.

    scale [cd/m²]: what 1.0 of a linear file stands for. absolute: 1.0 is 1 cd/m².
    transfer: pq, hlg, sdr or linear. gamut: bt2020, p3, bt709, or xy of red, green, blue and, where
    it is not D65, white. matrix: rgb, bt2020, bt709 or bt601. full_range: of the code values.
    siting of subsampled chroma: left, topleft or centre. hlg_peak [cd/m²]: nominal peak.
    sdr_white [cd/m²]: light of 100 % SDR. mastered [cd/m²]: peak of the screen it was graded on.

    Raises RequestError for a value that is none of these.
    """

    scale: float | None = None
    absolute: bool | None = None
    transfer: Transfer | None = None
    gamut: Gamut | Chromaticities | None = None
    matrix: Matrix | None = None
    full_range: bool | None = None
    siting: Siting | None = None
    hlg_peak: float | None = None
    sdr_white: float | None = None
    mastered: float | None = None

    def __post_init__(self) -> None:
        for name in ("scale", "hlg_peak", "sdr_white"):
            _check_light(name, getattr(self, name))
        for name, kind in (("transfer", Transfer), ("matrix", Matrix), ("siting", Siting)):
            _check_word(name, getattr(self, name), get_args(kind))
        _check_gamut(self.gamut)
        _check_peak(self.mastered)
        if self.absolute and self.scale not in (None, 1.0):
            raise RequestError(f"scale {self.scale:g} and absolute: say one of them")


_NOUNS = {
    "scale": "the light of 1.0",
    "absolute": "whether its light is absolute",
    "transfer": "its transfer function",
    "gamut": "its primaries",
    "matrix": "its colour matrix",
    "full_range": "its code range",
    "siting": "where its chroma is sited",
    "hlg_peak": "the peak of its display",
    "sdr_white": "the light of SDR white",
}

_ASSUMED_OF_TRANSFER = {
    "pq": Said(),
    "hlg": Said(hlg_peak=HLG_PEAK),
    "sdr": Said(sdr_white=SDR_WHITE),
    "linear": Said(scale=SDR_WHITE),
}


def settle(
    about: str, file: Said, caller: Said, assumed: Said, bits: int = 0
) -> tuple[Encoding, tuple[Caveat, ...]]:
    """How light was written down: the caller's word, else the file's, else what is assumed.

    A contradiction and every assumption becomes a caveat. `assumed` must hold a transfer function;
    what it leaves out is not asked (a linear file has no code range). bits: of the code values.
    """
    transfer = caller.transfer or file.transfer or assumed.transfer
    if transfer is None:
        raise TypeError("a transfer function must be assumed")
    assumed = _merged(assumed, _ASSUMED_OF_TRANSFER[transfer])
    file, caller = _with_scale(file), _with_scale(caller)
    caveats = (
        _contradictions(about, file, caller)
        + _idle(about, caller, transfer)
        + _assumptions(about, file, caller, assumed)
    )
    told = _merged(_merged(caller, file), assumed)
    return _encoding(told, bits), caveats


def claimed(about: str, file: Metadata, caller: Said) -> tuple[Metadata, tuple[Caveat, ...]]:
    """What is claimed of the content: the caller's word for its mastering peak, else the file's.

    A contradiction becomes a caveat.
    """
    peak, said = file.mastering_peak, caller.mastered
    if said is None or said == peak:
        return file, ()
    text = f"the file says mastered for {peak:g} cd/m², you say {said:g} cd/m²; yours is used"
    doubts = (Caveat(about, text),) if peak > 0 else ()
    return replace(file, mastering_peak=float(said)), doubts


def _encoding(told: Said, bits: int) -> Encoding:
    scales = {"pq": 0.0, "hlg": told.hlg_peak, "sdr": told.sdr_white, "linear": told.scale}
    transfer = told.transfer or "linear"
    return Encoding(
        transfer=transfer,
        gamut=told.gamut or "bt2020",
        matrix=told.matrix or "rgb",
        full_range=told.full_range is not False,
        bits=bits,
        siting=told.siting or "left",
        scale=float(scales[transfer] or 0.0),
    )


def _with_scale(said: Said) -> Said:
    return replace(said, scale=1.0, absolute=None) if said.absolute else said


def _merged(first: Said, second: Said) -> Said:
    """What `first` says, and where it says nothing, what `second` does."""
    spoken = {name: value for name, value in asdict(first).items() if value is not None}
    return replace(second, **spoken)


def _contradictions(about: str, file: Said, caller: Said) -> tuple[Caveat, ...]:
    said = asdict(caller)
    return tuple(
        Caveat(
            about,
            f"the file says {_shown(name, value)}, you say {_shown(name, said[name])}; "
            "yours is used",
        )
        for name, value in asdict(file).items()
        if None not in (value, said[name]) and value != said[name]
    )


def _idle(about: str, caller: Said, transfer: str) -> tuple[Caveat, ...]:
    """What the caller says of the light of another transfer function than this one."""
    owners = {"scale": "linear", "hlg_peak": "hlg", "sdr_white": "sdr"}
    return tuple(
        Caveat(about, f"you say {name} {getattr(caller, name):g}; it has no meaning for {transfer}")
        for name, owner in owners.items()
        if owner != transfer and getattr(caller, name) is not None
    )


def _assumptions(about: str, file: Said, caller: Said, assumed: Said) -> tuple[Caveat, ...]:
    known = asdict(_merged(caller, file))
    return tuple(
        Caveat(about, f"nothing says {_NOUNS[name]}; {_shown(name, value)} is assumed")
        for name, value in asdict(assumed).items()
        if value is not None and known[name] is None
    )


def _shown(name: str, value: Any) -> str:
    if name in ("scale", "hlg_peak", "sdr_white"):
        return f"{value:g} cd/m²"
    if name == "full_range":
        return "full range" if value else "narrow range"
    if name == "gamut" and not isinstance(value, str):
        return "primaries " + " ".join(f"({x:g}, {y:g})" for x, y in value)
    return f"{name} {value}"
