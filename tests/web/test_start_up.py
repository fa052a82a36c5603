"""What the server does not load: it would keep whoever starts it waiting, and the first page with them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from tests.web.conftest import Shop

ROOT = Path(__file__).parents[2]
SERVED = """
import json, sys
from shopfloor.app import create_app
from shopfloor.cli import serve
from shopfloor.cli.options import open_work, settings_for

with open_work(settings_for(sys.argv[1])) as work:
    status = create_app(work).test_client().get("/operator/arm-1/", follow_redirects=True).status_code
slow = {"pandas", "openpyxl", "xlsxwriter", "plotly", "cryptography"}
print(json.dumps([status, sorted(slow & set(sys.modules))]))
"""


def test_a_server_with_its_station_page_loads_nothing_slow(shop: Shop) -> None:
    """Tables of people, charts' own library and certificates are for the commands that need them."""
    command = [sys.executable, "-c", SERVED, shop.work.settings.database]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, encoding="utf-8", check=True)
    assert [200, []] == json.loads(done.stdout)
