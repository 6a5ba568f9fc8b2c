"""What regscan brings along: every package on docs/licences.md, none under a foreign licence."""

import pytest
from generate_licences import PAGE, TITLES, UNKNOWN, accepted, extras, sections


@pytest.fixture(scope="module")
def found():
    # Extras that are not installed where the suite runs are held by .ci/lanes.
    return sections(whole=False)


def test_every_extra_has_its_section(found):
    assert list(found) == ["", *extras()]
    assert found[""]
    assert found["test"]
    text = PAGE.read_text(encoding="utf-8")
    for extra in extras():
        assert TITLES.get(extra, f"With the extra `{extra}`") in text


def test_every_licence_is_stated_and_accepted(found):
    bad = [(p.name, p.licence) for packages in found.values() for p in packages
           if p.licence == UNKNOWN or not accepted(p.licence)]  # fmt: skip
    assert bad == []


def test_the_page_names_every_package_that_regscan_itself_needs(found):
    # What those need in turn changes with their versions: .ci/lanes holds that against the page.
    text = PAGE.read_text(encoding="utf-8")
    for packages in found.values():
        for one in packages:
            if one.needed_by == "regscan":
                assert f"| {one.name} | regscan |" in text, "run python tests/generate_licences.py"


@pytest.mark.parametrize(
    ("licence", "good"),
    [
        ("MIT", True),
        ("GPL-3.0-only", False),
        ("MIT AND GPL-2.0-or-later", False),
        ("GPL-2.0-only OR BSD-3-Clause", True),
        ("BSD-3-Clause AND 0BSD AND Zlib", True),
        ("GNU Lesser General Public License v3 (LGPLv3)", False),
        ("Proprietary", False),
    ],
)
def test_what_is_accepted(licence, good):
    assert accepted(licence) == good
