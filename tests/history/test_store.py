"""The file: nothing lost or half-written, old ones brought up to date, broken ones refused."""

import shutil
import sqlite3
import subprocess
import sys
import textwrap
import time
from contextlib import closing

import pytest

from regscan.errors import BadHistory, BadOutput
from regscan.history import opening
from regscan.history.opening import connect, migrate
from regscan.history.prune import Prune, chosen
from regscan.history.schema import APPLICATION, FIRST, NEWEST
from regscan.history.store import open_history
from tests.history.invented import kept, setting, weekly_readings


def filled(path, runs=5, **more):
    with open_history(path, create=True) as history:
        for number in range(runs):
            history.add(
                kept(
                    number,
                    number,
                    weekly_readings(number),
                    [setting(2, "cyan", 0.01, 0.02)],
                    **more,
                )
            )
    return path


def counts(path):
    with closing(sqlite3.connect(path)) as link:
        return [
            link.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for table in ("run", "reading", "setting")
        ]


def test_a_run_comes_back_as_it_was_kept(tmp_path):
    run = kept(7, 3, weekly_readings(1), [setting(2, "cyan", 0.01, 0.02)], metres=None, note="new")
    with open_history(tmp_path / "h", create=True) as history:
        assert history.add(run) == (1, True)
    with open_history(tmp_path / "h") as history:
        (entry,) = history.entries()
        assert entry.number == 1
        assert entry.metres is None  # not known stays not known
        assert (entry.made_at, entry.note) == (run.entry.made_at, "new")
        by = lambda r: (r.station, r.axis, r.measure)  # noqa: E731
        assert history.readings(1) == sorted(run.readings, key=by)
        assert tuple(history.settings(1)) == run.settings
        assert history.document(1) == run.document


def test_the_same_run_is_kept_once(tmp_path):
    with open_history(tmp_path / "h", create=True) as history:
        assert [history.add(kept(1, 0)), history.add(kept(1, 0))] == [(1, True), (1, False)]
        assert len(history.entries()) == 1


def test_runs_stand_in_the_order_of_measuring_whatever_their_time_zone(tmp_path):
    moments = ["2026-03-01T10:00:00+09:00", "2026-03-01T02:30:00+01:00", "2026-03-01T01:15:00Z"]
    with open_history(tmp_path / "h", create=True) as history:
        for number, moment in enumerate(reversed(moments)):
            history.add(kept(number, 0, made_at=moment))
        # 01:00, 01:30 and 01:15 by the clock of Greenwich (worked by hand).
        assert [e.made_at for e in history.entries()] == [moments[0], moments[2], moments[1]]
        assert len(history.entries(since="2026-03-01T01:20:00+00:00")) == 1


ADDING = textwrap.dedent(
    """
    import sys
    from pathlib import Path
    sys.path[:0] = sys.argv[4:]
    from regscan.history.store import open_history
    from tests.history.invented import kept
    path, first, count = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    for number in range(first, first + count):
        with open_history(path, create=True) as history:   # a process of its own each time
            assert history.add(kept(number, number % 50))[1]
        print(number, flush=True)
    """
)


def writer(tmp_path, path, first, count):
    (tmp_path / "adding.py").write_text(ADDING)
    places = [str(place) for place in sys.path if place]
    return subprocess.Popen(
        [sys.executable, tmp_path / "adding.py", path, str(first), str(count), *places],
        stdout=subprocess.PIPE,
        text=True,
    )


def test_two_processes_that_add_at_once_lose_nothing(tmp_path):
    """From the very first moment, when neither file nor tables are there."""
    path = tmp_path / "h"
    writers = [writer(tmp_path, path, first, 60) for first in (0, 1000)]
    for one in writers:
        said, _ = one.communicate(timeout=120)
        assert one.returncode == 0
        assert len(said.split()) == 60
    with open_history(path) as history:
        kept_keys = {entry.key for entry in history.entries()}
    assert kept_keys == {f"key {n}" for first in (0, 1000) for n in range(first, first + 60)}


def test_a_copy_taken_while_somebody_writes_is_whole(tmp_path):
    """One file that holds all that was told to be in when the copy began."""
    path = tmp_path / "h"
    filled(path, 2)
    one = writer(tmp_path, path, 1000, 150)
    copies, meanwhile = [], 0
    for told in one.stdout:
        if len(copies) < 12:
            copy = tmp_path / f"copy {len(copies)}"
            with open_history(path) as history:
                history.copy(copy)
            copies.append((int(told) - 1000 + 1 + 2, copy))
            meanwhile += one.poll() is None
    assert one.wait(timeout=60) == 0
    one.stdout.close()
    assert len(copies) == 12
    assert meanwhile >= 3
    for at_least, copy in copies:
        assert not list(tmp_path.glob(f"{copy.name}-*"))  # one file, and no log beside it
        with open_history(copy) as history:
            assert len(history.entries()) >= at_least
            history.add(kept(5000, 1))  # and it goes on from there


def test_a_file_copied_by_hand_while_somebody_writes_is_whole_or_refused(tmp_path):
    path = tmp_path / "h"
    filled(path, 2)
    one = writer(tmp_path, path, 1000, 60)
    usable, refused = 0, []
    for number in range(15):
        copy = tmp_path / f"hand {number}"
        shutil.copy(path, copy)
        try:
            with open_history(copy) as history:
                runs = [history.document(entry.number) for entry in history.entries()]
        except BadHistory as refusal:
            refused.append(str(refusal))
        else:
            assert len(runs) >= 2
            usable += 1
        time.sleep(0.02)
    one.communicate(timeout=60)
    assert usable > 0
    assert all("regscan history copy" in words for words in refused)


def first_form(path, runs=3):
    """A file as the first form of the tables had it."""
    with closing(sqlite3.connect(path, isolation_level=None)) as link:
        for statement in FIRST:
            link.execute(statement)
        link.execute(f"PRAGMA application_id = {APPLICATION}")
        link.execute("PRAGMA user_version = 1")
        names = "key, made_at, made_s, added_at, kind, job, press, reference, answer, folder,"
        names += " frames_found, frames_used, regscan_version, document"
        for number in range(runs):
            link.execute(
                f"INSERT INTO run ({names}) VALUES (?, '2026', {number}, '', 'ramp', 'J', 'P',"
                " 'black', 'in register', '', 1, 1, '0', x'789c030000000001')",
                (f"old {number}",),
            )
            link.execute(
                "INSERT INTO reading VALUES (?, 1, 'cyan', 'lateral', 'noise', 0.01, NULL, 0.1)",
                (number + 1,),
            )


def test_an_older_file_is_brought_up_to_date_with_everything_in_it(tmp_path):
    first_form(tmp_path / "h")
    with open_history(tmp_path / "h") as history:
        assert history.link.execute("PRAGMA user_version").fetchone()[0] == NEWEST
        assert [entry.key for entry in history.entries()] == ["old 0", "old 1", "old 2"]
        assert [entry.note for entry in history.entries()] == [""] * 3
        assert history.readings(2)[0].value == 0.01
        assert history.document(3) == b""
        assert history.add(kept(1, 1, note="later"))[1]


def test_a_step_that_fails_leaves_the_file_in_its_old_form(tmp_path, monkeypatch):
    path = tmp_path / "h"
    first_form(path)
    broken = (*opening.STEPS[:1], (*opening.STEPS[1], "CREATE NONSENSE"))
    monkeypatch.setattr(opening, "STEPS", broken)
    with pytest.raises(BadHistory):
        connect(path, create=False)
    monkeypatch.undo()
    with closing(sqlite3.connect(path)) as link:
        assert link.execute("PRAGMA user_version").fetchone()[0] == 1
        assert "note" not in [row[1] for row in link.execute("PRAGMA table_info(run)")]
    with open_history(path) as history:
        assert len(history.entries()) == 3


def test_two_programs_bring_one_file_up_to_date_once(tmp_path):
    path = tmp_path / "h"
    first_form(path)
    with closing(sqlite3.connect(path, isolation_level=None)) as late:
        with open_history(path):
            pass
        migrate(late, path)  # it decided to before the other one had finished
        assert late.execute("PRAGMA user_version").fetchone()[0] == NEWEST


def spoil(path, content):
    path.write_bytes(content)


def no_history(path):
    spoil(path, b"frame,ink\n" * 100)


def cut_off(path):
    spoil(path, path.read_bytes()[:9000])


def overwritten(path):
    data = bytearray(path.read_bytes())
    data[4096 : 3 * 4096] = b"\xa5" * (2 * 4096)
    spoil(path, bytes(data))


def header_only(path):
    spoil(path, path.read_bytes()[:50])


def somebody_elses(path):
    path.unlink()
    with closing(sqlite3.connect(path)) as link:
        link.execute("CREATE TABLE bread (flour)")
        link.commit()


def from_the_future(path):
    with closing(sqlite3.connect(path)) as link:
        link.execute(f"PRAGMA user_version = {NEWEST + 1}")


def gone(path):
    path.unlink()


def a_folder(path):
    path.unlink()
    path.mkdir()


REFUSED = {
    no_history: "is no history file",
    cut_off: "is damaged",
    overwritten: "is damaged",
    header_only: "is damaged",
    somebody_elses: "something else",
    from_the_future: "newer regscan",
    gone: "there is no history here",
    a_folder: "cannot be read",
}


@pytest.mark.parametrize("harm", REFUSED, ids=lambda harm: harm.__name__)
def test_what_cannot_be_used_is_refused_with_a_cure_and_left_as_it_was(tmp_path, harm):
    path = filled(tmp_path / "h", 30)
    harm(path)
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(BadHistory, match=REFUSED[harm]) as refusal, open_history(path) as history:
        history.entries()
    assert all(problem.cure for problem in refusal.value.problems)
    assert str(path) in str(refusal.value)
    assert (path.read_bytes() if path.is_file() else None) == before


def test_a_file_somebody_holds_is_waited_for_and_then_told(tmp_path, monkeypatch):
    path = filled(tmp_path / "h")
    monkeypatch.setattr(opening, "BUSY_S", 0.2)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with open_history(path) as history:
            assert len(history.entries()) == 5  # readers never wait
        with pytest.raises(BadHistory, match="somebody else"), open_history(path) as history:
            history.add(kept(99, 1))
        other.execute("ROLLBACK")
    with open_history(path) as history:
        assert history.add(kept(99, 1))[1]


def test_prune_takes_out_what_it_says_and_nothing_else(tmp_path):
    path = filled(tmp_path / "h", 10)
    with open_history(path) as history:
        entries = history.entries()
        gone = chosen(entries, Prune(before=entries[4].made_at))
        assert [entry.number for entry in gone] == [1, 2, 3, 4]
        others = {n: (history.readings(n), history.settings(n)) for n in range(5, 11)}
        assert history.remove([entry.number for entry in gone]) == 4
        history.shrink()
        assert history.entries() == entries[4:]
        assert {n: (history.readings(n), history.settings(n)) for n in range(5, 11)} == others
        number, _ = history.add(kept(100, 1))
        assert number == 11  # a number is never given twice
    assert counts(path)[1:] == [7 * n // 7 for n in (6 * 32, 6)]


@pytest.mark.parametrize(
    ("prune", "numbers"),
    [
        (Prune(), []),
        (Prune(keep=3), [1, 2, 3, 4, 5]),
        (Prune(keep=0), [1, 2, 3, 4, 5, 6, 7, 8]),
        (Prune(keep=100), []),
        (Prune(numbers=(2, 77)), [2]),
        (Prune(keep=3, numbers=(2, 7)), [2]),
        (Prune(before="2026-02-01", keep=7), [1]),
    ],
)
def test_every_rule_that_is_given_must_allow_it(tmp_path, prune, numbers):
    with open_history(filled(tmp_path / "h", 8)) as history:
        assert [entry.number for entry in chosen(history.entries(), prune)] == numbers


def test_keeping_the_newest_is_meant_for_every_job_on_every_press(tmp_path):
    with open_history(tmp_path / "h", create=True) as history:
        for number in range(8):
            job, press = f"job {number % 2}", f"Press {number // 4}"
            history.add(kept(number, number, job=job, press=press))
        left = chosen(history.entries(), Prune(keep=1))
        assert [entry.number for entry in left] == [1, 2, 5, 6]


def test_a_copy_that_cannot_be_written_leaves_nothing(tmp_path):
    (tmp_path / "file").write_text("")
    with open_history(filled(tmp_path / "h")) as history, pytest.raises(BadOutput):
        history.copy(tmp_path / "file" / "copy")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "h"]
