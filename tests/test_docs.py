"""README and DEVELOPERS name what there is, and nothing that there is not."""

import re
import shlex
from pathlib import Path

import pytest

from monitor.alarms.definitions import DEFINITIONS
from monitor.cli import command_parser
from monitor.intake.mapping_file import MappingFile, ValueBlock
from monitor.settings.yard_file import YardFile

ROOT = Path(__file__).parent.parent
PAGES = sorted(str(path.relative_to(ROOT)) for path in (ROOT / "docs").glob("*.md"))
DOCUMENTS = {
    name: (ROOT / name).read_text(encoding="utf-8")
    for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md", "SECURITY.md", *PAGES)
}

MAPPINGS = DOCUMENTS["docs/readings.md"].partition("## A mapping, key by key")[2]

# What stands in `spans` and in fenced blocks: what a reader types or writes into a file.
FENCED_OR_SPAN = re.compile(r"^```.*?\n(.*?)^```|`([^`\n]+)`", re.MULTILINE | re.DOTALL)
CODE = [
    fenced or span for text in DOCUMENTS.values() for fenced, span in FENCED_OR_SPAN.findall(text)
]
LINES = [line for part in CODE for line in re.split(r"\n|&&|;", part)]

TRACKED_TEXT = sorted(
    path
    for top in (".ci", "monitor", "simulator", "config", "deploy", "docs", "tests", *DOCUMENTS)
    for path in ((ROOT / top).rglob("*") if (ROOT / top).is_dir() else [ROOT / top])
    if path.is_file() and "__pycache__" not in path.parts
)


def stands_in_code(word: str) -> bool:
    return any(re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", part) for part in CODE)


def commands() -> set[str]:
    # argparse has no public way to list what add_subparsers was given.
    [children] = [
        action for action in command_parser()._actions if isinstance(action.choices, dict)
    ]
    return set(children.choices)


def settings() -> list[str]:
    """Every key of yard.toml, with its block before it."""
    schema = YardFile.model_json_schema()
    blocks = {name: part for name, part in schema["$defs"].items() if "properties" in part}
    return [
        *schema["properties"],
        *(f"{block}: {key}" for block, part in blocks.items() for key in part["properties"]),
    ]


def test_readme_opens_with_the_job():
    title, first = DOCUMENTS["README.md"].split("\n\n")[:2]
    assert title == "# laidup"
    assert len(first.split()) > 50
    assert not first.startswith(("#", "-", "`", "!"))


def test_readme_goes_in_the_order_of_the_job():
    headings = re.findall(r"^## (.*)$", DOCUMENTS["README.md"], re.MULTILINE)
    assert headings == [
        "See it run", "One evening", "Install for a yard", "What the sensors send", "Upgrade",
        "Back up", "Test",
    ]  # fmt: skip
    assert len(DOCUMENTS["README.md"].splitlines()) < 250


def test_each_page_is_reached_from_readme_and_from_the_sites_index():
    for name in PAGES:
        assert name == "docs/index.md" or f"]({Path(name).name})" in DOCUMENTS["docs/index.md"]
    told = DOCUMENTS["README.md"] + DOCUMENTS["DEVELOPERS.md"]
    assert [name for name in PAGES if f"({name})" not in told] == []


def test_every_key_of_a_mapping_stands_in_the_documents():
    for block in (MappingFile, ValueBlock):
        keys = [key for key in block.model_fields if f"`{key}`" not in MAPPINGS]
        assert keys == [], block


def test_every_command_stands_in_the_documents():
    assert [name for name in sorted(commands()) if not stands_in_code(f"laidup {name}")] == []


def test_every_setting_stands_in_the_documents():
    assert [key for key in settings() if not stands_in_code(key.rpartition(" ")[2])] == []


def test_every_cause_of_alarm_stands_in_the_documents():
    assert [cause for cause in DEFINITIONS if not stands_in_code(cause)] == []


def test_every_package_stands_in_the_contributor_s_guide():
    packages = [
        path.parent
        for top in ("monitor", "simulator")
        for path in (ROOT / top).rglob("__init__.py")
    ]
    missing = [
        str(package.relative_to(ROOT))
        for package in packages
        if f"{package.name}/" not in DOCUMENTS["DEVELOPERS.md"]
    ]
    assert missing == []


def test_every_command_that_the_documents_show_exists():
    shown = {
        match[1] for line in LINES if (match := re.search(r"(?:^|\s|/)laidup ([a-z][a-z-]*)", line))
    }
    # `git clone <URL> laidup` names a folder.
    assert shown - commands() == set()
    assert "demo" in shown


def test_every_file_that_the_documents_run_or_link_to_exists():
    run = [
        word
        for line in LINES
        for word in shlex.split(line, comments=True)
        if re.fullmatch(r"(deploy|tests|config|\.ci)/[\w./-]*", word)
    ]
    linked = [
        (ROOT / name).parent / target
        for name, text in DOCUMENTS.items()
        for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", text)
    ]
    assert "deploy/bootstrap.py" in run
    assert [path for path in (*(ROOT / name for name in run), *linked) if not path.exists()] == []


@pytest.mark.parametrize("name", ["deploy/bootstrap.py", "deploy/test-machine.sh", ".ci/run"])
def test_set_up_takes_packages_from_wherever_the_machine_is_configured_to(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    assert re.findall(r"://|index-url|find-links|trusted-host", text) == []


def test_no_file_knows_the_machine_it_was_written_on():
    own_places = re.compile(r"(?<![\w.>}-])/(?:work|home|Users|root)/\w")
    knowing = []
    for path in TRACKED_TEXT:
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue  # a picture or an archive
        knowing += [f"{path.relative_to(ROOT)}: {found}" for found in own_places.findall(text)]
    assert knowing == []


def test_continuous_integration_runs_what_readme_tells_a_person_to_run():
    assert "sh deploy/test-machine.sh" in DOCUMENTS["README.md"]
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    acts = [line for line in script.splitlines() if line and not line.startswith("#")]
    assert acts == ['exec sh "$(dirname "$0")/../deploy/test-machine.sh"']
