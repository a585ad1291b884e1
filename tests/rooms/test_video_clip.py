"""Clips: the right frame at every index and time, in bounded memory, left early without trouble."""

from __future__ import annotations

import gc
import pickle
import threading
import time
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from emulate.errors import MaterialError
from emulate.frames.ahead import ahead, one_ahead
from emulate.frames.clip import Clip, open_clip
from emulate.frames.frame import CodePicture, Frame
from emulate.frames.letterbox import letterbox_of
from emulate.frames.source import Damage
from emulate.frames.video import frame_of_clip
from emulate.frames.writing import write_exr, write_pq_png
from tests.rooms.moving import LOSSLESS, X265, flat_planes, noise_planes, same_codes, write_moving

COUNT = 40
MADE = [
    ("libx265", ".mp4", LOSSLESS),
    ("libx265", ".mkv", {"x265-params": f"{X265}:open-gop=1"}),
    ("libx265", ".ts", {"x265-params": X265}),
    ("libx264", ".mp4", {"x264-params": "keyint=15:bframes=3"}),
    ("libsvtav1", ".mp4", {"svtav1-params": "keyint=16", "preset": "10"}),
]


@pytest.fixture(scope="module", params=MADE, ids=lambda m: m[0] + m[1])
def counted(request, tmp_path_factory):
    """A clip of 40 frames that say their number in their luma, with B frames."""
    encoder, suffix, options = request.param
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SVT_LOG", "1")
        path = tmp_path_factory.mktemp("clip") / f"counted{suffix}"
        frames = [flat_planes("yuv420p10le", i) for i in range(COUNT)]
        return write_moving(
            path, encoder, "yuv420p10le", frames, options=options, rate=Fraction(24000, 1001)
        )


def number_in(frame) -> int:
    """What the frame's own luma says its number is."""
    return round((float(np.median(frame.picture.first)) - 64) / 16)


def test_every_frame_is_found_by_its_number(counted):
    clip = open_clip(counted)
    assert clip.frames == COUNT
    assert clip.rate == pytest.approx(24000 / 1001)
    for index in (0, 1, 7, 11, 12, 13, 23, 24, 30, COUNT - 1):
        frame = clip.frame(index)
        assert (number_in(frame), frame.index) == (index, index)


def test_every_frame_is_found_by_its_time(counted):
    """A time belongs to the frame on show: the one that began last."""
    period = 1001 / 24000
    for index in (0, 5, 12, 25, 39):
        for late in (0.0, 0.5, 0.98):
            frame = frame_of_clip(counted, at_s=(index + late) * period)
            assert number_in(frame) == index
            assert frame.time_s == pytest.approx(index * period, abs=1e-9)
        assert number_in(frame_of_clip(counted, at_s=round(index * period, 3))) == index


def test_iterating_is_in_order_and_repeatable(counted):
    clip = open_clip(counted)
    for _ in range(2):
        assert [number_in(f) for f in clip] == list(range(COUNT))
    assert [f.index for f in clip] == list(range(COUNT))


@pytest.mark.parametrize(
    ("start", "end", "every"),
    [(0.0, 0.5, 1), (0.4, 1.2, 1), (0.5, None, 3), (12 * 1001 / 24000, 1.3, 2), (1.6, None, 1)],
)
def test_part_of_a_clip(counted, start, end, every):
    """Expected frames by the plain definition: those that begin from start on, before end."""
    begins = [i * 1001 / 24000 for i in range(COUNT)]
    inside = [i for i, t in enumerate(begins) if t >= start - 1e-9 and (end is None or t < end)]
    clip = open_clip(counted, start_s=start, end_s=end, every=every)
    assert [number_in(f) for f in clip] == inside[::every]
    assert clip.frames == len(inside[::every])
    assert clip.rate == pytest.approx(24000 / 1001 / every)
    last = inside[-1] + 1
    assert clip.duration_s == pytest.approx((last - inside[0]) * 1001 / 24000)


def test_uneven_pace(tmp_path):
    """Times are the stream's own, numbers count frames; both found again after seeking."""
    stamps = [0, 40, 80, 200, 210, 500, 540, 580, 900, 1000, 1040, 1500]
    frames = [flat_planes("yuv420p10le", i) for i in range(len(stamps))]
    path = write_moving(
        tmp_path / "uneven.mkv",
        "libx265",
        "yuv420p10le",
        frames,
        options=LOSSLESS,
        stamps=stamps,
        time_base=Fraction(1, 1000),
    )
    clip = open_clip(path)
    assert clip.frames == len(stamps)
    read = list(clip)
    assert [number_in(f) for f in read] == list(range(len(stamps)))
    assert [f.time_s for f in read] == pytest.approx([s / 1000 for s in stamps])
    for index, stamp in enumerate(stamps):
        assert number_in(clip.frame(index)) == index
        assert number_in(clip.at(stamp / 1000 + 0.005)) == index
    assert number_in(clip.at(0.49)) == 4
    part = open_clip(path, start_s=0.205, end_s=0.9)
    assert [number_in(f) for f in part] == [4, 5, 6, 7]
    assert part.frames == 4


def test_a_stream_without_times(tmp_path):
    frames = [flat_planes("yuv420p10le", i) for i in range(9)]
    path = write_moving(tmp_path / "bare.hevc", "libx265", "yuv420p10le", frames, options=LOSSLESS)
    clip = open_clip(path, rate=50)
    assert any("no times" in str(c) and "50" in str(c) for c in clip.caveats)
    assert clip.frames is None
    assert clip.duration_s is None
    read = list(clip)
    assert [number_in(f) for f in read] == list(range(9))
    assert [f.time_s for f in read] == pytest.approx([i / 50 for i in range(9)])
    assert number_in(clip.frame(6)) == 6
    assert number_in(clip.at(0.05)) == 2
    with pytest.raises(MaterialError, match="no frame 9"):
        clip.frame(9)
    assert [number_in(f) for f in open_clip(path, rate=50, start_s=0.1)] == [5, 6, 7, 8]


def test_a_rate_against_the_streams_own_is_a_caveat(counted):
    clip = open_clip(counted, rate=50)
    assert clip.rate == pytest.approx(24000 / 1001)
    assert any("rate of 50" in str(c) for c in clip.caveats)


def test_leaving_early_leaves_nothing_running(counted):
    before = threading.active_count()
    for _ in range(5):
        for frame in open_clip(counted):
            if frame.index == 2:
                break
        del frame
    pieces = open_clip(counted).pieces()
    next(pieces)
    pieces.close()
    gc.collect()
    assert threading.active_count() == before


def test_a_reader_that_fails_leaves_nothing_running(counted):
    def fail():
        for _ in open_clip(counted):
            raise KeyError("mine")

    with pytest.raises(KeyError, match="mine"):
        fail()
    gc.collect()
    deadline = time.monotonic() + 5
    while threading.active_count() > 1 and time.monotonic() < deadline:
        time.sleep(0.01)
    assert not [t for t in threading.enumerate() if t.name == "frames ahead"]


@pytest.mark.parametrize(
    ("reading", "most"),
    [(lambda items: ahead(items, depth=2), 4), (one_ahead, 2)],  # one read, the rest ahead of it
    ids=["ahead", "one ahead"],
)
def test_reading_ahead_is_bounded_and_raises_in_place(reading, most):
    made = []

    def items():
        for i in range(100):
            made.append(i)
            yield i
        raise MaterialError("at the end")

    reader = reading(items())
    assert next(reader) == 0
    time.sleep(0.1)
    assert len(made) <= most
    with pytest.raises(MaterialError, match="at the end"):
        list(reader)
    assert made == list(range(100))


def test_frames_are_views_and_do_not_pile_up(tmp_path):
    """Old frames are let go while iterating: at most a handful live at once."""
    import weakref

    frames = [noise_planes("yuv420p10le", i % 4) for i in range(60)]
    path = write_moving(tmp_path / "a.mkv", "ffv1", "yuv420p10le", frames)
    alive: list = []
    most = 0
    for frame in open_clip(path):
        assert not frame.picture.first.flags.owndata
        assert not frame.picture.first.flags.writeable
        alive.append(weakref.ref(frame.picture))
        most = max(most, sum(ref() is not None for ref in alive))
    assert len(alive) == 60
    assert most <= 6  # this one, the one held back, two waiting, one in hand, one changing hands


def test_decoded_pictures_are_freed_without_the_collector(tmp_path):
    """A picture that refers to itself would wait for Python's collector: a gigabyte at 4K."""
    import av

    frames = [noise_planes("yuv420p10le", i % 4) for i in range(40)]
    path = write_moving(tmp_path / "a.mp4", "libx265", "yuv420p10le", frames, options=LOSSLESS)
    gc.collect()
    gc.disable()
    try:
        most = 0
        for _ in open_clip(path):
            most = max(most, sum(isinstance(o, av.VideoFrame) for o in gc.get_objects()))
    finally:
        gc.enable()
    assert 1 <= most <= 10


def test_frames_outlive_their_clip(tmp_path):
    frames = [noise_planes("yuv420p10le", i) for i in range(4)]
    path = write_moving(tmp_path / "a.mkv", "ffv1", "yuv420p10le", frames)
    kept = list(open_clip(path))
    gc.collect()
    assert all(same_codes(f.picture, p) for f, p in zip(kept, frames, strict=True))


def lights(count, start=0):
    rng = np.random.default_rng(5)
    return {start + i: rng.uniform(0, 100, (8, 12, 3)).astype(np.float32) for i in range(count)}


def write_stills(folder: Path, made, name="shot_%04d.exr"):
    folder.mkdir(exist_ok=True)
    for number, light in made.items():
        write_exr(light, folder / (name % number))


@pytest.mark.parametrize("asked", ["", "shot_%04d.exr", "shot_####.exr", "shot_*.exr"])
def test_stills_as_a_clip(tmp_path, asked):
    made = lights(5, start=1001)
    write_stills(tmp_path / "shots", made)
    clip = open_clip(tmp_path / "shots" / asked, rate=25, absolute=True)
    assert (clip.frames, clip.rate, clip.duration_s) == (5, 25, pytest.approx(0.2))
    for _ in range(2):
        read = list(clip)
        assert [f.index for f in read] == [0, 1, 2, 3, 4]
        assert [f.time_s for f in read] == pytest.approx([0, 0.04, 0.08, 0.12, 0.16])
        for frame, light in zip(read, made.values(), strict=True):
            np.testing.assert_allclose(frame.light, light, rtol=1e-6)
    assert clip.at(0.1).index == 2
    assert clip.frame(4).name == "shot_1005.exr"
    assert clip.caveats == ()
    assert any("24" in str(c) for c in open_clip(tmp_path / "shots", absolute=True).caveats)


def test_png_stills_keep_what_they_say(tmp_path):
    """PQ PNG stills are code pictures: their light is within half a 16-bit code, 0.01 %."""
    made = lights(3)
    (tmp_path / "s").mkdir()
    for number, light in made.items():
        write_pq_png(light, tmp_path / "s" / f"still{number}.png")
    clip = open_clip(tmp_path / "s", rate=24)
    assert clip.encoding.transfer == "pq"
    for frame, light in zip(clip, made.values(), strict=True):
        np.testing.assert_allclose(frame.light, light, rtol=2e-3, atol=1e-3)


def test_stills_missing_broken_or_of_another_size(tmp_path):
    made = lights(6)
    del made[2]
    made[4] = np.ones((4, 4, 3), np.float32)
    write_stills(tmp_path / "shots", made)
    (tmp_path / "shots" / "shot_0003.exr").write_bytes(b"no picture")
    clip = open_clip(tmp_path / "shots", rate=10, absolute=True)
    kinds = [p.index if not isinstance(p, Damage) else str(p) for p in clip.pieces()]
    assert [k for k in kinds if isinstance(k, int)] == [0, 1, 5]
    told = [k for k in kinds if isinstance(k, str)]
    assert told[0].startswith("0.200 to 0.300 s:")
    assert "number 2 is missing" in told[0]
    assert "shot_0003.exr" in told[1]
    assert "4×4" in told[2]
    assert len(clip.damage()) == 3
    assert [f.index for f in clip] == [0, 1, 5]
    with pytest.raises(MaterialError, match="missing"):
        clip.frame(2)


def test_stills_that_are_no_sequence(tmp_path):
    with pytest.raises(MaterialError, match="no stills"):
        open_clip(tmp_path)
    with pytest.raises(MaterialError, match="no stills"):
        open_clip(tmp_path / "none" / "a_%04d.exr")
    write_stills(tmp_path / "two", lights(2))
    write_stills(tmp_path / "two", lights(2), name="other_%04d.exr")
    with pytest.raises(MaterialError, match="one sequence"):
        open_clip(tmp_path / "two")
    assert open_clip(tmp_path / "two" / "other_####.exr", absolute=True).frames == 2
    with pytest.raises(MaterialError, match=r"other_0001\.exr: a still: use `emulate picture`"):
        open_clip(tmp_path / "two" / "other_0001.exr")
    with pytest.raises(MaterialError, match=r"none\.exr: no such file"):
        open_clip(tmp_path / "none.exr")


def test_bars_are_found_and_told_to_frames(tmp_path):
    """96×64 with eight rows of black above and below; a dark scene first, subtitles in a bar."""
    frames = [barred(scene, top=8) for scene in ("dark", "dim", "lit", "lit", "subtitle", "dark")]
    path = write_moving(
        tmp_path / "a.mp4", "libx265", "yuv420p10le", frames * 2, options={"x265-params": X265}
    )
    clip = open_clip(path)
    assert clip.letterbox() == (8, 56, 0, 96)
    assert [f.active for f in clip.without_bars()] == [(8, 56, 0, 96)] * 12
    assert next(iter(clip)).active is None
    assert clip.without_bars().frame(3).active == (8, 56, 0, 96)


@pytest.mark.parametrize(
    ("scene", "found"),
    [
        ("lit", None),
        ("dark", None),
        ("lamp", None),
        ("window", None),
        ("pillars", (0, 64, 12, 84)),
        ("one bar", None),
    ],
)
def test_what_is_no_letterbox(tmp_path, scene, found):
    frames = [barred(scene, top=0)] * 3
    path = write_moving(tmp_path / "a.mkv", "ffv1", "yuv420p10le", frames)
    assert open_clip(path).letterbox() == found


def barred(scene, top):
    rng = np.random.default_rng(abs(top) + 9)
    luma = np.full((64, 96), 64, np.uint16)
    inside = luma[top : 64 - top]
    if scene in ("lit", "subtitle"):
        inside[:] = rng.integers(200, 700, inside.shape)
    if scene == "dim":
        inside[10:20, 30:60] = 90
    if scene == "subtitle":
        luma[58:62, 30:66:3] = 600
    if scene == "lamp":
        luma[30:34, 60:64] = 800
    if scene == "window":
        luma[16:48, 24:72] = 800
    if scene == "pillars":
        luma[:, 12:84] = 400
    if scene == "one bar":
        luma[20:, :] = 400
    return [luma, *(np.full((32, 48), 512, np.uint16) for _ in range(2))]


def test_a_picture_without_bars_is_told_from_two_frames():
    lit, looked = Frame.from_light(np.ones((9, 16, 3))), []

    def frames():
        for _ in range(24):
            looked.append(lit)
            yield lit

    assert letterbox_of(frames()) is None
    assert len(looked) == 2


def test_bars_of_stills(tmp_path):
    light = np.zeros((40, 60, 3), np.float32)
    light[5:35] = 20
    write_stills(tmp_path / "s", dict.fromkeys(range(3), light))
    assert open_clip(tmp_path / "s", rate=24, absolute=True).letterbox() == (5, 35, 0, 60)


def test_a_clip_travels_between_processes(counted):
    clip = pickle.loads(pickle.dumps(open_clip(counted, start_s=0.5)))
    assert number_in(next(iter(clip))) == 12
    frame = pickle.loads(pickle.dumps(clip.frame(7)))
    assert number_in(frame) == 7
    assert not frame.picture.first.flags.writeable


def test_a_clip_is_a_value(counted):
    clip = open_clip(counted)
    assert isinstance(clip, Clip)
    assert isinstance(clip.frame(0).picture, CodePicture)
    with pytest.raises(AttributeError):
        clip.every = 2
