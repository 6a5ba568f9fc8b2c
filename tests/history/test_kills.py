"""A program killed at random while it writes a history: what it said to be kept is kept."""

import subprocess
import sys
import textwrap

KILLS = 200

# Forks, so that a kill costs milliseconds; in a process of its own, so that only one thread does.
KILLING = textwrap.dedent(
    """
    import os, random, signal, sys, time
    from pathlib import Path
    sys.path[:0] = sys.argv[3:]
    from regscan.history.store import open_history
    from tests.history.invented import kept, setting, weekly_readings

    path, kills = Path(sys.argv[1]), int(sys.argv[2])
    chance = random.Random(20261125)
    said, mid = set(), 0
    for kill in range(kills):
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reading)
            readings = weekly_readings(kill)
            for number in range(1000 * kill, 1000 * kill + 1000):
                with open_history(path, create=True) as history:
                    history.add(kept(number, kill, readings, [setting(2, "cyan", 0.1, 0.0)]))
                os.write(writing, b"%d\\n" % number)
            os._exit(0)
        os.close(writing)
        told = b""
        for _ in range(chance.randrange(0, 6)):  # a busy machine only takes longer
            told += os.read(reading, 65536)
        time.sleep(chance.uniform(0.0, 0.006))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        while part := os.read(reading, 65536):
            told += part
        os.close(reading)
        said |= {f"key {int(line)}" for line in told.split()}
        if not path.exists():
            continue  # killed before the file was there
        with open_history(path, create=True) as history:  # checks the whole file
            entries = history.entries()
            assert said <= {entry.key for entry in entries}
            last = entries[-1].number if entries else 0
            if last:
                assert len(history.readings(last)) == 32  # a run is there whole or not at all
                assert len(history.settings(last)) == 1
            mid += len(entries) - len(said)
    print(len(said), mid)
    """
)


def test_nothing_that_was_kept_is_lost_and_the_file_is_never_broken(tmp_path):
    script = tmp_path / "killing.py"
    script.write_text(KILLING)
    places = [place for place in sys.path if place]
    done = subprocess.run(
        [sys.executable, script, tmp_path / "h", str(KILLS), *places],
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    runs, _ = map(int, done.stdout.split())
    assert runs > KILLS / 4  # the kills met a writer at work
