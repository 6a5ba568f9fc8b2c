"""Who may ask the page for what: hosts, origins, forms, tokens, paths."""

import json
import os
import stat

import pytest

from regscan.watch.serve import bind
from tests.watch.asking import MOVE, form_key
from tests.watch.drawn_press import DrawnPress
from tests.watch.running import Watch


def post(watch, path="/moves", body=MOVE, **changed):
    headers = {
        "Host": f"127.0.0.1:{watch.port}",
        "Origin": f"http://127.0.0.1:{watch.port}",
        "Content-Type": "application/json",
        "X-Regscan-Form": form_key(watch),
    }
    headers |= {name.replace("_", "-"): value for name, value in changed.items()}
    headers = {name: value for name, value in headers.items() if value is not None}
    status, said, _ = watch.ask("POST", path, body, **headers)
    return json.loads(said)["done"] if status == 200 else status


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    place = tmp_path_factory.mktemp("guard")
    press = DrawnPress(place / "frames")
    (place / "secret.toml").write_text("[press]")
    (press.folder / "away.toml").symlink_to(place / "secret.toml")
    with Watch(press.folder, place / "out") as running:
        running.serve()
        yield running


def test_what_comes_from_the_page_is_done(served):
    before = len(served.desk.session.pending.moves)
    assert post(served) is True
    assert len(served.desk.session.pending.moves) == before + 1


@pytest.mark.parametrize(
    "changed",
    [
        {"X-Regscan-Form": "guessed"},
        {"X-Regscan-Form": None},
        {"Origin": "http://elsewhere.example"},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": "null"},
        {"Origin": None},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Content-Type": "text/plain"},
        {"Content-Type": "application/x-www-form-urlencoded"},
    ],
)
@pytest.mark.parametrize("path", ["/moves", "/waited", "/zero", "/job"])
def test_forms_of_other_pages_are_refused(served, changed, path):
    before = served.desk.log.number, len(served.desk.session.pending.moves)
    assert post(served, path, {}, **changed) == 403
    assert (served.desk.log.number, len(served.desk.session.pending.moves)) == before


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "127.0.0.1.elsewhere.example", "10.0.0.7", "", "a@127.0.0.1", "["]
)
@pytest.mark.parametrize("path", ["/", "/state", "/events", "/page.js"])
def test_other_names_of_this_machine_are_refused(served, host, path):
    assert served.ask("GET", path, Host=host)[0] == 421


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "[::1]"])
def test_its_own_names_are_not(served, host):
    assert served.ask("GET", "/state", Host=f"{host}:{served.port}")[0] == 200


@pytest.mark.parametrize(
    "path",
    [
        "/../job.toml",
        "/..%2fjob.toml",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/frames.csv",
        "/job.toml",
        "/picture/../state.py",
        "/page.css/../../site.py",
        "//etc/passwd",
        "/picture?../../secret.toml",
    ],
)
def test_no_path_leads_to_a_file(served, path):
    status, body, _ = served.ask("GET", path)
    assert status == 404
    assert b"press" not in body
    assert b"root:" not in body


@pytest.mark.parametrize("name", ["../secret.toml", "away.toml", "/etc/passwd", "camera.toml", ""])
def test_no_job_file_outside_the_folder_is_opened(served, name):
    before = served.desk.session
    assert post(served, "/job", {"name": name}) is False
    assert served.desk.session is before


@pytest.mark.parametrize(
    "body",
    [
        {},
        [],
        {"station": 3},
        {"station": "3", "axis": "lateral", "mm": 0.1},
        {"station": True, "axis": "lateral", "mm": 0.1},
        {"station": 99, "axis": "lateral", "mm": 0.1},
        {"station": 3, "axis": "up", "mm": 0.1},
        {"station": 3, "axis": "lateral", "mm": 0},
        {"station": 3, "axis": "lateral", "mm": 1e9},
        {"station": 3, "axis": "lateral", "mm": float("nan")},
        {"station": 3, "axis": "lateral", "mm": 0.1, "more": "x" * 5000},
    ],
)
def test_wishes_that_make_no_sense_are_refused_in_words(served, body):
    headers = {
        "Origin": f"http://127.0.0.1:{served.port}",
        "Content-Type": "application/json",
        "X-Regscan-Form": form_key(served),
    }
    status, said, _ = served.ask("POST", "/moves", body, **headers)
    assert status == 200
    assert not json.loads(said)["done"]
    assert json.loads(said)["words"]


def test_every_answer_carries_the_headers_that_keep_other_pages_out(served):
    for path in ("/", "/page.js", "/state", "/nothing", "/enter"):
        headers = served.ask("GET", path)[2]
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"
        assert "access-control-allow-origin" not in headers


@pytest.fixture(scope="module")
def open_to_all(tmp_path_factory):
    place = tmp_path_factory.mktemp("all")
    press = DrawnPress(place / "frames")
    with Watch(press.folder, place / "out") as running:
        running.serve(host="0.0.0.0")
        running.cookie = {"Cookie": f"regscan-watch={running.address.token}"}
        yield running


class TestBeyondLoopback:
    @pytest.mark.parametrize("path", ["/state", "/events", "/picture", "/page.js"])
    def test_nothing_is_told_without_the_token(self, open_to_all, path):
        wrong = open_to_all.address.token[:-1]
        for headers in ({}, {"Cookie": f"regscan-watch={wrong}"}, {"Authorization": "Bearer x"}):
            assert open_to_all.ask("GET", path, **headers)[0] == 401

    def test_the_page_leads_to_its_door(self, open_to_all):
        status, _, headers = open_to_all.ask("GET", "/")
        assert (status, headers["location"]) == (303, "/enter")

    def test_the_token_opens(self, open_to_all):
        token = open_to_all.address.token
        assert open_to_all.ask("GET", "/state", **open_to_all.cookie)[0] == 200
        assert open_to_all.ask("GET", "/state", Authorization=f"Bearer {token}")[0] == 200

    def test_the_door_gives_a_cookie_that_scripts_cannot_read(self, open_to_all):
        there = f"127.0.0.1:{open_to_all.port}"
        headers = {"Origin": f"http://{there}", "Content-Type": "application/json"}
        for token, opens in ((open_to_all.address.token, True), ("guessed", False), ("", False)):
            _, said, answer = open_to_all.ask("POST", "/enter", {"token": token}, **headers)
            assert json.loads(said)["done"] is opens
            assert ("set-cookie" in answer) is opens
        cookie = open_to_all.ask("POST", "/enter", {"token": open_to_all.address.token}, **headers)[
            2
        ]["set-cookie"].lower()
        assert "httponly" in cookie
        assert "samesite=strict" in cookie

    def test_forms_need_both_token_and_key(self, open_to_all):
        assert post(open_to_all, **open_to_all.cookie) is True
        assert post(open_to_all) == 401
        assert post(open_to_all, **open_to_all.cookie, X_Regscan_Form="guessed") == 403

    def test_it_may_be_called_by_its_address_but_not_by_a_foreign_name(self, open_to_all):
        for host, wanted in (("192.0.2.7", 200), ("elsewhere.example", 421)):
            status = open_to_all.ask("GET", "/state", Host=host, **open_to_all.cookie)[0]
            assert status == wanted

    def test_the_token_is_kept_over_a_restart_and_from_others(self, open_to_all):
        path = open_to_all.desk.out / "token"
        assert path.read_text().strip() == open_to_all.address.token
        if os.name == "posix":
            assert stat.S_IMODE(path.stat().st_mode) == 0o600
        again = bind("0.0.0.0", 0, open_to_all.desk.out)
        url = again.url
        again.sock.close()
        assert again.token == open_to_all.address.token
        assert url.endswith(f"/enter#{again.token}")  # what stands behind # is not sent

    def test_the_token_is_in_no_log(self, open_to_all):
        token = open_to_all.address.token.encode()
        for path in open_to_all.desk.out.rglob("*"):
            if path.is_file() and path.name != "token":
                assert token not in path.read_bytes()


def test_on_loopback_there_is_no_token(tmp_path):
    address = bind("127.0.0.1", 0, tmp_path)
    address.sock.close()
    assert address.token is None
    assert list(tmp_path.iterdir()) == []
