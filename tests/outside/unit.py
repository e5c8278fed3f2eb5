"""The systemd unit, as systemd itself reads it: a copy whose ExecStart is the program that was built."""

import re
import subprocess
import sys
import tempfile
from pathlib import Path

from common import BINARY, ROOT, Checks

UNIT = ROOT / "deploy" / "graftwarden.service"


def main():
    checks = Checks("unit")
    text = UNIT.read_text(encoding="utf-8")
    starts = re.findall(r"(?m)^ExecStart=(\S+)(.*)$", text)
    if checks.same(len(starts), 1, "the unit has one ExecStart"):
        checks.check("watch" in starts[0][1].split(), "it starts `watch`")
        checks.check(starts[0][0].endswith("/graftwarden"), "it starts the program")
    for line in ("Type=notify", "WatchdogSec="):
        checks.check(re.search(rf"(?m)^{re.escape(line)}", text), f"the unit has {line}")
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / UNIT.name
        copy.write_text(re.sub(r"(?m)^(ExecStart=)\S+", lambda m: m[1] + BINARY, text), encoding="utf-8")
        done = subprocess.run(["systemd-analyze", "verify", "--man=no", str(copy)], capture_output=True, text=True)
        said = done.stdout + done.stderr
        checks.same(done.returncode, 0, f"systemd-analyze verify ends well; it said {said!r}")
        checks.same([line for line in said.splitlines() if UNIT.name in line], [], "what it says of the unit")
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
