"""A small nursery that sends its letters through a mail server, and what its program remembers of them."""

import os
import sqlite3
import subprocess
from datetime import date, timedelta

from common import BINARY
from mailhouse import DOMAIN, PASSWORD

GRAFTED = date(2026, 7, 6)
# A Monday; the batches are looked at since the week before.
MORNING = "2026-07-27T06:10:00+02:00"

CONFIG = """[nursery]
name = "Alder Fold Nursery"
zone = "Europe/Brussels"
working_days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
[[site]]
id = "home"
latitude = 50.8
longitude = 4.4
[[site.weather]]
source = "file"
path = "temperatures.csv"
{people}[post]
from = "Alder Fold Nursery <letters@{domain}>"
log = false
{post}
"""


class Farm:
    """The files of a nursery with these people, in a folder of its own; `post` are more lines of `[post]`."""

    def __init__(self, folder, people, post, more="", grafted=GRAFTED, batches=("C-14",), trouble=(), age=21):
        self.folder, self.config = folder, folder / "graftwarden.toml"
        folder.mkdir()
        gets = lambda who: ["work", "urgent", "weekly", *(["trouble"] if who in trouble else [])]
        written = "".join(f'[[people]]\nname = "{who.capitalize()} Holt"\nemail = "{who}@{DOMAIN}"\ngets = {gets(who)}\n'
                          for who in people)
        text = CONFIG.format(people=written, post=post, domain=DOMAIN) + more
        self.config.write_text(text, encoding="utf-8")
        (folder / "password").write_text(PASSWORD + "\n", encoding="utf-8")
        rows = "".join(f"{name},C,maple field T-graft,Ember Lace,100,{grafted}\n" for name in batches)
        (folder / "batches.csv").write_text("batch,block,plan,scion,grafts,grafted_on\n" + rows, encoding="utf-8")
        (folder / "records.csv").write_text("date,batch,what,count,by,remarks\n", encoding="utf-8")
        # Twenty degrees in the mean: a standard day of the maple plan a day, and no heat to warn of.
        days = [grafted - timedelta(days=20) + timedelta(days=n) for n in range(80)]
        lines = "".join(f"{day},13,27\n" for day in days if day < self.today(grafted, age))
        (folder / "temperatures.csv").write_text("date,tmin,tmax\n" + lines, encoding="utf-8")

    def trust(self, authority):
        """Names an authority of the farm's own in the config."""
        text = self.config.read_text(encoding="utf-8")
        self.config.write_text(f'ca_file = "{authority}"\n' + text, encoding="utf-8")

    @staticmethod
    def today(grafted, age=21):
        return grafted + timedelta(days=age)

    def round(self, at=MORNING, authority=None):
        """One round; what it said, both ways."""
        return subprocess.run([BINARY, "round", "--config", self.config, "--at", at], capture_output=True, text=True,
                              env=environment(authority))

    def ask(self, sql):
        connection = sqlite3.connect(self.folder / "state" / "graftwarden.db")
        try:
            return connection.execute(sql).fetchall()
        finally:
            connection.close()

    def outbox(self):
        """What became of each letter: recipient, carrier, state, tries and the last answer."""
        return self.ask("SELECT recipient, carrier, state, tries, answer FROM outbox JOIN letter ON letter.id = letter "
                        "ORDER BY letter.id, carrier")

    def letters(self, who=None):
        """The bytes of the letters as they were written, and their Message-IDs."""
        rows = self.ask("SELECT recipient, message_id, bytes FROM letter ORDER BY id")
        return [(message_id, data) for to, message_id, data in rows if who is None or to == f"{who}@{DOMAIN}"]


def environment(authority):
    """The environment of the program: it trusts this authority only, and says everything as plain lines."""
    made = {key: value for key, value in os.environ.items() if key not in ("SSL_CERT_FILE", "SSL_CERT_DIR")}
    if authority:
        made["SSL_CERT_FILE"] = str(authority)
    return made


def smtp(port, security, user="letters", password="password"):
    lines = [f'[post.smtp]', 'host = "localhost"', f"port = {port}", f'security = "{security}"']
    if user:
        lines += [f'user = "{user}@{DOMAIN}"', f'password_file = "{password}"']
    return "\n".join(lines) + "\n"
