"""Starts QGIS without a screen, away from the settings of whoever runs this, and keeps what it complains about."""

import atexit
import os
import shutil
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

MISSING = (
    "needs QGIS and its Python. Get them with: apt-get install --no-install-recommends python3-qgis qgis-providers"
)


@dataclass
class Complaints:
    """Warnings and errors of QGIS, in the order they came."""

    heard: list[str] = field(default_factory=list)

    def since(self, count: int) -> list[str]:
        return self.heard[count:]

    def count(self) -> int:
        return len(self.heard)


@dataclass
class Engine:
    """A running QGIS and the folder it may write to."""

    application: Any
    complaints: Complaints
    folder: Path
    version: str


# Nothing refers to a QGIS that is no longer wanted but QGIS itself, which crashes when Python frees it first.
_running: list[Engine] = []


def start() -> Engine:
    """QGIS with the settings it has on its first day."""
    if _running:
        return _running[0]
    folder = Path(tempfile.mkdtemp(prefix="looks-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    for name, part in {
        "HOME": "home",
        "XDG_CONFIG_HOME": "config",
        "XDG_CACHE_HOME": "cache",
        "XDG_DATA_HOME": "data",
        "XDG_RUNTIME_DIR": "run",
        "QGIS_CUSTOM_CONFIG_PATH": "profile",
    }.items():
        (folder / part).mkdir(mode=0o700)
        os.environ[name] = str(folder / part)
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    # Words, signs for decimals and sizes of fonts do not depend on the machine.
    os.environ["LC_ALL"] = "C.UTF-8"
    os.environ["LANG"] = "C.UTF-8"
    try:
        from qgis.core import Qgis, QgsApplication
    except ImportError as fault:
        raise SystemExit(f"{Path(sys.argv[0]).name}: {MISSING} ({fault})") from fault
    QgsApplication.setPrefixPath("/usr", True)
    application = QgsApplication([], False)
    application.initQgis()
    complaints = Complaints()

    def hear(message: str, tag: str, level: int) -> None:
        if level in (Qgis.Warning, Qgis.Critical):
            complaints.heard.append(f"{tag}: {message}" if tag else message)

    QgsApplication.messageLog().messageReceived.connect(hear)
    engine = Engine(application, complaints, folder, Qgis.QGIS_VERSION)
    _running.append(engine)
    return engine
