"""A word of the user's alias table names a family of a case, as it does in the log."""

from __future__ import annotations

import pytest

from pipelines import warehouse
from pipelines.answers.lot_record import lot_record
from pipelines.errors import SettingError
from tests.answers.logs import Log, register, reports
from tests.answers.test_before_after import told


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    rows = [f"U{unit} 2025-0{month}-05 clean_open pass" for unit in range(6) for month in (1, 3)]
    units = register(*(f"U{unit}" for unit in range(6)))
    jobs = reports(*rows, "U1 2025-12-31 clean_open pass")
    return Log(tmp_path_factory.mktemp("log"), units=units, jobs=jobs, aliases="kind raw clean\nfamily NV-1 Nolm")


def test_the_record_of_lots_holds_the_aliases(log):
    with warehouse.reading(log.path) as connection:
        assert lot_record(connection).family_aliases == {"nv 1": "Nolm"}


def test_a_programme_of_a_family_takes_its_alias(log):
    assert told(log, start="2025-06-01", family="nv-1").case.family == "Nolm"
    with pytest.raises(SettingError, match="no family 'nv-2'"):
        told(log, start="2025-06-01", family="nv-2")
