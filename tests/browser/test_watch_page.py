"""The page beside the press in a real browser: values read back, buttons pressed."""

import json
import re
from typing import get_args

import pytest
from playwright.sync_api import Page, expect

from regscan.watch.watched import Condition
from tests.watch.drawn_press import DrawnPress
from tests.watch.records import encoded_frame
from tests.watch.running import Watch, until


@pytest.fixture
def press(tmp_path) -> DrawnPress:
    return DrawnPress(tmp_path / "frames")


@pytest.fixture
def watch(press, tmp_path):
    with Watch(press.folder, tmp_path / "out") as running:
        running.url = running.serve()
        yield running


def tile(page: Page, ink: str):
    return page.locator("#stations > li").filter(has=page.get_by_text(ink, exact=True))


def shown(watch, press):
    """Wait until the newest frame is measured and drawn."""
    watch.measured(press.number)
    until(lambda: watch.desk.picture[1] == press.name, "the newest picture")


def test_values_on_the_page_are_those_measured(watch, press, open_page, picture):
    page = open_page(watch.url, "desk")
    expect(page.locator("#headline")).to_have_text("No frames yet")
    picture(page, "watch-no-frames")
    press.drop(6, cyan=(0.16, -0.03))
    shown(watch, press)
    expect(page.locator("#headline")).to_have_text("Out of tolerance")
    expect(tile(page, "magenta")).to_contain_text("In")
    expect(tile(page, "cyan")).to_contain_text("Out")
    for ink in ("magenta", "cyan", "brown"):
        along, across = watch.station(ink).axes
        for axis, box in ((along, 0), (across, 1)):
            size = tile(page, ink).locator(".axis").nth(box).locator(".value b")
            expect(size).to_have_text(f"{abs(axis.now_mm):.3f} mm")
    expect(tile(page, "cyan").locator(".axis").nth(0)).to_contain_text("late")
    expect(tile(page, "cyan").locator(".axis").nth(1)).to_contain_text("operator side")
    expect(page.locator("#picture")).to_have_attribute("alt", re.compile(press.name))
    width = page.locator("#picture").evaluate(
        "image => image.decode().then(() => image.naturalWidth)"
    )
    assert width > 400
    expect(page.locator("#log")).to_contain_text("Station 3 cyan: out of tolerance")
    picture(page, "watch-out")


def test_from_a_move_to_its_check(watch, press, open_page, picture):
    page = open_page(watch.url)
    press.drop(8, cyan=(0.16, 0.0))
    shown(watch, press)
    move = page.locator("#todo .move")
    expect(move).to_contain_text("advance 0.16 mm")
    page.get_by_role("button", name=re.compile("Move made.*station 3 cyan")).press("Enter")
    expect(page.locator("#answer")).to_have_text("Noted.")
    expect(page.locator("#todo .wait")).to_contain_text("wait 5.4 m")
    expect(move).to_have_count(0)
    expect(tile(page, "cyan")).to_contain_text("Wait")
    press.drop(5)  # 4.6 m, still printed before the move
    shown(watch, press)
    expect(page.locator("#todo .wait")).to_contain_text("wait 0.8 m")
    picture(page, "watch-wait")
    press.drop(8, cyan=(0.0, 0.0))
    shown(watch, press)
    expect(page.locator("#todo .wait")).to_have_count(0)
    expect(tile(page, "cyan")).to_contain_text("In")
    expect(page.locator("#log")).to_contain_text("Station 3 cyan: as expected")
    (made,) = watch.desk.session.kept.moves(press.job)
    assert (made.ink, made.move_mm, made.steps) == ("cyan", -0.16, -16)


def test_a_move_of_ones_own_the_zero_and_a_new_job(watch, press, open_page, picture):
    (press.folder / "other.toml").write_text(
        (press.folder / "job.toml").read_text().replace("Honey jar", "Jam jar")
    )
    page = open_page(watch.url)
    expect(page.get_by_role("button", name="Approve: this is the zero")).to_be_disabled()
    press.drop(6, green=(0.04, 0.0))
    shown(watch, press)
    page.get_by_role("button", name="Approve: this is the zero").click()
    page.get_by_role("button", name="Approve", exact=True).click()
    expect(page.locator("#zero")).to_contain_text("the approved print")
    expect(tile(page, "green").locator(".value b").first).to_have_text(re.compile(r"0\.00\d mm"))

    page.get_by_role("button", name="Other move made").click()
    picture(page, "watch-move-dialog")
    page.locator("#move-station").select_option("5")
    page.get_by_label("Direction").select_option(label="toward drive side")
    page.get_by_label("Length in mm").fill("0.05")
    page.get_by_role("button", name="Note the move").click()
    expect(page.locator("#todo .wait")).to_contain_text("after: move 0.05 mm toward drive side")

    page.get_by_role("button", name="Approve: this is the zero").click()
    page.get_by_role("button", name="Approve", exact=True).click()
    expect(page.locator("#answer")).to_contain_text("a move does not show yet")

    page.get_by_role("button", name="New job").click()
    page.get_by_label("Job file in the watched folder").select_option("other.toml")
    page.get_by_role("button", name="Begin").click()
    expect(page.locator("#job")).to_contain_text("Jam jar")
    expect(page.locator("#headline")).to_have_text("No frames yet")
    expect(page.locator("#zero")).to_have_text("the design")


def test_a_lost_connection_is_shown_and_heals(watch, press, open_page, console, picture):
    page = open_page(watch.url)
    press.drop(2)
    shown(watch, press)
    expect(page.locator("#headline")).to_have_text("In register")
    told = page.locator("#log li").count()
    watch.end_serving()
    expect(page.locator("#headline")).to_have_text("Connection lost")
    expect(page.locator("#cut")).to_be_visible()
    expect(page.locator("#sentence")).to_contain_text("Last known: In register")
    picture(page, "watch-cut")
    press.drop(3, cyan=(0.2, 0.0))
    shown(watch, press)
    watch.serve(watch.port)  # the page finds it again, where it was
    expect(page.locator("#headline")).to_have_text("Out of tolerance")
    expect(page.locator("#cut")).to_be_hidden()
    expect(page.locator("#log")).to_contain_text("cyan")
    happened = page.locator("#log li")
    assert happened.count() == watch.desk.log.number > told  # each once
    # Its forms work with the key of the new server.
    page.get_by_role("button", name="Move made").first.click()
    expect(page.locator("#answer")).to_have_text("Noted.")
    lost = [line for line in console if "net::ERR" in line or "Failed to load" in line]
    assert lost == console
    console.clear()


@pytest.mark.parametrize("size", ["desk", "laptop", "phone"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_every_size_without_a_serious_finding(bad_moment, open_page, serious, picture, size, dark):
    page = open_page(bad_moment, size, dark)
    expect(page.locator("#headline")).to_have_text("Out of tolerance")
    picture(page, f"watch-{size}-{'dark' if dark else 'light'}", whole=True)
    assert serious(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    over = page.evaluate(
        "[...document.querySelectorAll('.stands strong, .value b, h3 .ink')]"
        ".map(e => [e, e.getBoundingClientRect(), e.closest('li').getBoundingClientRect()])"
        ".filter(([e, own, tile]) => own.right > tile.right + 1).map(([e]) => e)"
        ".map(e => e.textContent)"
    )
    assert over == []  # no word runs into the next station


@pytest.fixture(scope="module")
def bad_moment(tmp_path_factory):
    """A watch in which everything happens at once: out, lost, waiting, a move to make."""
    place = tmp_path_factory.mktemp("bad")
    press = DrawnPress(place / "frames")
    with pytest.MonkeyPatch.context() as patch, Watch(press.folder, place / "out") as running:
        patch.setattr("regscan.watch.telling.STALE_S", 1e6)  # tests take their time
        press.drop(8, cyan=(0.16, -0.03), green=(0.0, 0.14))
        running.measured(8)
        running.desk.move_made(3, "circumferential", -0.16)
        press.lacking = {"magenta"}
        press.drop(2)
        shown(running, press)
        yield running.serve()


DRIFTS = {"places": lambda number: {"cyan": (0.0008 * max(number - 60, 0), 0.0)}}


@pytest.mark.parametrize(
    ("frames", "fed", "headline", "station"),
    [
        (14, {}, "In register", "In"),
        (14, {"places": {"cyan": (0.1, 0.0)}}, "Cannot tell yet", "Cannot tell"),
        (14, {"doubtful": ("cyan",)}, "Doubtful", "Doubtful"),
        (14, {"lost": ("cyan",)}, "Colour not found", "Not found"),
        (159, DRIFTS, "In register", "In"),
    ],
    ids=["good", "undecided", "doubtful", "lost", "warned"],
)
def test_every_state_has_its_word_and_shape(
    watch, open_page, serious, picture, request, frames, fed, headline, station
):
    session = watch.desk.session
    for number in range(1, frames + 1):
        watch.desk.frame(encoded_frame(number, **fed), session)
    watch.desk.advise()
    page = open_page(watch.url)
    name = request.node.callspec.id
    expect(page.locator("#headline")).to_have_text(headline)
    expect(tile(page, "cyan").locator("strong")).to_have_text(station)
    expect(page.locator("#sign")).to_have_attribute("data-shows", watch.desk.watched().condition)
    if name == "warned":
        expect(page.locator("#warnings")).to_contain_text("Station 3 cyan moves later: leaves")
        expect(tile(page, "cyan")).to_contain_text("Early warning")
    picture(page, f"watch-{name}")
    assert serious(page) == []


def test_signs_of_all_conditions_differ(watch, open_page):
    page = open_page(watch.url)
    drawn = page.evaluate("Object.values(SIGNS).map(parts => JSON.stringify(parts))")
    assert len(set(drawn)) == len(drawn) == len(get_args(Condition))


def test_old_frames_are_told_as_old(watch, open_page, picture, monkeypatch):
    monkeypatch.setattr("regscan.watch.telling.STALE_S", 30.0)
    session = watch.desk.session
    for number in range(1, 9):
        watch.desk.frame(encoded_frame(number), session)
    watch.desk._arrived_s -= 31.0
    watch.desk.advise()
    page = open_page(watch.url)
    expect(page.locator("#headline")).to_have_text("No new frames")
    expect(page.locator("#sentence")).to_contain_text("s old")
    picture(page, "watch-stale")


def test_where_no_place_is_known_somebody_says_that_the_web_has_passed(watch, open_page, picture):
    session = watch.desk.session
    for number in range(1, 15):
        watch.desk.frame(encoded_frame(number, {"cyan": (0.16, 0.0)}, web=False), session)
    watch.desk.advise()
    page = open_page(watch.url)
    page.get_by_role("button", name="Move made : station 3").click()
    passed = page.get_by_role("button", name="The web has passed")
    expect(passed).to_be_visible()
    picture(page, "watch-passed")
    passed.click()
    expect(passed).to_have_count(0)
    expect(page.locator("#todo .wait")).to_contain_text("wait for the next frame")
    expect(page.locator("#log")).to_contain_text("The web has passed")


def test_it_is_worked_by_keyboard(bad_moment, open_page):
    page = open_page(bad_moment)
    expect(page.locator("#todo .move")).not_to_have_count(0)
    seen = []
    for _ in range(9):
        page.keyboard.press("Tab")
        seen.append(page.evaluate("document.activeElement.textContent.trim().slice(0, 12)"))
    assert seen[0] == "To the stati"
    assert {"Move made: s", "Other move m", "Approve: thi", "New job"} <= set(seen)
    page.get_by_role("button", name="Other move made").press("Enter")
    expect(page.locator("#move-station")).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.get_by_role("button", name="Other move made")).to_be_focused()


def test_a_screen_reader_is_told_what_changes(bad_moment, open_page):
    page = open_page(bad_moment)
    spoken = page.get_by_role("status").first
    expect(spoken).to_contain_text("Out of tolerance. Station 5 green")
    expect(spoken).to_contain_text("station 5 green: move 0.1")
    expect(spoken).to_contain_text("station 3 cyan: wait")
    expect(page.get_by_role("log")).to_contain_text("move made")
    trend = tile(page, "green").get_by_role("img").nth(1)
    expect(trend).to_have_attribute(
        "aria-label", re.compile(r"lateral, trend: from .* now 0\.1[34]")
    )


def test_beyond_loopback_the_printed_address_opens_the_page(press, tmp_path, open_page):
    with Watch(press.folder, tmp_path / "out") as watch:
        watch.serve(host="0.0.0.0")
        url = f"http://127.0.0.1:{watch.port}"
        page = open_page(url)
        expect(page.get_by_role("heading", name="Token needed")).to_be_visible()
        page.get_by_label("Token").fill("guessed")
        page.get_by_role("button", name="Enter").click()
        expect(page.locator("#answer")).to_contain_text("not the token")
        door = open_page(f"{url}/enter#{watch.address.token}")
        expect(door.locator("#headline")).to_have_text("No frames yet")
        assert watch.address.token not in door.url
        door.goto("about:blank")  # it would rightly complain when the watch ends


_TRIES = """async (url) => {
  const came = [];
  for (const [mode, type] of [["cors", "application/json"], ["no-cors", "text/plain"]]) {
    try {
      const headers = {"Content-Type": type};
      const answer = await fetch(url, {method: "POST", body: "{}", mode, headers});
      came.push(answer.type);
    } catch { came.push("refused"); }
  }
  return came;
}"""


def test_another_site_cannot_press_its_buttons(watch, press, open_page, console):
    """A page of another origin, in the same browser, tries what it can."""
    press.drop(6)
    watch.measured(6)
    before = watch.desk.log.number
    page = open_page(f"{watch.url.replace('127.0.0.1', 'localhost')}/enter")
    sent = page.evaluate(_TRIES, f"{watch.url}/zero")
    assert sent in (["refused", "opaque"], ["refused", "refused"])
    assert watch.desk.log.number == before
    assert watch.desk.session.zero is None
    console.clear()
    assert json.loads(watch.ask("GET", "/state")[1])["zero"] == "the design"
