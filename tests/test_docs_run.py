"""Every example of the docs runs and prints what stands there; the reference is as the code has it."""

from __future__ import annotations

import re

import pytest
from reference_page import REFERENCE, reference
from shown_in_docs import PAGES, ROOT, agrees, page_runs


@pytest.mark.parametrize("page", PAGES, ids=[page.stem for page in PAGES])
def test_every_command_prints_what_the_page_shows(page):
    for command, shown, printed in page_runs(page):
        assert agrees(shown, printed), f"$ {command}\n{printed}\n--- but the page shows\n{shown}"


def test_there_are_pages_with_examples():
    assert {page.stem for page in PAGES} >= {"start"}


def test_the_comparison_notices_a_digit():
    assert agrees("a\n...\nc 5\n", "a\nb\nc 5\n")
    assert not agrees("a\n...\nc 5\n", "a\nb\nc 6\n")
    assert not agrees("a\n", "a\nb\n")


def test_every_link_of_the_docs_leads_somewhere():
    for page in (ROOT / "docs").rglob("*.md"):
        for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
            assert (page.parent / target).exists(), f"{page}: {target}"


def test_the_reference_is_not_stale():
    # python tests/reference_page.py writes it anew
    assert REFERENCE.read_text(encoding="utf-8") == reference()
