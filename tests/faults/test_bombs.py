"""A small file that claims a huge picture is refused before memory is taken for it."""

import shutil
import sys

import pytest

from regscan.errors import BadFrames
from regscan.recording.picture import read_picture
from regscan.recording.video import read_video_frame
from regscan.run import load_run
from tests.faults import bombs

MB = 1 << 20


@pytest.mark.parametrize("name", bombs.PICTURES)
def test_it_is_small_and_really_claims_so_much(tmp_path, name):
    """Else the tests below would show nothing."""
    from PIL import Image

    path = tmp_path / name
    path.write_bytes(bombs.PICTURES[name]())
    assert path.stat().st_size < 2000
    limit, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
    try:
        with Image.open(path) as image:
            assert image.size[0] * image.size[1] > 260e6
    finally:
        Image.MAX_IMAGE_PIXELS = limit
    with pytest.raises(BadFrames, match=r"pixels.*-> give frames of a mark camera"):
        read_picture(path, 1 if name == "pages.tif" else None)


@pytest.mark.skipif(sys.platform != "linux", reason="limits memory as Linux does")
def test_a_run_with_bombs_among_its_frames_needs_no_memory_for_them(tiny_run, driver, tmp_path):
    """With 300 MB more than the loaded program has; each bomb would take over 260 MB.

    The limit is on addresses (RLIMIT_AS), which are taken long before memory is.
    """
    run = tmp_path / "run"
    shutil.copytree(tiny_run, run)
    (run / "frames.csv").unlink()
    for name, made in bombs.PICTURES.items():
        (run / name).write_bytes(made())
    bombs.avi(run / "bomb.avi")
    bombs.avi(run / "huge.avi", bombs.SIDE)
    out = tmp_path / "out"
    ended = driver.run(
        ["measure", run, "--out", out, "--no-overlays"], rlimit=("RLIMIT_AS", 300 * MB)
    )
    assert ended.code == 0, driver.log.read_text()
    inputs = load_run(out / "run.json").inputs
    assert inputs.frames_used == 12
    skipped = {one.frame: one.why for one in inputs.skipped}
    assert skipped.pop("huge.avi#0001") == "picture 1 cannot be read"
    assert skipped.pop("huge.avi#0002") == "picture 2 cannot be read"
    assert skipped.keys() == bombs.PICTURES.keys() | {"bomb.avi#0001"}
    assert all("pixels" in why for why in skipped.values()), skipped
    assert "mjpeg" not in driver.log.read_text()  # the video library's own remarks


@pytest.mark.parametrize(
    ("side", "why"), [(bombs.VIDEO_SIDE, "has more than 100,000,000 pixels"), (40_000, "cannot be")]
)
def test_a_video_of_absurd_sides(tmp_path, side, why):
    bombs.avi(tmp_path / "bomb.avi", side)
    with pytest.raises(BadFrames, match=why):
        read_video_frame(tmp_path / "bomb.avi", 0)
