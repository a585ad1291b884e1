"""Metadata of streams: read as it was written, believed where it can be true."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from emulate.frames.clip import open_clip
from emulate.frames.frame import DynamicMetadata, Metadata
from emulate.frames.metadata import checked
from emulate.frames.video import frame_of_clip
from tests.rooms.moving import LOSSLESS, X265, flat_planes, write_moving

BT2020 = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046), (0.3127, 0.3290))  # BT.2020-2 table 3
DISPLAY = "G(8500,39850)B(6550,2300)R(35400,14600)WP(15635,16450)"  # the same, in steps of 0.00002
HANDHELD = Path(__file__).parents[3] / "shared" / "hdr" / "handheld_pq_av1.mp4"


def clip_saying(tmp_path, told, suffix=".mp4", frames=3):
    options = {"x265-params": f"{X265}:{told}"}
    planes = [flat_planes("yuv420p10le", i) for i in range(frames)]
    path = tmp_path / f"a{suffix}"
    return write_moving(path, "libx265", "yuv420p10le", planes, options=options)


@pytest.mark.parametrize("suffix", [".mp4", ".mkv", ".ts"])
def test_mastering_display_and_light_levels(tmp_path, suffix):
    """L(10000000,50) is 1000 and 0.005 cd/m² in steps of 0.0001: ITU-T H.265 D.3.28."""
    told = f"master-display={DISPLAY}L(10000000,50):max-cll=1234,321"
    clip = open_clip(clip_saying(tmp_path, told, suffix))
    expected = Metadata(1000.0, 0.005, BT2020, 1234.0, 321.0)
    for metadata in (clip.metadata, *(f.metadata for f in clip), clip.frame(2).metadata):
        assert metadata.mastering_peak == pytest.approx(1000)
        assert metadata.mastering_black == pytest.approx(0.005)
        assert np.allclose(metadata.mastering_primaries, expected.mastering_primaries)
        assert (metadata.max_cll, metadata.max_fall) == (1234, 321)
    assert clip.caveats == ()
    over = open_clip(tmp_path / f"a{suffix}", mastered=4000)
    for frame in (over, *over):
        assert (frame.metadata.mastering_peak, frame.metadata.max_cll) == (4000, 1234)
        assert [c.text for c in frame.caveats] == [
            "the file says mastered for 1000 cd/m², you say 4000 cd/m²; yours is used"
        ]


def test_a_stream_that_says_nothing(tmp_path):
    clip = open_clip(clip_saying(tmp_path, "hash=1"))
    assert clip.metadata == Metadata()
    assert not [c for c in clip.caveats if "claims" in str(c)]
    said = open_clip(tmp_path / "a.mp4", mastered=4000)
    for frame in (said, said.frame(1)):
        assert frame.metadata == Metadata(mastering_peak=4000)
        assert frame.caveats == clip.caveats


@pytest.mark.parametrize(
    ("told", "kept", "quoted"),
    [
        (  # a peak written in the wrong step, as real files have it: 0.1 cd/m²
            f"master-display={DISPLAY}L(1000,1):max-cll=1000,400",
            Metadata(0, 0, BT2020, 1000, 400),
            "0.1 cd/m²",
        ),
        (  # primaries in the order green, blue, red
            "master-display=G(6550,2300)B(35400,14600)R(8500,39850)WP(15635,16450)L(10000000,50)",
            Metadata(1000, 0.005, None),
            "not in the order red, green, blue",
        ),
        (f"master-display={DISPLAY}L(10000000,60000)", Metadata(1000, 0, BT2020), "6 cd/m²"),
        ("max-cll=400,1000", Metadata(), "MaxCLL 400 and MaxFALL 1000"),
        ("max-cll=20000,100", Metadata(), "MaxCLL 20000"),
        (
            "master-display=G(8500,39850)B(6550,2300)R(35400,14600)WP(35000,14000)L(10000000,50)",
            Metadata(1000, 0.005, None),
            "(0.7, 0.28)",
        ),
    ],
)
def test_what_cannot_be_is_dropped_and_quoted(tmp_path, told, kept, quoted):
    clip = open_clip(clip_saying(tmp_path, told))
    got = clip.metadata
    assert (got.mastering_peak, got.max_cll, got.max_fall) == pytest.approx(
        (kept.mastering_peak, kept.max_cll, kept.max_fall)
    )
    assert got.mastering_black == pytest.approx(kept.mastering_black)
    assert (got.mastering_primaries is None) == (kept.mastering_primaries is None)
    claims = [str(c) for c in clip.caveats if "claims" in str(c)]
    assert len(claims) == 1
    assert quoted in claims[0]
    assert "dropped" in claims[0]
    for frame in clip:
        assert sum("claims" in str(c) for c in frame.caveats) == 1


def test_nothing_claimed_is_nothing_doubted():
    assert checked("a", Metadata()) == (Metadata(), ())
    full = Metadata(4000, 0.0001, BT2020, 4000, 1000)
    assert checked("a", full) == (full, ())
    p3 = Metadata(1000, 0, ((0.68, 0.32), (0.265, 0.69), (0.15, 0.06), (0.3127, 0.329)))
    assert checked("a", p3) == (p3, ())  # SMPTE RP 431-2 primaries at D65


@pytest.mark.parametrize(
    ("dynamic", "quoted"),
    [
        (DynamicMetadata((500, 20000, 1), 10), "20000"),
        (DynamicMetadata((500, 400, 1), 600), "600"),
        (DynamicMetadata((500, 400, 1), 6, knee=(0.1, 1.5)), "1.5"),
        (DynamicMetadata((500, 400, 1), 6, percentiles=((101, 5.0),)), "percentiles"),
    ],
)
def test_dynamic_claims_that_cannot_be(dynamic, quoted):
    kept, (caveat,) = checked("a", Metadata(dynamic=dynamic))
    assert kept.dynamic is None
    assert quoted in str(caveat)


class Bits:
    """A bit string, most significant first."""

    def __init__(self):
        self.text = ""

    def put(self, value, width):
        self.text += format(value, f"0{width}b")

    def bytes(self):
        padded = self.text + "0" * (-len(self.text) % 8)
        return int(padded, 2).to_bytes(len(padded) // 8, "big")


def t35_of_st2094_40(scl, average, percentiles, bright, target, knee, anchors):
    """User data of SMPTE ST 2094-40 application 4 in the syntax of CTA-861-H annex S, from memory.

    scl and average in 1/100 000 of 10 000 cd/m², knee in 1/4095, anchors in 1/1023.
    """
    bits = Bits()
    for value, width in (
        (0xB5, 8),
        (0x3C, 16),
        (1, 16),
        (4, 8),
        (1, 8),
        (1, 2),
        (target, 27),
        (0, 1),
    ):
        bits.put(value, width)
    for value in (*scl, average):
        bits.put(value, 17)
    bits.put(len(percentiles), 4)
    for percent, value in percentiles:
        bits.put(percent, 7)
        bits.put(value, 17)
    bits.put(bright, 10)
    bits.put(0, 1)
    bits.put(1, 1)
    bits.put(knee[0], 12)
    bits.put(knee[1], 12)
    bits.put(len(anchors), 4)
    for anchor in anchors:
        bits.put(anchor, 10)
    bits.put(0, 1)
    return bits.bytes()


def sei(payload):
    """A prefix SEI unit with registered user data (type 4): ITU-T H.265 7.3.2.4 and D.2.6."""
    raw = bytes((0x4E, 0x01, 4, len(payload))) + payload + b"\x80"
    escaped, zeros = bytearray(), 0
    for byte in raw:  # emulation prevention, 7.4.2
        if zeros >= 2 and byte <= 3:
            escaped.append(3)
            zeros = 0
        escaped.append(byte)
        zeros = zeros + 1 if byte == 0 else 0
    return b"\0\0\0\1" + bytes(escaped)


def with_sei(stream, payloads):
    """An Annex B stream with one SEI before each picture (all its slices in one unit)."""
    units = stream.split(b"\0\0\0\1")[1:]
    out, picture = b"", 0
    for unit in units:
        unit = unit.removesuffix(b"\0")
        for part in unit.split(b"\0\0\1"):
            if (part[0] >> 1) & 0x3F < 32:  # a coded slice
                out += sei(payloads[picture])
                picture += 1
            out += b"\0\0\0\1" + part
    assert picture == len(payloads)
    return out


def test_dynamic_metadata_of_each_frame(tmp_path):
    """Every frame has its own; the numbers are those put into the bits."""
    planes = [flat_planes("yuv420p10le", i) for i in range(4)]
    options = {"x265-params": LOSSLESS["x265-params"] + ":bframes=0:hash=0"}
    bare = write_moving(tmp_path / "bare.hevc", "libx265", "yuv420p10le", planes, options=options)
    anchors = (300, 500, 650, 750, 830, 890, 930, 960, 980)
    payloads = [
        t35_of_st2094_40(
            (5000 + i, 4000, 3000), 800, ((1, 10), (99, 4500)), 25, 400, (409, 1228), anchors
        )
        for i in range(4)
    ]
    path = tmp_path / "dynamic.hevc"
    path.write_bytes(with_sei(bare.read_bytes(), payloads))
    clip = open_clip(path, rate=24)
    assert clip.metadata.dynamic is None
    read = [f.metadata.dynamic for f in clip]
    assert [round(d.scene_peak, 6) for d in read] == [500.0, 500.1, 500.2, 500.3]
    for dynamic in read:
        assert dynamic.max_scl[1:] == pytest.approx((400, 300))
        assert dynamic.average == pytest.approx(80)
        assert [p for p, _ in dynamic.percentiles] == [1, 99]
        assert [v for _, v in dynamic.percentiles] == pytest.approx([1, 450])
        assert dynamic.bright_share == pytest.approx(0.025)
        assert dynamic.target_peak == 400
        assert dynamic.knee == pytest.approx((409 / 4095, 1228 / 4095))
        assert dynamic.anchors == pytest.approx([a / 1023 for a in anchors])


def test_dynamic_metadata_that_lies(tmp_path):
    planes = [flat_planes("yuv420p10le", 0)]
    options = {"x265-params": LOSSLESS["x265-params"] + ":hash=0"}
    bare = write_moving(tmp_path / "bare.hevc", "libx265", "yuv420p10le", planes, options=options)
    payload = t35_of_st2094_40((100, 100, 100), 90000, (), 0, 400, (0, 0), ())
    path = tmp_path / "lies.hevc"
    path.write_bytes(with_sei(bare.read_bytes(), [payload]))
    frame = frame_of_clip(path)
    assert frame.metadata.dynamic is None
    assert any("mean of 9000 above a peak of 10" in str(c) for c in frame.caveats)


@pytest.mark.skipif(not HANDHELD.exists(), reason="the folder of real material is not here")
def test_a_real_clip():
    """127 frames of 720×1280 at 30000/1001, by its own sample table; it makes no light claims."""
    clip = open_clip(HANDHELD)
    assert (clip.frames, clip.shape) == (127, (1280, 720))
    assert clip.rate == pytest.approx(30000 / 1001)
    encoding = clip.encoding
    assert (encoding.transfer, encoding.gamut, encoding.bits) == ("pq", "bt2020", 10)
    assert clip.metadata == Metadata()
    assert sum(1 for _ in clip) == 127
    assert clip.damage() == ()
    assert clip.letterbox() is None
