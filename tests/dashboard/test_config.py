"""The page is served to this machine alone and reports to no one."""

import tomllib
from pathlib import Path

import pytest

CONFIG = tomllib.loads((Path(__file__).resolve().parents[2] / "dashboard/.streamlit/config.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    ("section", "option", "value"),
    [
        ("server", "address", "127.0.0.1"),
        ("server", "headless", True),
        ("server", "allowedHosts", ["127.0.0.1", "localhost"]),
        ("server", "enableXsrfProtection", True),
        ("browser", "gatherUsageStats", False),
        ("client", "showErrorLinks", False),
        ("client", "disableDataExport", True),
    ],
)
def test_the_configuration_keeps_the_page_at_home(section, option, value):
    assert CONFIG[section][option] == value
