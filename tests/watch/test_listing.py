"""frames.csv read while it is being written."""

import pytest

from regscan.recording.speedlog import read_speed_log
from regscan.watch.listing import Listing

HEAD = "frame,time_s,web_m,speed_m_min\n"


def test_half_a_line_is_not_read(tmp_path):
    listing, path = Listing(tmp_path), tmp_path / "frames.csv"
    assert not listing.exists
    path.write_text(HEAD + "1.png,1.0,12.5,100\n2.png,2.0,13")
    assert listing.of("1.png").web_m == 12.5
    assert listing.of("2.png") is None
    with path.open("a") as file:
        file.write(".75,100\n")
    assert listing.of("2.png").web_m == 13.75


def test_a_wrong_line_is_told_and_costs_only_itself(tmp_path):
    (tmp_path / "frames.csv").write_text(HEAD + "1.png,1,1,1\n2.png,x,2,1\n3.png,3,3,1\n")
    listing = Listing(tmp_path)
    assert listing.of("2.png") is None
    assert listing.of("3.png").web_m == 3.0
    assert "line 2, time_s: 'x' is not a number" in listing.trouble


def test_a_list_begun_anew(tmp_path):
    listing, path = Listing(tmp_path), tmp_path / "frames.csv"
    path.write_text(HEAD + "1.png,1,1,1\n2.png,2,2,1\n")
    assert listing.of("2.png").web_m == 2.0
    path.write_text(HEAD + "9.png,1,7,1\n")
    assert listing.of("9.png").web_m == 7.0


def test_a_list_that_leads_out_of_the_folder_is_refused(tmp_path):
    (tmp_path / "frames.csv").write_text(HEAD + "../1.png,1,1,1\n")
    listing = Listing(tmp_path)
    assert listing.of("../1.png") is None
    assert "does not lie in this folder" in listing.trouble


def test_web_positions_follow_from_speeds(tmp_path):
    (tmp_path / "frames.csv").write_text(
        "frame,time_s,speed_m_min\n1.png,0,60\n2.png,1,60\n3.png,2,120\n"
    )
    listing = Listing(tmp_path)
    assert [listing.of(f"{k}.png").web_m for k in (1, 2, 3)] == pytest.approx([0.0, 1.0, 2.5])


class TestSpeedLog:
    @pytest.fixture
    def folder(self, tmp_path):
        (tmp_path / "frames.csv").write_text("frame,time_s\n1.png,1\n2.png,3\n3.png,9\n")
        (tmp_path / "speed_log.csv").write_text("time_s,speed_m_min\n0,60\n")
        return tmp_path

    def grow(self, folder, text):
        with (folder / "speed_log.csv").open("a") as file:
            file.write(text)

    def test_it_tells_speed_and_place_as_far_as_it_goes(self, folder):
        listing = Listing(folder)
        assert listing.of("1.png", late=False) is None  # the log is awaited
        self.grow(folder, "2,60\n")
        assert listing.of("1.png", late=False).web_m == pytest.approx(1.0)
        self.grow(folder, "4,12")
        assert listing.of("2.png", late=False) is None  # half a number
        self.grow(folder, "0\n")
        info = listing.of("2.png", late=False)
        # 2 m in the first 2 s, then from 60 to 90 m/min in the third: 1.25 m.
        assert (info.web_m, info.speed_m_min) == pytest.approx((3.25, 90.0))

    def test_what_it_does_not_reach_in_time_stays_unknown(self, folder):
        self.grow(folder, "2,60\n")
        listing = Listing(folder)
        info = listing.of("3.png", late=True)
        assert (info.time_s, info.web_m, info.speed_m_min) == (9.0, None, None)

    def test_a_wrong_line_is_told(self, folder):
        self.grow(folder, "2,fast\n3,60\n")
        listing = Listing(folder)
        listing.of("1.png")
        assert "speed_log.csv: line 3, speed_m_min" in listing.trouble

    def test_places_are_those_of_the_whole_log(self, folder):
        """Read bit by bit or at once: the same metres."""
        rows = [f"{t},{60 + 10 * (t % 3)}\n" for t in range(1, 12)]
        listing = Listing(folder)
        for row in rows:
            self.grow(folder, row)
            listing.of("3.png", late=False)
        whole = read_speed_log(folder / "speed_log.csv")
        assert listing.of("3.png").web_m == pytest.approx(whole.web_at(9.0))
