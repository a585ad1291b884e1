"""Many workers, the same bytes as one process; a worker that is lost costs its chunk only."""

from __future__ import annotations

import os
import signal

import numpy as np
import pytest

from emulate import Frame, open_clip, save_film, scan
from emulate.films.cluster import chunks, sweep
from emulate.films.terms import Terms
from tests.rooms.filmed import CAVE, PANEL, SNOW, VIEWER, bytes_of, lights, write_film

distributed = pytest.importorskip("distributed", reason="the extra `cluster` is not installed")


@pytest.fixture(scope="module")
def clip(tmp_path_factory):
    return open_clip(write_film(tmp_path_factory.mktemp("film") / "film.mp4"))


@pytest.fixture(scope="module")
def client():
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        yield client


def test_chunks_are_the_whole_clip(clip):
    parts = list(chunks(clip, PANEL, Terms()))
    ends = [until for _, until in parts]
    assert ends == [0, 24, 48, None]
    assert [start and start.index for start, _ in parts] == [None, 0, 24, 48]


def test_two_workers_come_to_the_bytes_of_one_process(clip, client, tmp_path):
    serial = scan(clip, PANEL, policy="by_frame", viewer=VIEWER, journal=tmp_path / "a.jsonl")
    shared = scan(
        clip, PANEL, policy="by_frame", viewer=VIEWER, journal=tmp_path / "b.jsonl", client=client
    )
    save_film(serial, tmp_path / "serial")
    save_film(shared, tmp_path / "shared")
    assert len(shared.table) == CAVE + SNOW
    assert bytes_of(tmp_path / "serial") == bytes_of(tmp_path / "shared")
    assert (tmp_path / "a.jsonl").read_bytes() == (tmp_path / "b.jsonl").read_bytes()


def test_a_sweep_is_the_same_on_workers(client):
    frame = Frame.from_light(lights()[5])
    here = sweep(frame, [PANEL], ["fixed", "by_frame"], viewer=VIEWER)
    there = sweep(frame, [PANEL], ["fixed", "by_frame"], viewer=VIEWER, client=client)
    assert len(here) == 2
    for one, other in zip(here, there, strict=True):
        assert {n: f.sentence for n, f in one.items()} == {n: f.sentence for n, f in other.items()}
        values = [[f.value for f in each.values()] for each in (one, other)]
        assert np.array_equal(*values, equal_nan=True)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL on this system")
def test_a_lost_worker_costs_its_chunk_only(clip, client, tmp_path):
    pids = list(client.run(os.getpid).values())
    killed = []

    def tell(now):
        if now.done == 1 and not killed:
            killed.append(pids[0])
            os.kill(pids[0], signal.SIGKILL)

    shared = scan(clip, PANEL, viewer=VIEWER, client=client, on_progress=tell)
    assert killed
    save_film(shared, tmp_path / "shared")
    save_film(scan(clip, PANEL, viewer=VIEWER), tmp_path / "serial")
    assert bytes_of(tmp_path / "serial") == bytes_of(tmp_path / "shared")
