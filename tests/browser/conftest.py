"""The real app on a real server in a real browser. Without Chromium these tests are skipped; in CI they then fail."""

import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.error import URLError
from urllib.parse import urlsplit

import pytest

from tests.dashboard.fleet import make_warehouse

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
READY = '[data-testid="stApp"][data-test-script-state="notRunning"][data-test-connection-state="CONNECTED"]'
#: Streamlit looks for its own routes below the page's address first.
LOOKED_FOR = re.compile(r"/\w+/_stcore/(health|host-config)$")


def pytest_collection_modifyitems(items):
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)


@dataclass
class Server:
    """The running app: its address, its warehouse, and what it printed."""

    address: str
    warehouse: Path
    log: Path

    def printed(self) -> str:
        return self.log.read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def chromium():
    path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if path is None:
        if os.environ.get("STICKFLEET_REQUIRE_BROWSER") == "1":
            pytest.fail("Chromium is missing, and STICKFLEET_REQUIRE_BROWSER asks for it.")
        pytest.skip("Chromium is not on this machine.")
    return path


@pytest.fixture(scope="session")
def server(chromium, tmp_path_factory, request):
    folder = tmp_path_factory.mktemp("browser")
    with serving(make_warehouse(folder), request.config.rootpath) as running:
        yield running


@contextmanager
def serving(warehouse: Path, root: Path):
    """Give the running app on a warehouse; the folder that this is in takes what it prints."""
    folder = warehouse.parent
    log = folder / "server.log"
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
    environment = {**os.environ, "STICKFLEET_WAREHOUSE": str(warehouse), "PYTHONPATH": str(root)}
    words = [sys.executable, "-m", "streamlit", "run", str(root / "dashboard" / "app.py"), "--server.port", str(port)]
    with (
        log.open("w", encoding="utf-8") as out,
        subprocess.Popen(words, env=environment, stdout=out, stderr=out, cwd=folder) as process,
    ):
        address = f"http://127.0.0.1:{port}"
        try:
            _wait_for(f"{address}/_stcore/health", process)
            yield Server(address, warehouse, log)
        finally:
            process.terminate()


def _wait_for(address: str, process: subprocess.Popen, *, seconds: float = 40) -> None:
    ends = time.monotonic() + seconds
    while time.monotonic() < ends and process.poll() is None:
        try:
            with urllib.request.urlopen(address, timeout=2):
                return
        except (URLError, OSError):
            time.sleep(0.1)
    pytest.fail("The dashboard did not start.")


@pytest.fixture(scope="session")
def browser(chromium):
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        one = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        yield one
        one.close()


@pytest.fixture(scope="session")
def context(browser):
    """Return a function that gives the browser context of a size and scheme; one each, as a first load takes seconds."""
    made = {}

    def of(width: int, height: int, scheme: str):
        if (width, height, scheme) not in made:
            size = {"width": width, "height": height}
            made[width, height, scheme] = browser.new_context(viewport=size, color_scheme=scheme, accept_downloads=True)
        return made[width, height, scheme]

    yield of
    for one in made.values():
        one.close()


@dataclass
class Visit:
    """A browser tab, with what went wrong in it and whom it asked."""

    page: object
    server: Server
    faults: list[str]
    hosts: set[str]

    def open(self, name: str = "") -> None:
        self.page.goto(f"{self.server.address}/{name}")
        self.settle()

    def settle(self) -> None:
        """Wait until the script has run and nothing on the page is stale."""
        self.page.wait_for_selector(READY, timeout=60_000)
        self.page.wait_for_function(
            "() => !document.querySelector('[data-stale=\"true\"]') && !document.querySelector('[data-testid=\"stSkeleton\"]')"
            " && [...document.querySelectorAll('.js-plotly-plot')].every(one => one._fullData)",
            timeout=60_000,
        )

    def does(self, act) -> None:
        """Act on the page, and wait until the server has answered."""
        self.page.evaluate(
            """() => { window.finished = 0; const app = document.querySelector('[data-testid="stApp"]');
            new MutationObserver(() => { if (app.dataset.testScriptState === 'notRunning') window.finished += 1; })
                .observe(app, {attributes: true, attributeFilter: ['data-test-script-state']}); }"""
        )
        act()
        self.page.wait_for_function("() => window.finished > 0", timeout=60_000)
        # what ended may have been the look for new data; the act's own run then begins at once
        self.page.wait_for_timeout(250)
        self.settle()

    def go(self, title: str) -> None:
        link = self.page.get_by_role("menuitem", name=title, exact=True)
        for section in self.page.get_by_test_id("stTopNavSection").all():
            section.click()
            self.page.wait_for_timeout(300)  # the list of a section opens
            if link.count():
                break
            self.page.keyboard.press("Escape")
        self.does(link.click)
        self.page.get_by_role("heading", level=1).wait_for()

    @property
    def lead(self) -> str:
        return self.page.locator(".sf-lead").first.inner_text()


@pytest.fixture
def visit(context, server):
    """Return a function that opens a tab; at the end no tab may have had an error or asked another host."""
    visits = []

    def made(*, width: int = 1280, height: int = 900, scheme: str = "light") -> Visit:
        page, faults, hosts = context(width, height, scheme).new_page(), [], set()
        page.on("pageerror", lambda error: faults.append(f"page: {error}"))
        page.on("dialog", lambda dialog: (faults.append(f"dialog: {dialog.message}"), dialog.dismiss()))
        page.on("console", lambda said: faults.append(f"console: {said.text}") if _is_fault(said) else None)
        page.on("response", lambda got: faults.append(f"{got.status} {got.url}") if _is_failed(got) else None)
        page.on("request", lambda asked: hosts.update(_asked_host(asked.url)))
        page.on("websocket", lambda socket: hosts.update(_asked_host(socket.url)))
        visits.append(Visit(page, server, faults, hosts))
        return visits[-1]

    yield made
    for one in visits:
        one.page.close()
        assert one.faults == []
        assert one.hosts <= {server.address.removeprefix("http://")}
    assert "Traceback" not in server.printed()


def _is_fault(said) -> bool:
    return said.type == "error" and not LOOKED_FOR.search(said.location.get("url", ""))


def _is_failed(got) -> bool:
    return got.status >= 400 and not LOOKED_FOR.search(got.url)


def _asked_host(url: str) -> set[str]:
    """Return the host of an address; blobs and data addresses never leave the page and have none."""
    return set() if url.startswith(("blob:", "data:")) else {urlsplit(url).netloc}
