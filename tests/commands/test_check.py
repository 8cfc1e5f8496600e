"""``laidup check`` finds before the daemon does what would keep it from starting."""

from monitor.cli import main
from monitor.settings.load import load
from monitor.store.store import Store
from tests.commands.yard_files import copied_yard, fill


def test_a_craft_file_that_contradicts_the_record_is_told_and_nothing_is_written(tmp_path, capsys):
    config = copied_yard(tmp_path)
    settings = fill(config, days=1)
    with_store = Store(settings.store_url, settings.yard.id)
    with with_store.snapshot() as tx:
        before = tx.layup.revision()
    craft = config.with_name("craft.toml")
    text = craft.read_text(encoding="utf-8")
    craft.write_text(text.replace('ice_point = "-30C"', 'ice_point = "-20C"', 1), encoding="utf-8")
    assert main(["check", "--config", str(config)]) == 1
    said = capsys.readouterr().out
    assert "Store: FAILED" in said
    assert "k1" in said
    with with_store.snapshot() as tx:
        assert tx.layup.revision() == before
    with_store.close()


def test_an_unchanged_yard_has_no_fault_and_is_only_looked_at(tmp_path, capsys):
    config = copied_yard(tmp_path)
    settings = fill(config, days=1)
    main(["check", "--config", str(config)])
    said = capsys.readouterr().out
    assert "12 craft in craft files" in said
    assert "Store: FAILED" not in said
    assert "readings of this yard" in said
    assert load(config).yard.id == settings.yard.id
