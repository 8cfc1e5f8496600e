"""Labels on paper: they say what the record says, a scan opens the craft, and nothing is cut."""

from bisect import bisect_left
from dataclasses import replace
from datetime import datetime

import pytest

from monitor.craft.circuit_events import Iced
from monitor.craft.label_figures import gather_label
from monitor.errors import BadValueError
from monitor.phrases.label import DO_NOT_START, label_words
from monitor.sheets.fitting import SHORTENED
from monitor.sheets.label import Label
from monitor.sheets.label_pages import write_labels
from monitor.sheets.paper import Paper
from monitor.sheets.qr import code_content
from monitor.sheets.typeface import load_typeface, visual_order
from monitor.wording import Units, Wording
from tests.craft.scene import EVE, SHELTERS, ZONE, record, twelve, work
from tests.sheets.paper_reader import codes_of, pages_of, pictures_of, text_of

PEOPLE = {"operator": "Ines Aldaz", "mechanic": "Tom Varga"}
METRIC = Wording(zone=ZONE, units=Units(), now=EVE, people=PEOPLE)
US = replace(METRIC, units=Units(temperature="F", volume="fl oz"))
ADDRESS = "https://watch.kettlemoss.example"
FOOT = "An aid to judgement."


def label_of(one, words=METRIC, address=ADDRESS):
    told = gather_label(one, SHELTERS, EVE, -20.0, words)
    code = code_content(address, one.craft.id)
    return Label(words=label_words(told, words), code=code, foot=FOOT)


@pytest.fixture
def printed(tmp_path):
    """Prints craft; tells the file and what became of it."""

    def on_paper(*craft, paper=Paper.LABEL, words=METRIC, address=ADDRESS):
        file = tmp_path / "labels.pdf"
        labels = [label_of(one, words, address) for one in craft]
        return file, write_labels(file, labels, paper, load_typeface(), "Labels")

    return on_paper


def test_a_label_tells_the_weakest_circuit_and_the_work_behind_it(printed):
    file, _ = printed(twelve()["k1"])
    said = text_of(file)
    for word in (DO_NOT_START, "Teal", "k1 · Long Shed 1", "Cylinder and head passages",
                 "Holds −30.0 °C", "lot P26-117", "Read −30.0 °C", "27 Oct 2026", "Ines Aldaz",
                 "As of 14 Nov 2026, 16:00", "Signed off by"):  # fmt: skip
        assert word in said.replace("\N{NO-BREAK SPACE}", " ")


def test_a_yard_of_fahrenheit_reads_fahrenheit(printed):
    file, _ = printed(twelve()["k1"], words=US)
    said = text_of(file).replace("\N{NO-BREAK SPACE}", " ")
    assert "−22.0 °F" in said  # −30 °C
    assert "°C" not in said


@pytest.mark.parametrize(
    ("craft", "says"),
    [
        ("k2", "NOT PROTECTED: Cylinder and head passages, not shown to hold"),
        (
            "k3",
            "NOT ENOUGH for −20 °C: holds −5.0 °C. Weakest: Exhaust manifold, intercooler and oil",
        ),
        ("k5", "NOT PROTECTED: Port cylinder and head passages, nothing on record"),
        ("k6", "No water in any circuit"),
        ("k8", "NOT PROTECTED: Block and heads, not shown to hold"),
        ("k11", "NOT PROTECTED: Block and heads, undone"),
        ("k12", "NOT PROTECTED: Cylinder and head passages, undone"),
    ],
)
def test_undone_and_unknown_circuits_are_said_as_such(printed, craft, says):
    file, _ = printed(twelve()[craft])
    said = text_of(file).replace("\N{NO-BREAK SPACE}", " ")
    assert says.split(":")[0] in said
    # The code stands at the side of a headline, and poppler may read it between two lines.
    assert all(word in said for word in says.split())
    if says.startswith("NOT PROTECTED"):
        assert "lot" not in said.split()


def test_ice_that_may_be_in_it_is_said_before_all_else(printed):
    iced = Iced(circuit="water-box", at=datetime(2026, 11, 10, 3, 0, tzinfo=ZONE))
    file, _ = printed(record(iced=(iced,)))
    said = text_of(file, as_drawn=True)
    assert "MAY HAVE ICE IN IT since 10 Nov 2026: Exhaust water box" in said
    assert said.index("MAY HAVE ICE") < said.index("None of its 5 circuits is shown to hold")


def test_once_it_is_signed_off_a_label_does_not_forbid_the_start(printed):
    ready = record(work("commissioned", 24, by="Vera"))
    file, _ = printed(ready)
    assert "DO NOT START" not in text_of(file)


@pytest.mark.parametrize("craft", ["k1", "k5"])
def test_a_label_printer_s_copy_is_read_back_by_a_decoder(printed, tmp_path, craft):
    file, _ = printed(twelve()[craft])
    (page,) = pictures_of(file, tmp_path)
    assert codes_of(page) == [f"{ADDRESS}/craft/{craft}"]


def test_a_yard_without_a_page_gets_the_craft_s_id(printed, tmp_path):
    file, _ = printed(twelve()["k1"], address=None)
    assert [codes_of(one) for one in pictures_of(file, tmp_path)] == [["k1"]]


def test_the_longest_address_that_is_taken_is_still_read_and_a_longer_one_is_refused(
    printed, tmp_path
):
    def takes(length):
        try:
            printed(twelve()["k1"], address=f"https://watch.example/{'y' * length}")
        except BadValueError:
            return False
        return True

    lengths = range(20, 400)
    longest = lengths[bisect_left(lengths, True, key=lambda one: not takes(one)) - 1]
    assert longest < lengths[-1]
    address = f"https://watch.example/{'y' * longest}"
    file, _ = printed(twelve()["k1"], address=address)
    assert codes_of(pictures_of(file, tmp_path)[0]) == [f"{address}/craft/k1"]
    with pytest.raises(BadValueError, match=r"\[web\]"):
        printed(twelve()["k1"], address=f"{address}y")


@pytest.mark.parametrize(
    ("paper", "size", "pages"),
    # ISO 216; ANSI/ASME Y14.1 size A
    [(Paper.LABEL, (100.0, 62.0), 12), (Paper.A4, (210.0, 297.0), 2),
     (Paper.LETTER, (215.9, 279.4), 2)],
)  # fmt: skip
def test_all_labels_of_a_yard_stand_on_paper_of_its_size(printed, tmp_path, paper, size, pages):
    file, printout = printed(*twelve().values(), paper=paper)
    assert printout.pages == pages
    assert pages_of(file) == [pytest.approx(size, abs=0.1)] * pages
    codes = [code for one in pictures_of(file, tmp_path, 300) for code in codes_of(one)]
    assert sorted(codes) == sorted(f"{ADDRESS}/craft/{key}" for key in twelve())


def ink_at_the_edge(picture, dpi, millimetres=1.5):
    """Dark pixels of a label nearer to its edge than that."""
    edge = round(millimetres / 25.4 * dpi)
    inner = picture.copy()
    inner.paste(255, (edge, edge, picture.width - edge, picture.height - edge))
    return sum(inner.histogram()[:128])


NAMES = {
    "hebrew": "שלום הים",
    "arabic": "محمد البحار",
    "chinese": "水手号",
    "emoji": "Gull 🚤",
    "markup": "<script>alert(1)</script>",
    "long": "The Exceedingly Patient Lady Constance of Upper Kettlemoss and Lake Ossawin II",
    "one word": "W" * 80,
    "combining": "Zoë Ẹ̀bùn",
}


@pytest.mark.parametrize("kind", NAMES)
def test_a_name_in_any_script_stays_inside_its_label_and_loses_nothing_unseen(
    printed, tmp_path, kind
):
    name = NAMES[kind]
    one = record(name=name)
    file, printout = printed(one)
    (page,) = pictures_of(file, tmp_path)
    assert ink_at_the_edge(page, 203) == 0
    assert codes_of(page) == [f"{ADDRESS}/craft/k1"]
    said = "".join(text_of(file).split())
    if kind in ("chinese", "emoji"):
        assert set(printout.missing) == {sign for sign in name if ord(sign) > 0x3000}
        assert all(f"U+{ord(sign):04X}" in said for sign in printout.missing)
    elif kind == "arabic":
        assert printout.missing == ()
    else:
        assert printout.missing == ()
        shown = "".join(name.split())
        # A text that is read from the right is set from the left: poppler turns it back.
        assert shown in said or "".join(name.split()[::-1]) in said or SHORTENED[2:] in said


def test_what_is_shortened_says_so_and_is_told(printed):
    seen = work("inspected", 0, "hoses", by=f"Anna {'Maria ' * 60}", dry=False)
    file, printout = printed(record(seen), twelve()["k1"])
    assert "(shortened)" in text_of(file)
    assert printout.shortened == ("k1 · Long Shed",)  # and not Teal's own, which stands in berth 1


def test_letters_of_arabic_are_joined_and_stand_from_the_right():
    # Unicode, Arabic Presentation Forms-B: meem final, hah medial, meem initial.
    assert visual_order("محم") == "\ufee2\ufea4\ufee3"
    assert visual_order("Teal שלום") == "Teal םולש"
