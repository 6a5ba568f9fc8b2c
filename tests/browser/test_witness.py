"""The browser tests can fail: a page with faults is found out."""

import pytest


def test_axe_finds_what_is_wrong_with_a_page(open_page, serious):
    page = open_page("data:text/html,<html lang=en><title>x</title><img src='data:,'>")
    assert any(found.startswith("image-alt (critical)") for found in serious(page))


@pytest.mark.parametrize("fault", ["console.error('lost')", "throw new Error('lost')"])
def test_an_error_on_the_console_is_noted(open_page, console, fault):
    open_page(f"data:text/html,<html lang=en><title>x</title><script>{fault}</script>")
    assert "lost" in console.pop()
