"""The font's own table of characters, against FreeType (through Pillow) as outside witness."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import ImageFont

from lapwright import documents
from lapwright.documents.errors import GlyphMissing
from lapwright.documents.fontmap import shown_codes
from lapwright.documents.glyphs import check_printable

FONT = Path(documents.__file__).parent / "fonts" / "SourceSans3-Regular.ttf"
# letters whose shapes cannot be mistaken for the box of a missing character
ASKED = "AZaz09ÀÿŁőǼḂẞỘΛωЖџ≤≥†‡→·–×■□△馬한あ"


def test_the_table_tells_as_freetype_does_which_letters_have_a_shape() -> None:
    font = ImageFont.truetype(str(FONT), 40)
    box = bytes(font.getmask("\uffff"))
    for char in ASKED:
        drawn = bytes(font.getmask(char)) != box
        assert (ord(char) in shown_codes()) is drawn, char


@pytest.mark.parametrize("text", ["馬", "a\u202eb", "a\nb", "\U0001f600"])
def test_what_cannot_be_printed_is_refused_with_its_place(text: str) -> None:
    with pytest.raises(GlyphMissing, match=r"case\.yaml: job.*U\+"):
        check_printable(text, "case.yaml: job")
