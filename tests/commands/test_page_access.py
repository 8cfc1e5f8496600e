"""``laidup access`` for the page: what it gives is shown once, and what it takes back is gone."""

import json
import re
from contextlib import closing
from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from monitor.clock import ReadingsClock, SystemClock
from monitor.commands.warnings import list_page_risks
from monitor.daemon.housework import house_jobs
from monitor.daemon.opening import end_old_access
from monitor.judgement.inputs import CraftInCare
from monitor.settings.load import load_settings
from monitor.store.store import Store
from monitor.web.access.people_access import PeopleAccess
from monitor.web.app import create_app
from monitor.yard.health import JobName
from tests.commands.yard_files import copied_yard, fill, laidup

ADDRESS = "https://watch.kettlemoss.example"


@pytest.fixture
def config(tmp_path):
    copied = copied_yard(tmp_path)
    text = copied.read_text(encoding="utf-8")
    copied.write_text(f'{text}\n[web]\naddress = "{ADDRESS}"\n')
    fill(copied)
    return copied


@pytest.fixture
def page(config):
    settings = load_settings(config)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        clock = SystemClock()
        craft = CraftInCare(store, settings.profiles, settings.yard, clock).read_now
        access = PeopleAccess(store, settings.yard, clock, craft, https_outside=True)
        app = create_app(
            store, settings.yard, clock, craft, access=access, address=ADDRESS,
            profiles=settings.profiles,
        )  # fmt: skip
        yield TestClient(app, base_url=ADDRESS, follow_redirects=False)


def access(config, capsys, *words):
    assert laidup("access", words[0], "--config", str(config), *words[1:]) == 0
    return capsys.readouterr().out


def id_in(said):
    return re.search(r"\b(key|link)-[a-z0-9]{8}\b", said)[0]


def test_a_key_opens_until_it_is_withdrawn_and_is_in_no_list(config, page, capsys):
    said = access(config, capsys, "key", "collector")
    key = next(line for line in said.splitlines() if line.startswith("laidup-key-"))
    shown = {"Authorization": f"Bearer {key}"}
    assert page.get("/api/assess", headers=shown).status_code == 200
    listed = access(config, capsys, "issued")
    assert "collector, reader" in listed
    assert "never used" not in listed
    assert key not in listed
    assert key not in access(config, capsys, "log")
    access(config, capsys, "withdraw", id_in(said))
    assert page.get("/api/assess", headers=shown).status_code == 401
    [row] = json.loads(access(config, capsys, "issued", "--json"))["issued"]
    assert (row["name"], row["role"], row["good"]) == ("collector", "reader", False)


def test_two_keys_of_one_name_are_refused(config, capsys):
    access(config, capsys, "key", "collector")
    assert laidup("access", "key", "--config", str(config), "collector") != 0
    assert "withdraw it first" in capsys.readouterr().err


def test_an_owner_s_link_opens_the_own_craft(config, page, capsys):
    settings = load_settings(config)
    owner = next(one for one in settings.yard.people if "owner" in one.roles)
    said = access(config, capsys, "owner-link", owner.id)
    path = re.search(rf"{ADDRESS}(/owner/\S+)", said)[1]
    opened = page.get(path)
    assert opened.status_code == 200
    own = {one.craft.name for one in settings.craft if one.craft.owner == owner.id}
    others = {one.craft.name for one in settings.craft} - own
    assert own
    assert all(name in opened.text for name in own)
    assert not any(name in opened.text for name in others)
    access(config, capsys, "withdraw", id_in(said))
    assert page.get(path).status_code == 404


def test_a_link_to_one_craft_for_somebody_else(config, page, capsys):
    settings = load_settings(config)
    one, other = settings.craft[:2]
    said = access(
        config, capsys, "craft-link", one.craft.name, "--to", "the insurer", "--days", "3"
    )
    opened = page.get(re.search(rf"{ADDRESS}(/owner/\S+)", said)[1])
    assert one.craft.name in opened.text
    assert other.craft.name not in opened.text
    assert "the insurer" in access(config, capsys, "issued")


def test_an_operator_has_no_owner_s_link(config, capsys):
    assert laidup("access", "owner-link", "--config", str(config), "operator") != 0
    assert "no owner" in capsys.readouterr().err


def test_an_invitation_leaves_by_mail_or_is_shown_and_sets_the_password(config, page, capsys):
    said = access(config, capsys, "invite", "operator")
    assert "leaves by mail" in said
    assert "/password/" not in said
    settings = load_settings(config)
    with closing(Store(settings.store_url, settings.yard.id)) as store, store.snapshot() as tx:
        letter = tx.outbox.newest_messages(1)[0][0]
    sent = re.search(rf"{ADDRESS}(/password/\S+)", letter.text)[1]
    shown = re.search(
        rf"{ADDRESS}(/password/\S+)", access(config, capsys, "invite", "operator", "--show")
    )[1]
    assert page.get(sent).status_code == 404, "the newer link took its place"
    assert page.post(shown, data={"password": "four cold words apart"}).status_code == 303
    assert page.get("/account").status_code == 200
    assert "signed in at 1 places" in access(config, capsys, "issued")
    access(config, capsys, "sign-out", "operator")
    assert page.get("/account").status_code == 303
    log = json.loads(access(config, capsys, "log", "--json"))
    assert [one["deed"] for one in log][:2] == ["signed out everywhere", "set the password"]


def test_at_the_start_the_log_says_that_nobody_has_a_password_and_names_nobody_who_left(
    config, page, capsys, caplog
):
    settings = load_settings(config)

    def start(settings):
        caplog.clear()
        with closing(Store(settings.store_url, settings.yard.id)) as store:
            end_old_access(settings, store, SystemClock())
        return " ".join(one.message for one in caplog.records)

    assert f"`laidup access invite --config {config.parent} NAME`" in start(settings)
    said = access(config, capsys, "invite", "operator", "--show")
    path = re.search(rf"{ADDRESS}(/password/\S+)", said)[1]
    assert page.post(path, data={"password": "four cold words apart"}).status_code == 303
    assert start(settings) == ""
    assert page.get("/account").status_code == 200
    yard = settings.yard
    gone = replace(yard, people=tuple(one for one in yard.people if one.id != "operator"))
    said = start(replace(settings, yard=gone))
    assert "left the yard's file: 1" in said
    assert yard.person("operator").name not in said
    assert page.get("/account").status_code == 303
    deeds = json.loads(access(config, capsys, "log", "--json"))
    assert ("operator", "lost access") in [(one["who"], one["deed"]) for one in deeds]


@pytest.mark.parametrize("job", [JobName.DAYS, JobName.RETENTION])
def test_each_hour_and_night_what_has_run_out_ends_for_good(config, capsys, job):
    settings = load_settings(config)
    owner = next(one for one in settings.yard.people if "owner" in one.roles)
    access(config, capsys, "owner-link", owner.id, "--days", "1")
    access(config, capsys, "invite", owner.id, "--show")
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        later = ReadingsClock(SystemClock().now() + timedelta(days=5))
        jobs = {job.name: job for job in house_jobs(settings, store, later, lambda: None)}
        jobs[job].run()
        with store.snapshot() as tx:
            [grant] = tx.page_grants.all_grants()
            assert not tx.sign_ins.known_people()
    assert grant.has_run_out
    assert "ran out" in access(config, capsys, "issued")
    [row] = json.loads(access(config, capsys, "issued", "--json"))["issued"]
    assert (row["good"], row["withdrawn_at"]) == (False, None)


def test_what_is_given_out_is_told_to_programs_too(config, page, capsys):
    def told(*words):
        return json.loads(access(config, capsys, *words, "--json"))

    key = told("key", "collector", "--role", "reader")
    shown = {"Authorization": f"Bearer {key['key']}"}
    assert page.get("/api/assess", headers=shown).status_code == 200
    settings = load_settings(config)
    owner = next(one for one in settings.yard.people if "owner" in one.roles)
    craft = settings.craft[0].craft
    of_owner = told("owner-link", owner.id)
    of_craft = told("craft-link", craft.id, "--to", "the insurer", "--days", "3")
    assert (of_owner["owner"], of_craft["craft"]) == (owner.id, craft.id)
    for one in (of_owner, of_craft):
        assert page.get(one["link"]).status_code == 200
        gone = told("withdraw", one["id"])
        assert gone["withdrawn_at"]
        assert page.get(one["link"]).status_code == 404
    mailed = told("invite", "operator")
    assert mailed["link"] is None, "a link that leaves by mail stands nowhere else"
    assert mailed["mail_to"] == settings.yard.person("operator").mail
    invited = told("invite", "operator", "--show")
    assert invited["mail_to"] is None
    assert page.post(invited["link"], data={"password": "four cold words apart"}).status_code == 303
    assert told("sign-out", "operator") == {"person": "operator", "sessions_ended": 1}
    assert told("sign-out", "operator")["sessions_ended"] == 0


def test_check_says_who_is_next_until_somebody_has_a_password(config, page, capsys):
    assert "nobody has a password yet" in list_page_risks(load_settings(config))
    assert "laidup access invite NAME" in list_page_risks(load_settings(config))
    link = json.loads(access(config, capsys, "invite", "operator", "--show", "--json"))["link"]
    assert page.post(link, data={"password": "four cold words apart"}).status_code == 303
    assert "nobody" not in list_page_risks(load_settings(config))


def test_check_says_what_of_the_page_lets_others_in(config):
    def says(web):
        text = config.read_text(encoding="utf-8").partition("\n[web]")[0]
        config.write_text(f"{text}\n[web]\n{web}\n", encoding="utf-8")
        return list_page_risks(load_settings(config))

    assert "in the clear" in says('host = "0.0.0.0"')
    assert "in the clear" in says('address = "http://watch.yard.example"')
    assert "in the clear" not in says("port = 8017")
    assert "in the clear" not in says('address = "http://127.0.0.1:8017"')  # tried out there alone
    assert "proxies" in says(f'address = "{ADDRESS}"')
    assert "WARNING" not in says(f'address = "{ADDRESS}"\nproxies = ["127.0.0.1"]')
    old = says('token_file = "gone"')
    assert "lets nobody in any more" in old
    assert "laidup access key" in old
    assert "nobody is asked" in says('access = "open"')
