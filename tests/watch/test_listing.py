"""frames.csv read while it is being written."""

import pytest

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
