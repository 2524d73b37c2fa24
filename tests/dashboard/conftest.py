import pytest
from streamlit.testing.v1 import AppTest

from tests.dashboard.fleet import make_warehouse

APP = "dashboard/app.py"


@pytest.fixture(scope="session")
def warehouse(tmp_path_factory):
    return make_warehouse(tmp_path_factory.mktemp("fleet"))


@pytest.fixture
def screen(warehouse, monkeypatch, request):
    """Return a function that opens a screen by its file name, with query parameters."""
    monkeypatch.setenv("STICKFLEET_WAREHOUSE", str(warehouse))

    def opened(name: str = "front", **query: str | list[str]) -> AppTest:
        app = AppTest.from_file(str(request.config.rootpath / APP), default_timeout=60)
        app.run()
        for key, value in query.items():
            app.query_params[key] = value
        if name != "front":
            app.switch_page(f"screens/{name}.py")
            app.run()
        return app

    return opened
