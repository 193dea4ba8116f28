"""Settings for tests: fast passwords, a far server time zone, a fixed now, a database file."""

from __future__ import annotations

import datetime as dt
import os
import tempfile
import zlib
from pathlib import Path

os.environ.setdefault("KEYHOOK_SECRET", "only for tests")
_CHECKOUT = zlib.crc32(str(Path(__file__).resolve()).encode())  # two checkouts tested at once keep apart
os.environ.setdefault("KEYHOOK_HOME", str(Path(tempfile.gettempdir()) / f"keyhook-test-{os.getuid()}-{_CHECKOUT:08x}"))
os.environ["KEYHOOK_INSECURE"] = "1"
Path(os.environ["KEYHOOK_HOME"]).mkdir(parents=True, exist_ok=True)

from keyhook_desk.settings import *  # noqa: E402, F403
from keyhook_desk.settings import DATABASES, HOME  # noqa: E402

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
TIME_ZONE = "Pacific/Kiritimati"
NOW = dt.datetime.fromisoformat("2026-07-10T08:00:00+01:00")
ALLOWED_HOSTS = ["*"]
PLAN_IN_A_PROCESS = False
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    _worker = os.environ.get("PYTEST_XDIST_WORKER", "")
    DATABASES["default"]["TEST"] = {"NAME": HOME / f"test{_worker}.sqlite3"}
DATABASES["default"]["CONN_MAX_AGE"] = 0
(HOME / "static").mkdir(parents=True, exist_ok=True)  # nothing is collected in tests, and a missing folder warns
