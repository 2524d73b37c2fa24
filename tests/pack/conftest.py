import pytest

from tests.pack.packs import make_log


@pytest.fixture(scope="session")
def log(tmp_path_factory):
    return make_log(tmp_path_factory.mktemp("pack"))


@pytest.fixture(scope="session")
def pack(log, tmp_path_factory):
    return log.pack(tmp_path_factory.mktemp("made"))
