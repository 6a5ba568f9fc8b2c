import pytest

from regscan.report.facts import report_facts
from regscan.report.page import page
from tests.report.invented import invented_run


@pytest.fixture(scope="session")
def invented():
    """(run, offsets, marks) of an invented ramp."""
    return invented_run()


@pytest.fixture(scope="session")
def facts(invented):
    return report_facts(*invented)


@pytest.fixture(scope="session")
def html(facts):
    return page(facts)
