"""The pages under docs/ agree with the code: sources, glossary, decisions, links, examples."""

import doctest
import importlib
import re
from collections import Counter
from pathlib import Path

import pytest

import triage
from tests.project.tree import ROOT, pages, python_files, relative

DOCS = ROOT / "docs"
SOURCES = DOCS / "sources.md"
SECTIONS = ["Status", "Context", "Decision", "Consequences"]

KEY_IN_CODE = re.compile(r"\[([A-Za-z]+\d*)\]_")
KEY_IN_PAGE = re.compile(r"\[([A-Za-z]+\d+)\](?:_|\([^)]*sources\.md)")
ENTRY = re.compile(r"^### (\S+)$", re.MULTILINE)
LINK = re.compile(r"\]\(([^)#\s]+)(?:#[^)]*)?\)")
GLOSSARY_ROW = re.compile(r"^\| ([a-z][^|]*?) \| ([^|]+) \| ([^|]*) \|$", re.MULTILINE)


def keys_used() -> dict[str, list[str]]:
    """Where each source key is used, over code, tests and pages."""
    used: dict[str, list[str]] = {}
    readers = [
        *((path, KEY_IN_CODE) for path in python_files("triage", "webform", "tests")),
        *((path, KEY_IN_PAGE) for path in pages() if path != SOURCES),
    ]
    for path, pattern in readers:
        for key in pattern.findall(path.read_text(encoding="utf-8")):
            used.setdefault(key, []).append(relative(path))
    return used


def glossary() -> list[tuple[str, str, str]]:
    """Rows of the glossary: word, meaning, names in code."""
    rows = GLOSSARY_ROW.findall((DOCS / "glossary.md").read_text(encoding="utf-8"))
    return [row for row in rows if row[0] != "word"]


def decisions() -> list[Path]:
    return sorted((DOCS / "decisions").glob("*.md"))


def modules_with_examples() -> list[str]:
    return [
        relative(path).removesuffix(".py").removesuffix("/__init__").replace("/", ".")
        for path in python_files("triage", "webform")
        if ">>> " in path.read_text(encoding="utf-8")
    ]


def test_every_source_key_has_an_entry() -> None:
    entries = ENTRY.findall(SOURCES.read_text(encoding="utf-8"))

    missing = {key: places for key, places in keys_used().items() if key not in entries}

    assert missing == {}, "keys without an entry in docs/sources.md"


def test_every_source_is_used() -> None:
    entries = ENTRY.findall(SOURCES.read_text(encoding="utf-8"))

    unused = set(entries) - set(keys_used())

    assert entries, "docs/sources.md has no entry"
    assert unused == set(), "entries of docs/sources.md that nothing cites"


def test_sources_stand_once_and_in_order() -> None:
    entries = ENTRY.findall(SOURCES.read_text(encoding="utf-8"))

    assert entries == sorted(set(entries), key=str.lower)


def test_glossary_words_stand_once_and_in_order() -> None:
    words = [word for word, _, _ in glossary()]

    assert len(words) > 20
    assert words == sorted(set(words), key=str.lower)


def test_glossary_names_exist_in_the_code() -> None:
    code = " ".join(path.read_text("utf-8") for path in python_files("triage", "webform"))
    known = set(re.findall(r"\w+", code))

    named = {name for _, _, names in glossary() for name in re.findall(r"`(\w+)`", names)}

    assert named - known == set(), "names in docs/glossary.md that no code has"


def test_glossary_holds_every_public_class() -> None:
    classes = {name for name in triage.__all__ if isinstance(getattr(triage, name), type)}
    domain = {name for name in classes if not issubclass(getattr(triage, name), Exception)}

    named = {name for _, _, names in glossary() for name in re.findall(r"`(\w+)`", names)}

    assert domain - named == set(), "public classes without a row in docs/glossary.md"


def test_decision_numbers_are_unique_and_without_gaps() -> None:
    numbers = [int(path.name[:4]) for path in decisions()]

    assert numbers == list(range(1, len(numbers) + 1))
    assert numbers, "no decisions"


@pytest.mark.parametrize("path", decisions(), ids=relative)
def test_decision_has_its_four_sections_and_fits_on_one_page(path: Path) -> None:
    text = path.read_text(encoding="utf-8")

    assert text.startswith(f"# {path.name[:4]} ")
    assert re.findall(r"^## (.+)$", text, re.MULTILINE) == SECTIONS
    assert len(text.splitlines()) <= 60


@pytest.mark.parametrize("path", pages(), ids=relative)
def test_links_lead_to_files_that_exist(path: Path) -> None:
    targets = LINK.findall(path.read_text(encoding="utf-8"))
    local = [target for target in targets if "://" not in target and ":" not in target]

    broken = [target for target in local if not (path.parent / target).exists()]

    assert broken == []


def test_code_says_equivalent_sample_size_and_never_the_short_form() -> None:
    words: Counter[str] = Counter()
    for path in python_files("triage", "webform"):
        words.update(re.findall(r"[^\W_]+", path.read_text(encoding="utf-8")))

    assert words["ess"] == 0  # "effective" or "equivalent"? The glossary has one word


@pytest.mark.parametrize("module", modules_with_examples())
def test_examples_in_docstrings_are_true(module: str) -> None:
    results = doctest.testmod(importlib.import_module(module))

    assert results.attempted > 0
    assert results.failed == 0
