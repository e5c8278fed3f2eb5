"""The file of figures, read by another program: the strict OpenMetrics parser of prometheus_client.

One nursery in good order, one whose mail does not get out and whose names are awkward. Beside that, `check --running` is
held against the file.
"""

import json
import subprocess
import tempfile
from datetime import datetime, timedelta, timezone
from pathlib import Path

from common import BINARY, Checks
from prometheus_client.openmetrics.parser import text_string_to_metric_families

CONFIG = """
[nursery]
name = "Alder Fold Nursery"
zone = "Europe/Brussels"
working_days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
[[site]]
id = {site}
latitude = 50.8
longitude = 4.4
[[site.weather]]
source = "file"
path = "temps.csv"
[[people]]
name = "Maren Holt"
email = "maren@alderfold.example"
[alive]
metrics = "figures.txt"
[post]
from = "letters@alderfold.example"
log = false
{post}
"""

AWKWARD = 'the "old" \\\\ hill'


def nursery(folder, site, post):
    today = datetime.now(timezone.utc).date()
    days = "".join(f"{today - timedelta(days=back)},14.1,26.1\n" for back in range(30, 0, -1))
    grafted = today - timedelta(days=7)
    (folder / "graftwarden.toml").write_text(CONFIG.format(site=json.dumps(site), post=post))
    (folder / "temps.csv").write_text("date,tmin_c,tmax_c\n" + days)
    (folder / "batches.csv").write_text(
        f"batch,block,plan,scion,grafts,grafted_on\nA1,A,maple field T-graft,Ember Lace,310,{grafted}\n"
    )


def run(folder, *words):
    return subprocess.run([BINARY, *words], cwd=folder, capture_output=True, text=True, check=False)


def figures(text):
    """Every sample by name and labels; the parser refuses what is not OpenMetrics."""
    found = {}
    for family in text_string_to_metric_families(text):
        for sample in family.samples:
            found[sample.name, tuple(sorted(sample.labels.items()))] = (sample.value, family.type, family.unit)
    return found


def well(checks):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        nursery(folder, AWKWARD, 'folder = "letters"')
        began = datetime.now(timezone.utc).timestamp()
        checks.check(run(folder, "round").returncode == 0, "a round by hand goes well")
        text = (folder / "figures.txt").read_text()
        found = figures(text)
        checks.check(text.endswith("# EOF\n"), "the file ends with its mark")
        checks.check(found["graftwarden_well", ()] == (1.0, "gauge", ""), "all is well")
        value, kind, unit = found["graftwarden_last_good_round_timestamp_seconds", ()]
        checks.check((kind, unit) == ("gauge", "seconds"), "the last good round is a moment in seconds")
        checks.check(abs(value - began) < 120, f"it was just now: {value}")
        site = (("site", AWKWARD),)
        value, kind, unit = found["graftwarden_last_measured_day_age_seconds", site]
        checks.check(0 <= value < 48 * 3600 and unit == "seconds", f"the last day ended within two days: {value}")
        told = json.loads(run(folder, "check", "--running", "--json").stdout)
        for what, n in told["notices"].items():
            sample = found["graftwarden_notices_total", (("kind", what),)]
            checks.check(sample[:2] == (n, "counter"), f"{n} {what} were told, says the file too")
        checks.check(told["sites"][0]["site"] == AWKWARD, "the site has its name")


def stuck(checks):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        post = '[post.smtp]\nhost = "127.0.0.1"\nport = 1\nsecurity = "none"'
        nursery(folder, "hill", post)
        (folder / "records.csv").write_text("date,batch,what,count\n2026-01-01,Q9,lines,1\n")
        ended = run(folder, "round")
        checks.check(ended.returncode == 75, f"letters wait: {ended.returncode}")
        found = figures((folder / "figures.txt").read_text())
        waiting = found["graftwarden_letters_waiting", ()][0]
        checks.check(waiting >= 1, f"{waiting} letters wait")
        checks.check(found["graftwarden_oldest_letter_waiting_seconds", ()][0] < 300, "not for long")
        told = json.loads(run(folder, "check", "--running", "--json").stdout)
        checks.check(told["letters_waiting"] == waiting, "check --running counts the same")


def main():
    checks = Checks("figures")
    well(checks)
    stuck(checks)
    checks.finish()


if __name__ == "__main__":
    main()
