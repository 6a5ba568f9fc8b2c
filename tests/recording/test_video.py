"""Pictures of a video by number, in any order."""

import cv2
import numpy as np
import pytest

from regscan.errors import BadFrames
from regscan.recording.sources import open_recording, read_frame
from regscan.recording.video import forget_video, frame_count, read_video_frame

PICTURES = 100
BITS = 7


def numbered(number):
    """A picture whose number is written in it: a row of 16 x 16 blocks, white for a 1."""
    blocks = [255 if number >> bit & 1 else 0 for bit in range(BITS)]
    pixels = np.zeros((48, 16 * BITS, 3), np.uint8)
    pixels[16:32, :, 2] = np.repeat(blocks, 16)  # OpenCV's order: this is red
    return pixels


def number_in(pixels):
    """The number written in a picture, whatever a codec did to its edges."""
    assert pixels.shape == (48, 16 * BITS, 3)
    middles = pixels[20:28, :, 0].mean(axis=0).reshape(BITS, 16)[:, 4:12].mean(axis=1)
    return sum(1 << bit for bit, value in enumerate(middles) if value > 128)


@pytest.fixture(scope="module", params=[("MJPG", "clip.avi"), ("mp4v", "clip.mp4")])
def video(request, tmp_path_factory):
    """A clip of PICTURES numbered pictures, red on black."""
    code, name = request.param
    path = tmp_path_factory.mktemp("video") / name
    size = (16 * BITS, 48)
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*code), 25, size)
    if not writer.isOpened():
        pytest.skip(f"OpenCV writes no {code} here")
    for number in range(PICTURES):
        writer.write(numbered(number))
    writer.release()
    return path


def test_pictures_become_frames(video):
    recording = open_recording([video], every_s=0.5)
    assert len(recording.sources) == PICTURES == frame_count(video)
    assert recording.sources[99].info.name == f"{video.name}#0100"
    assert recording.sources[99].info.time_s == 49.5
    frame = read_frame(recording.sources[40])
    assert number_in(frame.pixels) == 40
    assert frame.pixels[..., 2].mean() < 0.2 * frame.pixels[..., 0].mean()  # red stays red


def test_the_rate_a_video_names_is_no_clock(video):
    assert open_recording([video]).sources[1].info.time_s is None


@pytest.mark.parametrize(
    "order",
    [range(100), [99, 98, 97], [0, 50, 3, 99, 60, 61, 62, 0], [70, 71, 10, 99]],
    ids=["forward", "backward", "to and fro", "far jumps"],
)
def test_the_picture_asked_for_is_the_picture_given(video, order):
    forget_video()
    for number in order:
        assert number_in(read_video_frame(video, number)) == number
    forget_video()


def test_far_jumps_give_exactly_what_reading_on_gives(video):
    forget_video()
    forward = [read_video_frame(video, number) for number in range(100)]
    for number in (95, 5, 77, 30, 90):
        forget_video()
        assert np.array_equal(read_video_frame(video, number), forward[number])
    forget_video()


def test_a_picture_past_the_end(video):
    with pytest.raises(BadFrames, match="picture 101 cannot be read"):
        read_video_frame(video, 100)


def test_what_is_no_video_stays_one_bad_frame(tmp_path):
    (tmp_path / "a.mp4").write_text("no video")
    (source,) = open_recording([tmp_path]).sources
    with pytest.raises(BadFrames, match="is not a video"):
        read_frame(source)
    with pytest.raises(BadFrames, match="no such file"):
        read_video_frame(tmp_path / "b.mp4", 0)
