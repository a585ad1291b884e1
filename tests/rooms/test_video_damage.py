"""Damaged streams: told by time, skipped, and never patched over with made-up pictures."""

from __future__ import annotations

import struct
from fractions import Fraction

import pytest

from emulate.errors import MaterialError
from emulate.frames.clip import open_clip
from emulate.frames.source import Damage
from tests.rooms.moving import LOSSLESS, noise_planes, same_codes, write_moving

COUNT = 36
FRAMES = [noise_planes("yuv420p10le", i) for i in range(COUNT)]


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """HEVC with a key frame every 12 and a check sum in every picture."""
    path = tmp_path_factory.mktemp("damage") / "whole.mp4"
    return write_moving(path, "libx265", "yuv420p10le", FRAMES, options=LOSSLESS, rate=Fraction(24))


def broken(whole, where, length=40, name="broken.mp4"):
    """A copy with some bytes flipped at a share of its length."""
    data = bytearray(whole.read_bytes())
    start = int(where * len(data))
    for i in range(start, start + length):
        data[i] ^= 0xA5
    path = whole.with_name(name)
    path.write_bytes(data)
    return path


def parts(clip):
    pieces = list(clip.pieces())
    damage = [p for p in pieces if isinstance(p, Damage)]
    return [p for p in pieces if not isinstance(p, Damage)], damage


@pytest.mark.parametrize("where", [0.2, 0.35, 0.5, 0.65, 0.8, 0.9])
def test_flipped_bytes(whole, where):
    path = broken(whole, where)
    frames, damage = parts(open_clip(path))
    assert len(damage) == 1
    assert all(same_codes(f.picture, FRAMES[f.index]) for f in frames)
    missing = sorted(set(range(COUNT)) - {f.index for f in frames})
    assert missing == list(range(missing[0], missing[-1] + 1))
    assert len(missing) <= 12 + 3  # to the next key frame, and what waited for reordering
    assert damage[0].start_s == pytest.approx(missing[0] / 24)
    assert damage[0].end_s == pytest.approx((missing[-1] + 1) / 24)
    assert "decoder" in damage[0].text
    assert open_clip(path).damage() == tuple(damage)


def test_pieces_are_in_order_of_time(whole):
    pieces = list(open_clip(broken(whole, 0.5)).pieces())
    begins = [p.start_s if isinstance(p, Damage) else p.time_s for p in pieces]
    assert begins == sorted(begins)


def test_plain_iteration_says_so_beside_the_gap(whole):
    frames = list(open_clip(broken(whole, 0.5)))
    doubted = [f for f in frames if any("left out" in str(c) for c in f.caveats)]
    assert len(doubted) == 1
    after = frames[frames.index(doubted[0]) + 1]
    assert after.index > doubted[0].index + 1


def test_one_broken_frame_is_refused_and_its_neighbours_are_not(whole):
    path = broken(whole, 0.5)
    clip = open_clip(path)
    kept = {f.index for f in clip}
    lost = min(set(range(COUNT)) - kept)
    with pytest.raises(MaterialError, match=f"frame {lost} of {COUNT} cannot be read"):
        clip.frame(lost)
    for index in (lost - 1, max(kept)):
        assert same_codes(clip.frame(index).picture, FRAMES[index])


def test_the_span_asked_for_bounds_the_damage_told(whole):
    path = broken(whole, 0.5)
    (damage,) = open_clip(path).damage()
    assert open_clip(path, end_s=damage.start_s).damage() == ()
    assert open_clip(path, start_s=damage.end_s).damage() == ()
    middle = damage.start_s + 1 / 24
    (told,) = open_clip(path, start_s=middle).damage()
    assert (told.start_s, told.end_s) == pytest.approx((middle, damage.end_s))


def test_two_stretches(whole):
    path = broken(broken(whole, 0.25), 0.8, name="twice.mp4")
    frames, damage = parts(open_clip(path))
    assert len(damage) == 2
    assert damage[0].end_s < damage[1].start_s
    assert all(same_codes(f.picture, FRAMES[f.index]) for f in frames)


def test_prores_marks_its_own(tmp_path):
    frames = [noise_planes("yuv422p10le", i) for i in range(12)]
    path = write_moving(tmp_path / "a.mov", "prores_ks", "yuv422p10le", frames)
    kept, damage = parts(open_clip(broken(path, 0.5, 200)))
    assert len(damage) == 1
    assert len(kept) == 11
    assert "corrupt" in damage[0].text


def test_a_matroska_file_cut_short(tmp_path):
    path = write_moving(tmp_path / "a.mkv", "libx265", "yuv420p10le", FRAMES, options=LOSSLESS)
    data = path.read_bytes()
    path.write_bytes(data[: int(0.6 * len(data))])
    clip = open_clip(path)
    frames, damage = parts(clip)
    assert 12 <= len(frames) < COUNT
    assert all(same_codes(f.picture, FRAMES[f.index]) for f in frames)
    assert damage
    assert damage[-1].end_s == pytest.approx(COUNT / 24)
    assert any(word in damage[-1].text for word in ("ends early", "cannot be read on", "decoder"))


def test_an_mp4_cut_before_its_index_is_refused(whole):
    path = whole.with_name("cut.mp4")
    path.write_bytes(whole.read_bytes()[:20000])
    with pytest.raises(MaterialError, match=r"cut\.mp4: cannot be read as video"):
        open_clip(path)


def test_nothing_left_to_decode_is_refused(whole):
    data = bytearray(whole.read_bytes())
    at = data.index(b"mdat")
    size = struct.unpack(">I", data[at - 4 : at])[0]
    data[at + 4 : at + size - 4] = bytes(size - 8)
    path = whole.with_name("blank.mp4")
    path.write_bytes(data)
    with pytest.raises(MaterialError, match="nothing in it can be decoded"):
        open_clip(path)


def test_packets_left_out(tmp_path, whole):
    """A stream with a hole is one of uneven pace; what was predicted from the hole is damage."""
    import av

    path = tmp_path / "holed.mp4"
    hole = range(12, 24)
    with av.open(str(whole)) as source, av.open(str(path), "w") as target:
        stream = target.add_stream_from_template(source.streams.video[0], opaque=True)
        for packet in source.demux(video=0):
            if packet.dts is None or round(packet.pts * packet.time_base * 24) in hole:
                continue
            packet.stream = stream
            target.mux(packet)
    frames, damage = parts(open_clip(path))
    kept = {round(f.time_s * 24): f for f in frames}
    told = {i for i in range(COUNT) for d in damage if d.start_s - 1e-6 <= i / 24 < d.end_s - 1e-6}
    assert set(range(COUNT)) - set(kept) - set(hole) == told - set(hole)
    assert all(same_codes(f.picture, FRAMES[i]) for i, f in kept.items())
    assert not told & set(kept)


def test_an_empty_file(tmp_path):
    path = tmp_path / "empty.mkv"
    path.write_bytes(b"")
    with pytest.raises(MaterialError, match=r"empty\.mkv"):
        open_clip(path)
