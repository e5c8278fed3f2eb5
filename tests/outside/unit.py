"""The systemd unit, as systemd itself reads it: a copy whose ExecStart is the program that was built.

How the service fares under the unit, with a real systemd, is for package.py.
"""

import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from common import BINARY, ROOT, Checks

UNIT = ROOT / "deploy" / "graftwarden.service"
# systemd's own measure, from 0 (shut in) to 10: what the unit may not exceed.
EXPOSURE = 1.5
# Keys that came with systemd 254; older ones say that they pass them over.
NEW_KEYS = {"RestartSteps", "RestartMaxDelaySec"}
# Each of these must count as held by `systemd-analyze security`; the rest is for the exposure as a whole.
HELD = {
    "CapabilityBoundingSet_CAP_SYS_ADMIN", "MemoryDenyWriteExecute", "NoNewPrivileges", "PrivateDevices", "PrivateTmp",
    "PrivateUsers", "ProtectHome", "ProtectSystem", "SystemCallFilter_privileged", "SystemCallFilter_mount", "UserOrDynamicUser",
}


def run(*command):
    return subprocess.run(["systemd-analyze", *command], capture_output=True, text=True)


def main():
    checks = Checks("unit")
    text = UNIT.read_text(encoding="utf-8")
    starts = re.findall(r"(?m)^ExecStart=(\S+)(.*)$", text)
    if checks.same(len(starts), 1, "the unit has one ExecStart"):
        checks.check("watch" in starts[0][1].split(), "it starts `watch`")
        checks.check(starts[0][0].endswith("/graftwarden"), "it starts the program")
    for line in ("Type=notify", "WatchdogSec=", "Restart=on-failure", "StartLimitIntervalSec=0", "MemoryMax=", "TasksMax=",
                 "StateDirectory=graftwarden", "LoadCredential=smtp-password:"):
        checks.check(re.search(rf"(?m)^{re.escape(line)}", text), f"the unit has {line}")
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / UNIT.name
        copy.write_text(re.sub(r"(?m)^(ExecStart=)\S+", lambda m: m[1] + BINARY, text), encoding="utf-8")
        done = run("verify", "--man=no", str(copy))
        said = done.stdout + done.stderr
        checks.same(done.returncode, 0, f"systemd-analyze verify ends well; it said {said!r}")
        found = [line for line in said.splitlines() if UNIT.name in line]
        version = int(run("--version").stdout.split()[1])
        news = {key for line in found for key in re.findall(r"Unknown key(?: name)? '(\w+)'", line)}
        checks.check(news == (NEW_KEYS if version < 254 else set()), f"keys that systemd {version} does not know: {news}")
        checks.same([line for line in found if "Unknown key" not in line], [], "what else it says of the unit")

        done = run("security", "--offline=true", f"--threshold={EXPOSURE * 10:.0f}", str(copy))
        shown = done.stdout.strip().splitlines()
        checks.same(done.returncode, 0, f"systemd-analyze security finds no more than {EXPOSURE}: {shown[-1:]}")
        checks.check(any("exposure level" in line for line in shown), "and says what it finds")
        done = run("security", "--offline=true", "--json=short", str(copy))
        held = {wall["json_field"] for wall in json.loads(done.stdout) if wall["set"]}
        checks.same(HELD - held, set(), "walls that systemd-analyze does not see")
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
