"""The Debian package and the tarball, in a small Debian of its own with a real systemd: installed, set up by what deploy/README
says, run within the unit's walls, upgraded with a memory of the first form, removed, purged.

The program is the one that was built for the other checks, stripped; its memory limit is the only wall that this container
cannot put up, so what the service used at most is held against it.
"""

import csv
import datetime
import gzip
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from email import message_from_string
from pathlib import Path

from common import BINARY, ROOT, Checks
from container import Machine, MailServer, archive, wait

README = (ROOT / "deploy/README.md").read_text(encoding="utf-8")
UNIT = "/etc/systemd/system/graftwarden.service.d/check.conf"
STATE = "/var/lib/graftwarden"
TODAY = datetime.date.today()
SECRET = "tape & raffia"


# ---- what is installed, and what a grower writes ----

def package(kind, folder, version):
    papers = os.environ["OUTSIDE_PAPERS"]
    program = Path(folder) / "graftwarden"
    if not program.exists():
        subprocess.run(["strip", "-o", program, BINARY], check=True)
    settings = {"GRAFTWARDEN": str(program), "PAPERS": papers, "OUT": str(folder), "VERSION": version,
                "DPKG_DEB_COMPRESSOR_TYPE": "none"}
    done = subprocess.run([ROOT / "deploy/package", kind], env={**os.environ, **settings}, capture_output=True, text=True)
    if done.returncode != 0:
        sys.exit(f"deploy/package {kind} ended with {done.returncode}:\n{done.stderr}")
    return Path(done.stdout.split()[-1])


def blocks(text):
    """What stands indented in a document, to be typed or copied."""
    found = re.findall(r"(?m)((?:^(?: {4}| {7}).*\n|^\n(?= {4}))+)", text)
    return [re.sub(r"(?m)^(?: {7}| {4})", "", block).strip() + "\n" for block in found]


def config_of_readme(port):
    """The config of the README, every day a working day, with a mail server that is there."""
    (config,) = [block for block in blocks(README) if "[nursery]" in block]
    config = config.replace("[nursery]\n", '[nursery]\nworking_days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]\n')
    server = 'host = "mail.alderfold.example"'
    assert server in config
    return config.replace(server, f'host = "127.0.0.1"\nport = {port}\nsecurity = "none"')


def fill_srv(machine):
    """A register and temperatures by which the first look is due today."""
    grafted = TODAY - datetime.timedelta(days=17)
    machine.write("/srv/graftwarden/batches.csv", "batch,block,plan,scion,understock,vigour,grafts,grafted_on\n"
                  f"C-14,C,maple field T-graft,Ember Lace,Acer palmatum,strong,310,{grafted}\n")
    with open(machine.path("/srv/graftwarden/hill.csv"), "w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(["date", "min", "max"])
        for back in range(40, 0, -1):
            rows.writerow([TODAY - datetime.timedelta(days=back), 13 + back % 3, 25 + back % 4])


# ---- the service ----

def shown(machine, what):
    return machine.run(f"systemctl show -P {what} graftwarden").stdout.strip()


def is_active(machine):
    return machine.run("systemctl is-active graftwarden").stdout.strip() == "active"


def quick(machine, *lines):
    """The unit with shorter times, so that nobody waits for them."""
    machine.write(UNIT, "[Service]\nRestartSec=1\n" + "".join(f"{line}\n" for line in lines))
    machine.run("systemctl daemon-reload")


def database(machine):
    return sqlite3.connect(machine.path(f"{STATE}/graftwarden.db"))


def ask(machine, sql):
    connection = database(machine)
    try:
        return connection.execute(sql).fetchall()
    finally:
        connection.close()


def journal(machine):
    return machine.run("journalctl -u graftwarden --no-pager -o cat | tail -n 30").stdout


# ---- the sections ----

def install(checks, machine, deb):
    shutil.copy(deb, machine.path("/root/graftwarden.deb"))
    checks.check(not machine.path("/usr/sbin/update-ca-certificates").exists(), "the container begins without root certificates")
    done = machine.run("DEBIAN_FRONTEND=noninteractive apt-get install -qy --no-install-recommends /root/graftwarden.deb")
    checks.same(done.returncode, 0, f"apt installs the package: {done.stdout[-600:]}{done.stderr[-600:]}")
    checks.check("no config yet" in done.stdout + done.stderr, f"it says what to do next: {done.stdout[-900:]}")
    checks.check(machine.path("/etc/ssl/certs/ca-certificates.crt").exists(), "root certificates came along")
    checks.same(machine.run("dpkg --audit").stdout, "", "dpkg has nothing to complain of")
    checks.same(machine.run("getent passwd graftwarden").stdout.split(":")[5:], [STATE, "/usr/sbin/nologin\n"], "the user")
    for folder, modes in (("/etc/graftwarden", "750 root graftwarden"), (STATE, "700 graftwarden graftwarden"),
                          ("/srv/graftwarden", "2775 root graftwarden"), ("/srv/graftwarden/pages", "755 graftwarden graftwarden")):
        checks.same(machine.run(f"stat -c '%a %U %G' {folder}").stdout.strip(), modes, folder)
    checks.same(machine.run("systemctl is-enabled graftwarden").stdout.strip(), "enabled", "it will start with the machine")
    checks.check(not is_active(machine), "without a config it is not started")
    check_papers(checks, machine)


def check_papers(checks, machine):
    """Manual pages and completions know every command of the program."""
    listed = machine.run("graftwarden --help").stdout
    commands = re.findall(r"(?m)^  ([a-z]+)  ", listed)
    checks.check(len(commands) > 5 and "watch" in commands, f"the program lists its commands: {commands}")
    for command in [c for c in commands if c != "help"]:
        page = machine.path(f"/usr/share/man/man1/graftwarden-{command}.1.gz")
        text = gzip.decompress(page.read_bytes()).decode() if page.exists() else ""
        checks.check(f"graftwarden\\-{command}" in text, f"a manual page for {command}")
    for file in ("bash-completion/completions/graftwarden", "zsh/vendor-completions/_graftwarden",
                 "fish/vendor_completions.d/graftwarden.fish"):
        text = machine.path(f"/usr/share/{file}").read_text(encoding="utf-8")
        checks.check(all(command in text for command in commands), f"{file} knows every command")
    complete = ('. /usr/share/bash-completion/completions/graftwarden; COMP_WORDS=(graftwarden reh); COMP_CWORD=1; '
                '_graftwarden graftwarden reh graftwarden; echo "${COMPREPLY[@]}"')
    checks.same(machine.run(complete).stdout.strip(), "rehearse", "bash completes a command")
    page = gzip.decompress(machine.path("/usr/share/man/man1/graftwarden.1.gz").read_bytes()).decode()
    for title in ("NAME", "SYNOPSIS", "SUBCOMMANDS", "FILES", '"EXIT STATUS"'):
        checks.check(f".SH {title}\n" in page, f"the manual page has {title}")


def first_letter(checks, machine, mail):
    """What deploy/README says, step by step."""
    fill_srv(machine)
    config = config_of_readme(mail.port)
    machine.write("/etc/graftwarden/graftwarden.toml", config)
    typed = [line for block in blocks(README) for line in block.splitlines()]
    (place,) = [line for line in typed if line.endswith(" /etc/graftwarden/smtp-password") and "install" in line]
    checks.same(machine.run(place).returncode, 0, place)
    machine.path("/etc/graftwarden/smtp-password").write_text(SECRET + "\n")
    for line in [line for line in typed if line.startswith("sudo -u graftwarden graftwarden check")][:2]:
        done = machine.run(line)
        checks.same(done.returncode, 0, f"{line}: {done.stdout}{done.stderr}")
    checks.same(len(mail.letters), 0, "so far nothing was sent")
    quick(machine)
    done = machine.run("systemctl restart graftwarden")
    checks.same(done.returncode, 0, f"it starts: {done.stderr}{journal(machine)}")
    checks.check(wait(30, lambda: mail.letters), f"the first letter comes: {journal(machine)}")
    user, password, recipient, text = mail.letters[0] if mail.letters else ("", "", "", "")
    checks.same((user, password, recipient), ("letters", SECRET, "maren@alderfold.example"), "who sends it to whom")
    checks.check("C-14" in message_from_string(text).get_payload(0).as_string(), f"it is about the batch: {text[:900]}")


def walls(checks, machine, mail):
    """The service does all that it must, within the walls."""
    pid = shown(machine, "MainPID")
    status = dict(re.findall(r"(?m)^(\w+):\s+(.*)$", machine.run(f"cat /proc/{pid}/status").stdout))
    checks.same([status.get(key) for key in ("Seccomp", "NoNewPrivs", "CapEff", "CapPrm")], ["2", "1", "0" * 16, "0" * 16], "what the kernel grants it")
    checks.check(int(shown(machine, "ExecMainPID")) > 1 and "0" not in status.get("Uid", "0").split(), f"it is not root: {status.get('Uid')}")
    # As a process of the service: what it must be able to do, and what not.
    within = f"nsenter -t {pid} --mount setpriv --reuid graftwarden --regid graftwarden --clear-groups sh -c"
    for path, may in ((STATE, True), ("/srv/graftwarden/pages", True), ("/tmp", True), ("/srv/graftwarden", False), ("/etc/graftwarden", False),
                      ("/usr/local/bin", False), ("/home", False), ("/run", False)):
        done = machine.run(f"{within} 'echo > {path}/trial && rm {path}/trial'")
        checks.same(done.returncode == 0, may, f"may write to {path}: {done.stderr.strip()}")
    checks.check(machine.run(f"{within} 'cat /srv/graftwarden/batches.csv'").stdout.startswith("batch,"), "reads the register")
    checks.same(machine.run(f"{within} 'ls /home /root'").stdout.strip(), "", "sees no homes")

    # The rest of its work: pages, a program for text messages, answers by mail.
    machine.write("/usr/local/bin/send-text", f"#!/bin/sh\nset -e\ncat > {STATE}/text.json\ndate > /tmp/sent\n", 0o755)
    more = ('[post.hook]\ncommand = ["/usr/local/bin/send-text"]\n[pages]\nfolder = "/srv/graftwarden/pages"\n'
            f'[answers]\naddress = "answers@alderfold.example"\nmaildir = "{STATE}/answers"\ntrust = "sender"\n')
    with open(machine.path("/etc/graftwarden/graftwarden.toml"), "a", encoding="utf-8") as file:
        file.write(more)
    machine.run(f"install -d -o graftwarden -g graftwarden {STATE}/answers/new {STATE}/answers/cur {STATE}/answers/tmp")
    machine.write("/root/answer", "From: Maren Holt <maren@alderfold.example>\nTo: answers@alderfold.example\n"
                  f"Subject: block C\nMessage-ID: <1@alderfold.example>\nDate: {datetime.datetime.now().astimezone():%a, %d %b %Y %H:%M:%S %z}\n\nC-14 lines\n")
    machine.run(f"install -o graftwarden -g graftwarden -m 600 /root/answer {STATE}/answers/new/1.alder")
    count = len(mail.letters)
    checks.same(machine.run("systemctl reload graftwarden").returncode, 0, "it takes a changed config into use")
    accepted = machine.path(f"{STATE}/accepted.csv")
    checks.check(wait(30, lambda: accepted.exists() and "C-14,lines" in accepted.read_text()), f"an answer is written down: {journal(machine)}")
    checks.check(wait(30, lambda: len(mail.letters) > count), "and its receipt goes out")
    checks.check(wait(10, lambda: list(machine.path(f"{STATE}/answers/cur").iterdir())), "the mail is marked as read")
    checks.check(wait(10, lambda: machine.path("/srv/graftwarden/pages/due.html").exists()), "pages are written")
    checks.check(wait(20, lambda: machine.path(f"{STATE}/text.json").exists()), f"the program for text messages runs: {journal(machine)}")
    done = machine.run("sudo -u graftwarden graftwarden note C-14 looked && sudo -u graftwarden graftwarden due")
    checks.check(done.returncode == 0 and "C-14" in done.stdout, f"commands by hand work beside it: {done.stderr}")
    peak = int(dict(re.findall(r"(?m)^(\w+):\s+(\d+)", machine.run(f"cat /proc/{pid}/status").stdout))["VmHWM"]) // 1024
    limit = int(re.search(r"(?m)^MemoryMax=(\d+)M$", (ROOT / "deploy/graftwarden.service").read_text())[1])
    checks.check(0 < peak < limit / 2, f"{peak} MB at most, of {limit}")
    said = machine.run(f"journalctl -u graftwarden --no-pager; strings {STATE}/graftwarden.db* 2>/dev/null").stdout
    checks.check("graftwarden watches" in said and SECRET not in said, "the journal does not have the password")
    done = machine.run(f"grep -rl {SECRET!r} {STATE} /srv/graftwarden")
    checks.same(done.stdout, "", "nor does what it writes")


def credential(checks, machine, mail):
    """The password from a file that only root may read."""
    machine.path("/etc/graftwarden/smtp-password").unlink()
    machine.run("install -d -m 700 /etc/credstore && install -m 600 /dev/null /etc/credstore/graftwarden.smtp-password")
    machine.path("/etc/credstore/graftwarden.smtp-password").write_text("twine\n")
    checks.same(machine.run("systemctl restart graftwarden").returncode, 0, "it starts with a credential")
    checks.check("others on this machine" not in journal(machine), "and does not complain of it")
    line = " ".join(next(block for block in blocks(README) if "systemd-run" in block).split()).replace("\\ ", "")
    done = machine.run(line)
    checks.same(done.returncode, 0, f"{line}: {done.stdout}{done.stderr}")
    checks.check(machine.run("sudo -u graftwarden graftwarden check").returncode != 0
                 or "smtp-password" in machine.run("sudo -u graftwarden graftwarden check").stderr, "without it, `check` names the missing file")
    # One more letter, to see the password that goes with it.
    count = len(mail.letters)
    machine.run(f"sed 's/<1@/<2@/; s/C-14 lines/what?/' /root/answer > /root/another; "
                f"install -o graftwarden -g graftwarden -m 600 /root/another {STATE}/answers/new/2.alder; systemctl reload graftwarden")
    checks.check(wait(30, lambda: len(mail.letters) > count), f"a letter goes out: {journal(machine)}")
    checks.same(mail.letters[-1][1], "twine", "with the password of the credential")


def falls(checks, machine):
    """Whatever ends it, it comes again; and systemd sees that it does not work."""
    pid = shown(machine, "MainPID")
    machine.run(f"kill -9 {pid}")
    checks.check(wait(20, lambda: is_active(machine) and shown(machine, "MainPID") != pid), "killed, it is started again")
    config = machine.path("/etc/graftwarden/graftwarden.toml")
    good = config.read_text()
    config.write_text(good.replace("[nursery]", "[nursry]"))
    checks.check(machine.run("systemctl restart graftwarden").returncode != 0, "with a bad config systemd says that it did not start")
    before = int(shown(machine, "NRestarts"))
    checks.check(wait(40, lambda: int(shown(machine, "NRestarts")) >= before + 7), "it is tried more often than systemd's usual five times")
    checks.check(wait(10, lambda: (shown(machine, "SubState"), shown(machine, "Result")) == ("auto-restart", "exit-code")),
                 "and systemd knows between tries that it has failed")
    checks.check(not is_active(machine), "nor calls it active")
    checks.check("nursry" in journal(machine), "the journal has the reason")
    config.write_text(good)
    checks.check(wait(20, lambda: is_active(machine)), "mended, it comes up by itself")
    # Frozen: the watchdog's time is cut to a little over the longest sleep of the loop.
    quick(machine, "WatchdogSec=65")
    machine.run("systemctl restart graftwarden")
    pid = shown(machine, "MainPID")
    machine.run(f"kill -STOP {pid}")
    checks.check(wait(100, lambda: is_active(machine) and shown(machine, "MainPID") != pid), "frozen, it is started anew by the watchdog")
    quick(machine)


def to_first_form(machine):
    """Writes the memory anew in the first form of its schema, with one letter waiting; how many rows each table has."""
    schema = (ROOT / "src/store/schema.rs").read_text(encoding="utf-8")
    first = re.search(r'(?s)const V1: &str = "(.*?)";', schema)[1]
    file = machine.path(f"{STATE}/graftwarden.db")
    owner = os.stat(file)
    old = file.with_name("old.db")
    connection = sqlite3.connect(old)
    connection.executescript(first)
    connection.execute("ATTACH ? AS now", (str(file),))
    counts = {}
    for (table,) in connection.execute("SELECT name FROM main.sqlite_master WHERE type = 'table'").fetchall():
        columns = ", ".join(row[1] for row in connection.execute(f"PRAGMA main.table_info({table})"))
        counts[table] = connection.execute(f"INSERT INTO main.{table} ({columns}) SELECT {columns} FROM now.{table}").rowcount
    connection.execute("UPDATE main.outbox SET state = 'waiting', settled_at = NULL, next_try_at = '2020-01-01T00:00:00Z' WHERE carrier = 'smtp' "
                       "AND letter = (SELECT min(letter) FROM main.outbox WHERE carrier = 'smtp')")
    connection.execute("PRAGMA main.user_version = 1")
    connection.commit()
    connection.close()
    for leftover in ("-wal", "-shm"):
        file.with_name(file.name + leftover).unlink(missing_ok=True)
    old.rename(file)
    os.chown(file, owner.st_uid, owner.st_gid)
    file.chmod(0o600)
    return counts


def upgrade(checks, machine, mail, deb):
    newest = ask(machine, "PRAGMA user_version")[0][0]
    checks.check(newest > 1, "the memory has had more than one form")
    machine.run("systemctl stop graftwarden")
    accepted = machine.path(f"{STATE}/accepted.csv").read_bytes()
    counts = to_first_form(machine)
    checks.check(min(counts[table] for table in ("batch", "record", "notice", "letter", "outbox", "day")) > 0, f"something to carry over: {counts}")
    config = machine.path("/etc/graftwarden/graftwarden.toml")
    config.write_text(config.read_text() + "# a remark of the grower\n")
    mine, sent = config.read_bytes(), list(mail.letters)
    shutil.copy(deb, machine.path("/root/graftwarden.deb"))
    done = machine.run("DEBIAN_FRONTEND=noninteractive apt-get install -qy /root/graftwarden.deb")
    checks.same(done.returncode, 0, f"apt upgrades without a question: {done.stdout[-500:]}{done.stderr[-500:]}")
    checks.same(machine.run("dpkg-query -W -f '${Version}' graftwarden").stdout, "99.0.0", "the new version is there")
    checks.check(wait(20, lambda: is_active(machine)), f"and runs: {journal(machine)}")
    checks.same(ask(machine, "PRAGMA user_version")[0][0], newest, "the memory has its new form")
    for table in ("batch", "record", "day"):
        checks.same(ask(machine, f"SELECT count(*) FROM {table}")[0][0], counts[table], f"rows of {table}")
    for table in ("notice", "letter"):
        checks.check(ask(machine, f"SELECT count(*) FROM {table}")[0][0] >= counts[table], f"rows of {table}")
    checks.same(machine.path(f"{STATE}/accepted.csv").read_bytes(), accepted, "accepted.csv is as it was")
    checks.same(config.read_bytes(), mine, "the config is as the grower left it")
    checks.check(wait(30, lambda: len(mail.letters) > len(sent)), "the letter that waited goes out")
    number = lambda letter: message_from_string(letter[3])["Message-ID"]
    checks.same(number(mail.letters[len(sent)]), number(sent[0]), "under its old Message-ID")
    pid = shown(machine, "MainPID")
    machine.run("apt-get install -qy --reinstall /root/graftwarden.deb")
    checks.check(wait(20, lambda: is_active(machine) and shown(machine, "MainPID") != pid), "installed over a running one, it is started anew")
    machine.run("systemctl disable --now graftwarden")
    machine.run("apt-get install -qy --reinstall /root/graftwarden.deb")
    checks.same((is_active(machine), machine.run("systemctl is-enabled graftwarden").stdout.strip()), (False, "disabled"), "disabled, it stays so")
    machine.run("systemctl enable --now graftwarden")


def remove(checks, machine):
    accepted = machine.path(f"{STATE}/accepted.csv").read_bytes()
    pid = shown(machine, "MainPID")
    done = machine.run("apt-get remove -qy graftwarden")
    checks.same(done.returncode, 0, f"apt removes it: {done.stderr}")
    checks.check(not machine.path("/usr/bin/graftwarden").exists() and not machine.path(f"/proc/{pid}").exists(), "the program is gone")
    checks.check(machine.run(f"kill -0 {pid}").returncode != 0, "and no longer runs")
    checks.check(machine.path("/etc/graftwarden/graftwarden.toml").exists() and machine.path(f"{STATE}/graftwarden.db").exists(), "config and memory stay")
    machine.run("apt-get install -qy /root/graftwarden.deb")
    checks.check(wait(20, lambda: is_active(machine)), "installed again, it goes on")
    checks.check(ask(machine, "SELECT count(*) FROM notice")[0][0] > 0, "with its memory")

    # Purging where nothing can be kept: a folder that is none.
    machine.run("mv /var/backups /var/backups.away && touch /var/backups")
    done = machine.run("apt-get purge -qy graftwarden")
    checks.same(done.returncode, 0, f"apt purges it: {done.stderr}")
    checks.check("left as they are" in done.stderr + done.stdout, "it says that it has deleted nothing")
    checks.same(machine.path(f"{STATE}/accepted.csv").read_bytes(), accepted, "and has not")
    machine.run("rm /var/backups && mv /var/backups.away /var/backups && apt-get install -qy /root/graftwarden.deb")
    machine.write("/etc/graftwarden/imap-password", SECRET, 0o600)
    done = machine.run("apt-get purge -qy graftwarden")
    checks.same(done.returncode, 0, f"apt purges it: {done.stderr}")
    kept = list(machine.path("/var/backups").glob("graftwarden-*.tar.gz"))
    if checks.same(len(kept), 1, "one file is kept"):
        checks.check(f"/var/backups/{kept[0].name}" in done.stderr + done.stdout, "and named")
        checks.same(oct(kept[0].stat().st_mode & 0o777), "0o600", "for root only")
        read = lambda name: subprocess.run(["tar", "-xzOf", kept[0], name], capture_output=True).stdout
        checks.same(read("var/lib/graftwarden/accepted.csv"), accepted, "with the field records")
        checks.check(b"[nursery]" in read("etc/graftwarden/graftwarden.toml"), "and the config")
        names = subprocess.run(["tar", "-tzf", kept[0]], capture_output=True, text=True).stdout
        checks.check("password" not in names, f"and no password: {names}")
    for gone in ("/etc/graftwarden", STATE, "/etc/credstore/graftwarden.smtp-password"):
        checks.check(not machine.path(gone).exists(), f"{gone} is gone")
    checks.check(machine.path("/srv/graftwarden/batches.csv").exists(), "the grower's files are there")
    left = machine.run("systemctl is-enabled graftwarden; find /etc/systemd/system /usr /var/lib/systemd -name '*graftwarden*' ! -path '*.service.d*'").stdout
    checks.same(left, "", "nothing of the package is left")


def tarball(checks, machine, mail, file):
    """On the same system, now without the package: what deploy/README says under "Other systems"."""
    shutil.copy(file, machine.path("/root"))
    (lines,) = [block.splitlines() for block in blocks(README) if "--strip-components" in block]
    machine.run(f"rm -rf {UNIT.rsplit('/', 1)[0]}")
    for line in lines:
        done = machine.run(f"cd /root && {line}")
        checks.same(done.returncode, 0, f"{line}: {done.stderr}")
    fill_srv(machine)
    machine.write("/etc/graftwarden/graftwarden.toml", config_of_readme(mail.port))
    machine.run("install -m 600 -o graftwarden -g graftwarden /dev/null /etc/graftwarden/smtp-password")
    machine.path("/etc/graftwarden/smtp-password").write_text(SECRET)
    count = len(mail.letters)
    checks.same(machine.run("systemctl restart graftwarden").returncode, 0, f"it starts from the tarball: {journal(machine)}")
    checks.check(wait(30, lambda: len(mail.letters) > count), "and sends its first letter")
    program = machine.run(f"readlink /proc/{shown(machine, 'MainPID')}/exe").stdout.strip()
    checks.same(program, "/usr/local/bin/graftwarden", "which program runs")


def main():
    checks = Checks("package")
    with tempfile.TemporaryDirectory() as folder:
        first, second = package("deb", folder, "0.1.0"), package("deb", folder, "99.0.0")
        plain = package("tarball", folder, "0.1.0")
        mail = MailServer()
        machine = Machine(archive(), folder)
        try:
            install(checks, machine, first)
            first_letter(checks, machine, mail)
            walls(checks, machine, mail)
            credential(checks, machine, mail)
            falls(checks, machine)
            upgrade(checks, machine, mail, second)
            remove(checks, machine)
            tarball(checks, machine, mail, plain)
        finally:
            machine.close()
            mail.close()
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
