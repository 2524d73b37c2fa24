"""The frame of the page: no warehouse yet, a broken one, and new data while it is open."""

import shutil

import pytest
from streamlit.testing.v1 import AppTest

from pipelines.load import load
from pipelines.settings import Settings
from tests.dashboard.fleet import write_exports

FAILURES_ONLY = """job_id,unit_id,stick,family,received_on,visit_reason,finding,action,outcome
1,U1,L,Corvath,2025-01-10,fault_report,fault_confirmed,clean_open,pass
2,U2,L,Corvath,2025-02-10,fault_report,fault_confirmed,replace_module,pass
3,U1,L,Corvath,2025-06-10,fault_report,fault_confirmed,clean_open,fail
"""


def opened(request) -> AppTest:
    return AppTest.from_file(str(request.config.rootpath / "dashboard/app.py"), default_timeout=60).run()


def bodies(app) -> str:
    return "".join(one.proto.body for one in app.get("html"))


def test_without_a_warehouse_the_page_says_how_to_load(monkeypatch, tmp_path, request):
    monkeypatch.setenv("STICKFLEET_WAREHOUSE", str(tmp_path / "none"))
    app = opened(request)
    assert not app.exception
    assert app.title[0].value == "No job log loaded yet"
    assert "stickfleet load PATH" in app.code[0].value


def test_a_broken_warehouse_is_told_with_its_remedy_and_no_traceback(monkeypatch, tmp_path, request):
    (tmp_path / "current").write_text("fleet-000001.duckdb", encoding="utf-8")
    (tmp_path / "fleet-000001.duckdb").write_bytes(b"junk" * 1000)
    monkeypatch.setenv("STICKFLEET_WAREHOUSE", str(tmp_path))
    app = opened(request)
    assert not app.exception
    assert app.subheader[0].value == "This cannot be shown"
    assert "load again" in bodies(app)


def test_a_wrong_settings_file_is_told_with_its_remedy(monkeypatch, warehouse, tmp_path, request):
    copy = shutil.copytree(warehouse, tmp_path / "warehouse")
    (copy / "settings.toml").write_text("notice_days = 'soon'\n", encoding="utf-8")
    monkeypatch.setenv("STICKFLEET_WAREHOUSE", str(copy))
    app = opened(request)
    assert not app.exception
    assert "notice_days" in bodies(app)


def test_settings_in_the_folder_change_the_histories(monkeypatch, warehouse, tmp_path, request):
    copy = shutil.copytree(warehouse, tmp_path / "warehouse")
    (copy / "settings.toml").write_text("log_end = 2025-01-31\n", encoding="utf-8")
    monkeypatch.setenv("STICKFLEET_WAREHOUSE", str(copy))
    app = opened(request)
    assert not app.exception
    assert "to 2025-01-31." in bodies(app)


def test_a_load_while_the_page_is_open_is_shown(monkeypatch, tmp_path, request):
    folder = tmp_path / "warehouse"
    monkeypatch.setenv("STICKFLEET_WAREHOUSE", str(folder))
    app = opened(request)
    assert app.title[0].value == "No job log loaded yet"
    load([write_exports(tmp_path / "exports", jobs=300)], warehouse=folder, settings=Settings())
    app.run()
    assert app.title[0].value == "What stands out"


@pytest.fixture
def small(monkeypatch, tmp_path, request):
    """Return a function that loads a few files and opens every screen, one after the other."""

    def opened_on(files: list) -> list[AppTest]:
        monkeypatch.setenv("STICKFLEET_WAREHOUSE", str(tmp_path / "small"))
        load(files, warehouse=tmp_path / "small", settings=Settings())
        screens = [opened(request)]
        for name in ("cleaning_success", "time_to_failure", "recurrence", "data", "restoration", "factors"):
            screens.append(opened(request).switch_page(f"screens/{name}.py").run())
        return screens

    return opened_on


def test_a_warehouse_without_a_single_job_has_nothing_to_say_and_no_error(small, tmp_path):
    screens = small([write_exports(tmp_path / "exports", jobs=300) / "units.csv"])
    assert not any(app.exception for app in screens)
    assert "No job is loaded yet" in bodies(screens[0])
    assert all("Nothing to say" in bodies(app) for app in screens[1:2] + screens[3:4])


def test_a_log_of_failures_only_is_refused_a_lifetime_in_words(small, tmp_path):
    jobs = tmp_path / "jobs.csv"
    jobs.write_text(FAILURES_ONLY, encoding="utf-8")
    screens = small([jobs])
    assert not any(app.exception for app in screens)
    assert "it holds failures only" in bodies(screens[2])
    assert "Load a register of units" in bodies(screens[0])
    assert not screens[2].get("plotly_chart")
