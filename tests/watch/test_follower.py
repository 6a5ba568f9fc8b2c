"""From files in a folder to what is told of them."""

import json
import os
import threading
import time
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool

import pytest

from regscan.cli.watching import _hire
from regscan.errors import BadOutput, Problem
from regscan.offsets.table import read_marks, read_offsets
from regscan.recording.clock import Pitch
from regscan.run import load_run
from tests.watch.asking import MOVE, form_key
from tests.watch.drawn_press import STEP_M, DrawnPress
from tests.watch.records import encoded_frame
from tests.watch.running import InThread, Watch, until


def test_measured_offsets_are_those_that_were_drawn(watch, press):
    press.drop(6, cyan=(0.16, -0.05))
    watch.measured(6)
    along, across = watch.station("cyan").axes
    assert along.now_mm == pytest.approx(0.16, abs=0.006)
    assert across.now_mm == pytest.approx(-0.05, abs=0.006)
    assert [point.at for point in along.trend] == pytest.approx(
        [STEP_M * k for k in range(1, 7)], abs=0.001
    )
    until(lambda: watch.desk.picture[1] == press.name, "the newest picture")
    assert watch.desk.picture[2].startswith(b"\xff\xd8")  # JPEG
    assert watch.desk.watched().newest.web_m == pytest.approx(press.web_m, abs=0.001)


def test_a_slow_writer_is_waited_for(watch, press):
    press.number += 1
    press.note()
    data = press.encoded()
    path = press.folder / press.name
    with path.open("wb") as file:
        for part in (data[:300], data[300 : len(data) // 2]):
            file.write(part)
            file.flush()
            # Long enough that the half file was looked at and could not be read.
            tried = watch.follower.arrivals
            until(lambda tried=tried: press.name in tried._failing, "a look at half a file")
            tried._failing.pop(press.name)
        assert watch.desk.watched().counts.measured == 0
        file.write(data[len(data) // 2 :])
    watch.measured(1)
    assert watch.desk.watched().counts.unusable == 0
    assert "frame not used" not in watch.kinds()


def test_a_file_that_is_no_picture_is_named_once_and_the_rest_goes_on(watch, press, monkeypatch):
    monkeypatch.setattr("regscan.watch.arrivals.PATIENCE_S", 0.5)
    (press.folder / "00000.png").write_bytes(b"no picture")
    press.drop(2)
    watch.measured(2)
    until(lambda: watch.desk.watched().counts.unusable == 1, "the file to be given up")
    (event,) = [e for e in watch.desk.events_after(0) if e.kind == "frame not used"]
    assert event.words.startswith("00000.png is not an image")


def test_links_out_of_the_folder_are_told_and_not_read(watch, press, tmp_path):
    (tmp_path / "elsewhere.png").write_bytes(press.encoded())
    (press.folder / "away.png").symlink_to(tmp_path / "elsewhere.png")
    press.drop(1)
    watch.measured(1)
    until(lambda: "trouble" in watch.kinds(), "the link to be told")
    assert watch.desk.watched().counts.measured == 1


class Held:
    """Workers that finish nothing before they are let, and note what they were given."""

    processes = 2

    def __init__(self):
        self.given, self.go = [], threading.Event()
        self._web = 0
        self._lock = threading.Lock()

    def __call__(self, given):
        return self

    def submit(self, thing):
        future: Future[list[bytes]] = Future()
        if not hasattr(thing, "info"):
            future.set_result([b""])  # a picture
            return future
        with self._lock:
            self.given.append(thing.info.name)
            number = len(self.given)
        record = encoded_frame(number, name=thing.info.name)

        def finish():
            self.go.wait()
            future.set_result([record])

        threading.Thread(target=finish, daemon=True).start()
        return future

    def close(self):
        self.go.set()


def _counts(watch):
    """As the page tells them now."""
    status, body, _ = watch.ask("GET", "/state")
    assert status == 200
    return json.loads(body)["counts"]


def test_a_burst_of_500_leaves_the_page_answering_and_nothing_out(press, out):
    names = [f"{k:05d}.png" for k in range(500)]
    for name in names:
        (press.folder / name).write_bytes(b"its pixels do not matter here")
    (press.folder / "frames.csv").unlink()
    workers = Held()
    with Watch(press.folder, out, workers) as watch:
        watch.serve()
        until(lambda: watch.desk.queued == 500, "all 500 to be seen")
        # Measuring stands still, with everything queued: the page answers all the same.
        for _ in range(20):
            assert watch.ask("GET", "/")[0] == 200
        until(lambda: _counts(watch) == {"measured": 0, "unusable": 0, "queued": 500}, "the queue")
        assert len(workers.given) <= 2 * workers.processes  # the rest waits outside
        workers.go.set()
        seen = set()
        while len(workers.given) < 500 or watch.follower.behind:
            seen.add(_counts(watch)["measured"])
            time.sleep(0.1)
        watch.measured(500)
    assert workers.given == names  # each once, in order
    assert len(seen) > 2  # told while it was worked off, not only at its end
    table = read_offsets(out / "job-0001" / "offsets.csv")
    assert len(set(table["frame"])) == 500


def test_a_restart_goes_on_and_measures_nothing_twice(press, out):
    with Watch(press.folder, out) as watch:
        press.drop(4, cyan=(0.16, 0.0))
        watch.measured(4)
        watch.desk.move_made(3, "circumferential", -0.16)
        before = watch.desk.watched()
    press.drop(2)
    measured = []
    counted = type("Counted", (InThread,), {
        "submit": lambda self, thing: (measured.append(thing), InThread.submit(self, thing))[1]
    })  # fmt: skip
    with Watch(press.folder, out, counted) as watch:
        watch.measured(6)
        after = watch.desk.watched()
        assert [w.station for w in after.waits] == [w.station for w in before.waits] == [3]
        assert after.events > before.events
        until(lambda: watch.desk.picture[1] == press.name, "the newest picture")
    assert {thing.source.info.name if hasattr(thing, "source") else thing.info.name
            for thing in measured} <= {"00005.png", "00006.png"}  # fmt: skip
    folder = out / "job-0001"
    offsets, marks = read_offsets(folder / "offsets.csv"), read_marks(folder / "marks.csv")
    assert len(set(offsets["frame"])) == len(set(marks["frame"])) == 6
    assert load_run(folder / "run.json").inputs.frames_used == 6


def test_a_new_job_begins_a_folder_of_its_own(watch, press, out):
    press.drop(2)
    watch.measured(2)
    text = (press.folder / "job.toml").read_text().replace("six colours", "again")
    (press.folder / "job2.toml").write_text(text)
    wanted = ("job.toml", "job2.toml")
    until(lambda: watch.desk.watched().job_files == wanted, "the second job file")
    watch.desk.new_job("job2.toml")
    press.drop(1)
    until(lambda: watch.desk.watched().counts.measured == 1, "a frame of the new job")
    assert watch.desk.watched().job.endswith("again")
    assert load_run(out / "job-0001" / "run.json").inputs.frames_used == 2
    assert "new job" in watch.kinds()


def test_frames_under_way_when_the_job_changes_are_measured_for_the_new_one(press, out):
    workers = Held()
    (press.folder / "frames.csv").unlink()
    for k in range(6):
        (press.folder / f"{k}.png").write_bytes(b"its pixels do not matter here")
    with Watch(press.folder, out, workers) as watch:
        until(lambda: watch.desk.queued == 6, "the frames to be under way")
        watch.desk.new_job("job.toml")
        watch.measured(6)
    assert not (out / "job-0001" / "run.json").exists()  # nothing was measured for it
    assert load_run(out / "job-0002" / "run.json").inputs.frames_used == 6


def test_frames_without_a_list_lie_at_the_pitch_that_was_told(tmp_path, out):
    press = DrawnPress(tmp_path / "frames", listed=False)
    with Watch(press.folder, out, pitch=Pitch(None, 2.5)) as watch:
        press.drop(3)
        watch.measured(3)
        assert watch.desk.watched().newest.web_m == 5.0


def test_without_list_and_pitch_no_place_is_made_up(tmp_path, out):
    press = DrawnPress(tmp_path / "frames", listed=False)
    with Watch(press.folder, out) as watch:
        press.drop(2)
        watch.measured(2)
        now = watch.desk.watched()
        assert now.newest.web_m is None
        assert now.along == "frames"


class Dies(InThread):
    """The first frame's process is ended by the system, as often as it is told."""

    left = 0

    def submit(self, thing):
        if Dies.left and hasattr(thing, "info") and thing.info.name == "00001.png":
            Dies.left -= 1
            broken: Future[list[bytes]] = Future()
            broken.set_exception(BrokenProcessPool("ended"))
            return broken
        return super().submit(thing)


@pytest.mark.parametrize(("deaths", "unusable"), [(1, 0), (2, 0), (3, 1)])
def test_a_measuring_process_that_dies_is_replaced(press, out, deaths, unusable):
    """Once beside others, when nobody can tell which frame it was, then twice alone."""
    Dies.left = deaths
    press.drop(3)
    with Watch(press.folder, out, Dies) as watch:
        watch.measured(3 - unusable)
        assert watch.desk.watched().counts.unusable == unusable
        assert watch.kinds().count("trouble") == deaths


FULL = BadOutput("frames.jsonl", Problem("", "cannot be written", "make room"))


def test_a_full_disk_costs_no_frame(watch, press, monkeypatch):
    append, full = watch.desk.session.kept.append, [True, True]

    def refuse(record):
        if full:
            full.pop()
            raise FULL
        append(record)

    monkeypatch.setattr("regscan.watch.follower.AGAIN_S", 0.05)
    monkeypatch.setattr(watch.desk.session.kept, "append", refuse)
    press.drop(2)
    watch.measured(2)
    assert full == []
    assert watch.desk.fault == ""


def test_an_event_that_does_not_fit_costs_nothing_else(watch, press, monkeypatch):
    def refuse(line):
        raise FULL

    monkeypatch.setattr(watch.desk.log._file, "append", refuse)
    press.drop(6, cyan=(0.16, 0.0))
    watch.measured(6)
    assert "left tolerance" in watch.kinds()  # shown all the same
    assert len(list(watch.desk.session.kept.records())) == 6  # each once


def test_a_move_that_cannot_be_noted_is_told_where_it_was_pressed(served, monkeypatch):
    def refuse(made):
        raise FULL

    monkeypatch.setattr(served.desk.session.kept, "add_move", refuse)
    there = f"http://127.0.0.1:{served.port}"
    key = form_key(served)
    headers = {"Origin": there, "Content-Type": "application/json", "X-Regscan-Form": key}
    status, said, _ = served.ask("POST", "/moves", MOVE, **headers)
    assert status == 200
    assert json.loads(said)["done"] is False
    assert "make room" in json.loads(said)["words"]
    assert served.desk.watched().waits == ()


def test_the_command_measures_in_another_process(press, out):
    hired = []
    with Watch(press.folder, out, lambda given: hired.append(_hire(given)) or hired[0]) as watch:
        press.drop(2)
        watch.measured(2)
        workers = set(hired[0]._pool._processes)
        assert workers
        assert os.getpid() not in workers
        until(lambda: watch.desk.picture[1] == press.name, "the newest picture")
