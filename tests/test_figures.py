"""The page of figures keeps what was not run again, and knows every bench."""

import re

from tests.figures import BENCHES, PAGE, merged, section


def test_a_section_is_replaced_and_the_others_stay():
    made = {name: section(name, said, 0) for name, said in (("folder", "one"), ("locate", "two"))}
    page = merged("", made)
    again = merged(page, {"folder": section("folder", "three", 1)})
    assert "one" not in re.findall(r"```text\n(.*)\n```", again)
    assert re.findall(r"```text\n(.*)\n```", again) == ["three", "two"]
    assert "a limit missed" in again
    assert merged(again, {}) == again


def test_the_page_has_sections_of_benches_only():
    said = re.findall(r"^## (\w+)$", PAGE.read_text(), re.MULTILINE)
    assert said
    assert sorted(set(said)) == said
    assert set(said) <= set(BENCHES)
