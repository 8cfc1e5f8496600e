"""A font of the yard's own helps out with what the usual one lacks, and with nothing else."""

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from reportlab.pdfgen.canvas import Canvas

from monitor.phrases.names import plain
from monitor.sheets.fitting import fit_text
from monitor.sheets.typeface import load_typeface, visual_order
from tests.sheets.paper_reader import text_of


def font_with(signs, path):
    """A TrueType file with a box for each sign."""
    names = {sign: f"sign{number}" for number, sign in enumerate(signs)}
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder([".notdef", *names.values()])
    builder.setupCharacterMap({ord(sign): name for sign, name in names.items()})
    pen = TTGlyphPen(None)
    for number, corner in enumerate([(0, 0), (0, 900), (900, 900), (900, 0)]):
        (pen.lineTo if number else pen.moveTo)(corner)
    pen.closePath()
    glyph = pen.glyph()
    builder.setupGlyf({name: glyph for name in [".notdef", *names.values()]})
    builder.setupHorizontalMetrics({name: (1000, 0) for name in [".notdef", *names.values()]})
    builder.setupHorizontalHeader(ascent=900, descent=-100)
    builder.setupNameTable({"familyName": path.parent.name, "styleName": "Regular"})
    builder.setupOS2(sTypoAscender=900)
    builder.setupPost()
    builder.save(path)
    return path


@pytest.fixture
def two_fonts(tmp_path):
    """Two files of one name in two folders, each with a sign of its own."""
    found = []
    for folder, sign in (("one", "水"), ("two", "手")):
        (tmp_path / folder).mkdir()
        found.append(font_with(sign, tmp_path / folder / "font.ttf"))
    return found


def test_signs_come_from_the_first_font_that_has_them(two_fonts, tmp_path):
    face = load_typeface(two_fonts)
    file = tmp_path / "name.pdf"
    canvas = Canvas(str(file))
    fit_text("Gull 水手号", 400, 40, face, largest=12).draw_lines(canvas, face, 50, 700)
    canvas.save()
    assert face.missing == {"号"}
    assert text_of(file) == "Gull 水手‹U+53F7›"


def test_without_it_the_sign_stands_as_its_code():
    face = load_typeface()
    assert face.printable_text("水") == "‹U+6C34›"
    assert face.printable_text("Zoë שלום محمد Ω Ж") == "Zoë שלום محمد Ω Ж"


def test_a_width_is_that_of_the_font_the_sign_comes_from(two_fonts):
    face = load_typeface(two_fonts)
    assert face.text_width("水手", 10.0) == pytest.approx(20.0)  # 1000 of 1000 units each
    assert face.text_width("水手", 10.0, bold=True) == pytest.approx(20.0)


def test_two_names_from_right_to_left_keep_their_order_in_a_list():
    first, second = "ברבור", "שלום"
    drawn = visual_order(f"{plain(first)}, {plain(second)} 2")
    assert drawn == f"{first[::-1]}, {second[::-1]} 2"
