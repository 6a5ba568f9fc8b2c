"""Marks for tests that need a program from outside; .ci/run installs both."""

import pytest

from outside import ghostscript, poppler

ghostscript_drawn = pytest.mark.skipif(
    not ghostscript.found(), reason="needs `gs` (Debian package ghostscript)"
)
poppler_drawn = pytest.mark.skipif(
    not poppler.found(), reason="needs `pdftoppm` (Debian package poppler-utils)"
)
