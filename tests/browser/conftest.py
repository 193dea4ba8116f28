"""The desk as it ships: the demo command serves it, Chromium looks at it, one login for each role."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import expect

ROOT = Path(__file__).resolve().parents[2]
WIDTHS = {"phone": (360, 740), "tablet": (768, 1024), "desk": (1280, 900), "wide": (1400, 900)}
LOGINS = {"manager": "mabs", "desk": "odo", "yard": "hob", "technician": "juniper"}
START_S = 180
#: A busy machine draws late. What never comes is told apart from what comes late by this much patience.
PATIENCE_MS = 20_000
expect.set_options(timeout=PATIENCE_MS)
#: `KEYHOOK_BROWSER_SLOWDOWN=8 pytest -m browser` is the desk on an old tablet: every script eight times as slow.
SLOWDOWN = float(os.environ.get("KEYHOOK_BROWSER_SLOWDOWN", "1"))


def _free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    quiet = ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync"]  # fmt: skip
    return {
        **browser_type_launch_args,
        "executable_path": "/usr/bin/chromium",
        "chromium_sandbox": False,
        "args": quiet,
    }


@dataclass
class Desk:
    """A desk that is being served, and the password of the people of the demo."""

    url: str
    password: str
    said: str


#: Plans are searched for by steps: what a test meets on the board must not hang on how busy the machine is.
PLAN_STEPS = os.environ.get("KEYHOOK_BROWSER_PLAN_STEPS", "20000")


@pytest.fixture(scope="session")
def served(tmp_path_factory):
    home, port = tmp_path_factory.mktemp("home"), _free_port()
    plain = {key: value for key, value in os.environ.items() if not key.startswith(("KEYHOOK", "DJANGO", "PG"))}
    log = (home / "said.txt").open("w+")
    server = subprocess.Popen(
        [sys.executable, "-m", "keyhook_desk", "demo", "--port", str(port)],
        env={**plain, "PYTHONPATH": str(ROOT / "src"), "KEYHOOK_HOME": str(home), "KEYHOOK_PLAN_STEPS": PLAN_STEPS},
        stdout=log, stderr=log,
    )  # fmt: skip
    url = f"http://localhost:{port}"
    try:
        _wait_for(url, server, log)
        log.flush()
        said = Path(log.name).read_text()
        yield Desk(url, re.search(r"password (\S+)", said)[1], said)
    finally:
        server.terminate()
        server.wait(timeout=20)
        log.close()


def _wait_for(url, server, log):
    until = time.monotonic() + START_S
    while time.monotonic() < until:
        try:
            with urllib.request.urlopen(f"{url}/alive/", timeout=2):
                return
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            assert server.poll() is None, Path(log.name).read_text()
            time.sleep(0.2)
    pytest.fail(Path(log.name).read_text())


@pytest.fixture(scope="session")
def keys(served, browser):
    """What a browser holds after each role has logged in."""
    held = {}
    for role, login in LOGINS.items():
        context = browser.new_context(base_url=served.url)
        page = context.new_page()
        page.goto("/people/login/")
        page.get_by_label("Name").fill(login)
        page.get_by_label("Password").fill(served.password)
        page.get_by_role("button", name="Log in").click()
        page.wait_for_url("**/day/**")
        held[role] = context.storage_state()
        context.close()
    return held


@dataclass
class Watch:
    """Everything a page complained of."""

    found: list[str] = field(default_factory=list)
    expected: list[str] = field(default_factory=lambda: ["status of 4", "ERR_ABORTED"])


VIOLATIONS = """addEventListener('securitypolicyviolation',
  e => console.error('policy: ' + e.violatedDirective + ' ' + e.blockedURI))"""


@pytest.fixture
def open_page(served, browser, keys):
    """Open pages as somebody, at a size, in a scheme; at the end nothing may have been complained of."""
    contexts, watch = [], Watch()

    def opened(role="manager", *, size="desk", scheme="light", script=True, expect=()):
        width, height = WIDTHS[size]
        context = browser.new_context(
            base_url=served.url, storage_state=keys[role] if role else None, color_scheme=scheme,
            viewport={"width": width, "height": height}, java_script_enabled=script, reduced_motion="reduce",
            has_touch=size in {"phone", "tablet"}, locale="en-GB", timezone_id="Pacific/Kiritimati",
        )  # fmt: skip
        contexts.append(context)
        watch.expected.extend(expect)
        page = context.new_page()
        if SLOWDOWN > 1:
            context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWDOWN})
        if script:
            page.add_init_script(VIOLATIONS)
        page.on("console", lambda line: watch.found.append(line.text) if line.type in {"error", "warning"} else None)
        page.on("pageerror", lambda error: watch.found.append(str(error)))
        page.on("requestfailed", lambda request: watch.found.append(f"failed: {request.url} {request.failure}"))
        return page

    yield opened
    for context in contexts:
        context.close()
    complaints = [line for line in watch.found if not any(known in line for known in watch.expected)]
    assert complaints == []
