"""Letters on paper: what a PDF prints, and what is said of the letters it cannot."""

from __future__ import annotations

import pypdfium2
import pytest
from cli_folder import PLAN, folder_of, run


class TestLetters:
    """A PDF has Latin, Greek and Cyrillic letters: any others are named in words."""

    @pytest.mark.parametrize(
        ("title", "printed", "named"),
        [
            ("Příborník", "Příborník", ""),  # Czech
            ("Stół źdźbło", "Stół źdźbło", ""),  # Polish
            ("Øre äöü ½", "Øre äöü ½", ""),
            ("Πάγκος", "Πάγκος", ""),
            ("Верстак 2?", "Верстак 2?", ""),
            ("作業台 x?", "??? x?", "作"),
        ],
    )
    def test_a_title(self, tmp_path, title, printed, named):
        at = folder_of(tmp_path / "b", plan=PLAN.replace("Sawing bench", title))
        out = tmp_path / "a.pdf"
        result = run("draw", "apron", "--output", str(out), at=at)
        document = pypdfium2.PdfDocument(out)
        text = document[0].get_textpage().get_text_bounded()
        document.close()
        assert printed in text
        assert ("a PDF prints Latin, Greek and Cyrillic letters" in result.stderr) == bool(named)
        assert named in result.stderr
        assert "?" not in named
        svg = tmp_path / "a.svg"
        assert "letters" not in run("draw", "apron", "--output", str(svg), at=at).stderr
        assert title in svg.read_text(encoding="utf-8")
