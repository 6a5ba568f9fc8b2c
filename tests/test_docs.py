"""The documents say what the code does, and the README's commands are the ones CI runs."""

import re
from pathlib import Path

import pytest
import typer.main
from generate_docs import DOCS, PAGES, commands_of, commands_page, messages_page

from regscan.cli.app import app

ROOT = DOCS.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
CI = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PAGES_WITH_LINKS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.rglob("*.md"))]


def set_up_commands() -> list[str]:
    """The README's one-line shell blocks that start from nothing."""
    blocks = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)
    return [block.strip() for block in blocks if "venv" in block]


@pytest.mark.parametrize("name", PAGES)
def test_generated_page_is_fresh(name):
    written = (DOCS / name).read_text(encoding="utf-8")
    assert written == PAGES[name](), "run: python tests/generate_docs.py"


def test_every_command_and_option_is_in_the_commands_page():
    page = commands_page()
    for name, command in commands_of(typer.main.get_command(app)):
        assert f"## {name}\n" in page
        for param in command.params:
            if param.param_type_name == "option" and param.name != "help":
                assert f"`{param.opts[0]}`" in page
                assert param.help, f"{name} {param.opts[0]} has no help"


def test_the_messages_page_reads_problems_out_of_the_code():
    page = messages_page()
    assert "no mark of any colour was found" in page
    assert "`bad-output`" in page


def test_the_readme_has_two_set_up_commands_of_one_line():
    commands = set_up_commands()
    assert len(commands) == 2
    assert not any("\n" in command for command in commands)
    assert commands[0].endswith("regscan demo")
    assert commands[1].endswith("-m pytest")


def test_ci_runs_the_readmes_second_command_word_for_word():
    assert set_up_commands()[1] in CI.splitlines()


def test_the_developers_table_of_floors_is_the_tested_one():
    from test_floors import GROUND, MAY_IMPORT

    for room, may in MAY_IMPORT.items():
        shown = may.replace(GROUND, "ground") or "nothing"
        assert f"| `{room}` | {shown} |" in DEVELOPERS


@pytest.mark.parametrize("page", PAGES_WITH_LINKS, ids=lambda path: path.name)
def test_links_lead_somewhere(page: Path):
    text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)#\s]+)", text):
        if "://" not in target:
            assert (page.parent / target).exists(), target


def test_every_benchmark_is_told_of():
    scripts = [path.name for path in (ROOT / "tests" / "bench").glob("[a-z]*.py")]
    assert scripts
    for name in scripts:
        assert f"| `{name}` |" in DEVELOPERS
