"""Every kind of letter to an owner in German: whole, with German days and hours."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.alarms.letters import message as message_module
from monitor.alarms.letters.rehearsal import rehearse
from monitor.delivery.leaving_forms import as_mail
from monitor.phrases.owner_english import ENGLISH
from monitor.yard.assessment import Hazard, Standing
from tests.alarms.letters.test_owner_letter import NAMED, scene_of, told
from tests.phrases.test_owner_catalogue import SHARED, words_of_templates


def german_scene(folder, **of_yard):
    scene, judged = scene_of(folder, **of_yard)
    people = tuple(replace(each, language="de", name="N.") for each in scene.yard.people)
    people = tuple(replace(p, name="Maren Ulv") if p.id == "maren" else p for p in people)
    scene.yard = replace(scene.yard, people=people)
    boat = scene.craft["K1"]
    parts = zip(boat.circuits, ("cylinder and head passages", "exhaust water box"), strict=True)
    scene.craft["K1"] = replace(boat, circuits=tuple(replace(c, name=n) for c, n in parts))
    scene.reopen()
    return scene, judged


def english_left(message):
    """English words of the catalogue that its mail holds, names of yard and craft left out."""
    mail = as_mail(replace(message, record_head=f"5-{'0' * 64}"), "alarms@yard.example")
    parts = [mail.get_body((kind,)) for kind in ("plain", "html")]
    text, page = (part.get_content() if part is not None else "" for part in parts)
    page = re.sub("<style>.*?</style>|<[^>]*>", " ", page, flags=re.DOTALL)
    said = f"{message.subject} {text} {page}"
    for name in ("Kettlemoss Yard", "Long Shed", "Maren Ulv", "Teal"):
        said = said.replace(name, " ")
    words = set(re.findall(r"[^\W\d_]{2,}", said.lower()))
    return words & (words_of_templates(ENGLISH) - SHARED)


def test_a_warning(tmp_path):
    scene, judged = german_scene(tmp_path, telephone="715-555-0142", reply_to="a@yard.example")
    scene.judge(*judged)
    subject, text = told(scene)
    assert subject == "Teal: Frostgefahr; das Winterlager ist benachrichtigt"
    assert text.startswith("Sie müssen nichts tun. Bitte starten Sie Teal nicht, bevor wir uns")
    parts = "Kühlkanäle von Zylinder und Zylinderkopf; Wassersammler im Auspuff"
    assert f"Gefährdet: {parts}." in text
    assert "Darin kann sich ab 01:40 Uhr Eis bilden" in text
    assert "Samstag, 14. November, 16:00 Uhr CST" in text
    assert "Fragen? Telefon 715-555-0142 oder Antwort auf diese Mail." in text
    assert not english_left(scene.messages("owner-1")[-1])


def test_an_answered_warning_names_who_and_when(tmp_path):
    owners = replace(NAMED, without_answer=timedelta(hours=3))
    scene, judged = german_scene(tmp_path, owners=owners)
    scene.judge(*judged)
    scene.after(minutes=20)
    scene.acknowledge_thread(scene.messages("maren")[0].thread, "maren")
    scene.judge(*judged)
    subject, text = told(scene)
    assert subject == "Teal: Frostgefahr; das Winterlager kümmert sich darum"
    assert "Maren Ulv von Kettlemoss Yard hat das um 16:20 Uhr übernommen." in text
    assert not english_left(scene.messages("owner-1")[-1])


@pytest.mark.parametrize("standing", [Standing.SOLID, Standing.SUSPECT])
def test_ice(tmp_path, standing):
    scene, judged = german_scene(tmp_path)
    for _ in range(3):
        scene.judge(*(replace(each, standing=standing) for each in judged))
        scene.after(minutes=15)
    subject, text = told(scene)
    assert subject == "Eis in Teal: bitte nicht starten"
    assert "bis das Winterlager nachgesehen hat" in text
    assert not english_left(scene.messages("owner-1")[-1])


def test_an_undone_lay_up(tmp_path):
    scene, (one, _) = german_scene(tmp_path)
    scene.judge(replace(one, hazard=Hazard.RECORD, standing=Standing.VOIDED, deadline=None))
    subject, text = told(scene)
    assert subject.startswith("Teal: Einwinterung gilt nicht mehr; ")
    assert "wird vor dem Frost wiederholt" in text
    assert not english_left(scene.messages("owner-1")[-1])


def test_the_all_clear(tmp_path):
    scene, judged = german_scene(tmp_path)
    scene.judge(*judged)
    for _ in range(40):
        scene.after(hours=1)
        scene.judge(*(replace(e, standing=Standing.HOLDING, margin_k=9.0) for e in judged))
    subject, text = told(scene)
    assert subject == "Teal ist außer Gefahr"
    assert (
        "Teal ist seit Sonntag, 23:00 Uhr außer Gefahr, soweit laidup das beurteilen kann." in text
    )
    assert not english_left(scene.messages("owner-1")[-1])


def test_a_rehearsal(tmp_path):
    scene, _ = german_scene(tmp_path)
    (message,) = rehearse(scene.store, scene.yard, scene.clock, "owner-1")
    assert message.subject == "Probe: So erreicht Sie Kettlemoss Yard"
    assert "Sie müssen nichts tun" in message.text
    assert not english_left(message)


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_letter_that_cannot_be_written_in_full_still_says_whom_to_ask(
    tmp_path, monkeypatch, language
):
    scene, judged = german_scene(tmp_path, telephone="715-555-0142")
    people = tuple(replace(each, language=language) for each in scene.yard.people)
    scene.yard = replace(scene.yard, people=people)
    scene.reopen()

    def fail(*_):
        raise RuntimeError("a fault in the words")

    monkeypatch.setattr(message_module, "compose_owner_letter", fail)
    scene.judge(*judged)
    message = scene.messages("owner-1")[-1]
    assert "Teal" in message.subject
    assert "715-555-0142" in message.text
    assert "laidup alarms" not in message.text  # a command of the yard's machine
    assert bool(english_left(message)) is (language == "en")
