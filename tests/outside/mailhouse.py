"""A farm's own mail server for the checks: Postfix and Dovecot from Debian, on loopback, in a folder of their own.

Letters come in by TLS, by STARTTLS (both with a password that Dovecot knows) or, from this machine, in the clear; they
are delivered to Maildirs, and Dovecot serves these by IMAP over TLS. Nothing of the machine's own mail is touched: all
files, sockets and queues lie in the folder, all ports are free ones of 127.0.0.1, and no mail leaves. Needs root.
"""

import grp
import os
import pwd
import re
import shutil
import signal
import smtplib
import socket
import socketserver
import subprocess
import sys
import threading
import time
from pathlib import Path

DOMAIN = "alderfold.example"
PASSWORD = "tape & raffia"

POSTFIX = """compatibility_level = 3.6
queue_directory = {folder}/postfix/queue
data_directory = {folder}/postfix/data
command_directory = /usr/sbin
daemon_directory = /usr/lib/postfix/sbin
maillog_file = {folder}/maillog
maillog_file_prefixes = {folder}
myhostname = mail.{domain}
mydomain = {domain}
mydestination =
mynetworks = 127.0.0.0/8
inet_interfaces = 127.0.0.1
inet_protocols = ipv4
smtp_dns_support_level = disabled
smtpd_peername_lookup = no
default_transport = error:5.1.2 no mail leaves this machine
virtual_mailbox_domains = {domain}
virtual_mailbox_maps = texthash:{folder}/postfix/mailboxes
virtual_alias_maps = texthash:{folder}/postfix/aliases
virtual_transport = lmtp:unix:{folder}/lmtp
recipient_delimiter = +
smtpd_tls_cert_file = {folder}/server.pem
smtpd_tls_key_file = {folder}/server.key
smtpd_sasl_type = dovecot
smtpd_sasl_path = {folder}/login
smtpd_relay_restrictions = permit_sasl_authenticated, permit_mynetworks, reject
smtpd_recipient_restrictions = check_policy_service inet:127.0.0.1:{greylist}
message_size_limit = 52428800
mailbox_size_limit = 0
virtual_mailbox_limit = 0
queue_minfree = 0
"""

SERVICES = """127.0.0.1:{plain} inet n - n - - smtpd
127.0.0.1:{starttls} inet n - n - - smtpd
  -o smtpd_tls_security_level=encrypt -o smtpd_sasl_auth_enable=yes -o mynetworks=
127.0.0.1:{tls} inet n - n - - smtpd
  -o smtpd_tls_wrappermode=yes -o smtpd_sasl_auth_enable=yes -o mynetworks=
pickup unix n - n 60 1 pickup
cleanup unix n - n - 0 cleanup
qmgr unix n - n 300 1 qmgr
tlsmgr unix - - n 1000? 1 tlsmgr
rewrite unix - - n - - trivial-rewrite
bounce unix - - n - 0 bounce
defer unix - - n - 0 bounce
trace unix - - n - 0 bounce
proxymap unix - - n - - proxymap
error unix - - n - - error
retry unix - - n - - error
lmtp unix - - n - - lmtp
scache unix - - n - 1 scache
anvil unix - - n - 1 anvil
postlog unix-dgram n - n - 1 postlogd
"""

# `first_valid_uid`: mail is kept by the system's user `mail`.
DOVECOT = """base_dir = {folder}/dovecot
state_dir = {folder}/dovecot
log_path = {folder}/maillog.dovecot
protocols = imap lmtp
listen = 127.0.0.1
ssl = required
ssl_cert = <{folder}/server.pem
ssl_key = <{folder}/server.key
first_valid_uid = 1
recipient_delimiter = +
mail_location = maildir:~/Maildir
passdb {{
  driver = passwd-file
  args = scheme=PLAIN username_format=%u {folder}/users
}}
userdb {{
  driver = passwd-file
  args = username_format=%u {folder}/users
}}
service imap-login {{
  inet_listener imap {{
    port = 0
  }}
  inet_listener imaps {{
    port = {imaps}
    ssl = yes
  }}
}}
service lmtp {{
  unix_listener {folder}/lmtp {{
    mode = 0666
  }}
}}
service auth {{
  unix_listener {folder}/login {{
    mode = 0666
  }}
}}
protocol lmtp {{
  mail_plugins = $mail_plugins sieve
}}
plugin {{
  sieve = file:~/no-doubles.sieve
}}
"""

# What a server that looks for doubles does (RFC 7352): the second mail with a Message-ID is thrown away.
NO_DOUBLES = 'require ["duplicate"];\nif duplicate { discard; stop; }\n'


class MailHouse:
    """The running mail server. `doubles` names those for whom a second mail with the same Message-ID is delivered too;
    mail for the `homeless` is taken, and only then is it found out that there is no mailbox."""

    def __init__(self, folder, users, aliases=(), doubles=(), homeless=()):
        self.folder, self.users, self.doubles, self.homeless = Path(folder), list(users), set(doubles), list(homeless)
        self.aliases = dict(aliases)
        self.plain, self.starttls, self.tls, self.imaps = free_ports(4)
        self.greylist = Greylist()
        self.authority = self.folder / "authority.pem"
        self.running = []

    def __enter__(self):
        self.folder.mkdir()
        self.folder.chmod(0o755)
        certificates(self.folder)
        self.greylist.start()
        try:
            self.start_dovecot()
            self.start_postfix()
            for port in (self.plain, self.starttls, self.tls, self.imaps):
                self.wait_for(lambda port=port: answers(port), f"nobody listens at port {port}")
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_):
        # Postfix's own command does not pass the word on to its master.
        master = self.folder / "postfix" / "queue" / "pid" / "master.pid"
        if master.exists() and answers(self.plain):
            os.kill(int(master.read_text()), signal.SIGTERM)
        for process in self.running:
            process.terminate()
        for process in self.running:
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()
        self.greylist.stop()

    def start_dovecot(self):
        mail = self.folder / "mail"
        lines = []
        for user in self.users:
            home = mail / user
            home.mkdir(parents=True)
            if user not in self.doubles:
                (home / "no-doubles.sieve").write_text(NO_DOUBLES)
            lines.append(f"{user}@{DOMAIN}:{PASSWORD}:{uid_of_mail()}::{home}:\n")
        (self.folder / "users").write_text("".join(lines))
        for path in [mail, *mail.rglob("*")]:
            shutil.chown(path, "mail", "mail")
        settings = self.folder / "dovecot.conf"
        settings.write_text(DOVECOT.format(folder=self.folder, imaps=self.imaps))
        self.run(["dovecot", "-F", "-c", str(settings)])

    def start_postfix(self):
        settings = self.folder / "postfix"
        for name in ("", "queue", "data"):
            (settings / name).mkdir(exist_ok=True)
        shutil.chown(settings / "data", "postfix")
        (settings / "mailboxes").write_text("".join(f"{user}@{DOMAIN} {user}\n" for user in self.users + self.homeless))
        (settings / "aliases").write_text("".join(f"{name}@{DOMAIN} {to}@{DOMAIN}\n" for name, to in self.aliases.items()))
        (settings / "main.cf").write_text(POSTFIX.format(folder=self.folder, domain=DOMAIN, greylist=self.greylist.port))
        (settings / "master.cf").write_text(SERVICES.format(plain=self.plain, starttls=self.starttls, tls=self.tls))
        self.run(["postfix", "-c", str(settings), "start-fg"])

    def run(self, command):
        with open(self.folder / f"said.{command[0]}", "wb") as said:
            self.running.append(subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=said, stderr=said,
                                                 start_new_session=True))

    def mailbox(self, user):
        """Every mail delivered to that person, the oldest first, as its bytes."""
        found = [path for part in ("new", "cur") for path in (self.maildir(user) / part).glob("*")]
        return [path.read_bytes() for path in sorted(found, key=lambda path: (path.stat().st_mtime_ns, path.name))]

    def maildir(self, user):
        return self.folder / "mail" / user / "Maildir"

    def wait_for_mail(self, user, many):
        """The mailbox once it holds so many mails and the queue is empty; stops the section when it never does."""
        self.wait_for(lambda: len(self.mailbox(user)) >= many and self.queue_is_empty(),
                      f"{user} has {len(self.mailbox(user))} mails and not {many}")
        return self.mailbox(user)

    def queued_for(self, user):
        """How often the server took something for that person, by its own log."""
        taken = set(re.findall(rf" (\w+): to=<{user}[@+]", (self.folder / "maillog").read_text(errors="replace")))
        return len(taken)

    def settle(self):
        """Waits until everything that the server took has gone somewhere."""
        self.wait_for(self.queue_is_empty, "mail stays in the queue")

    def queue_is_empty(self):
        queue = self.folder / "postfix" / "queue"
        parts = ("maildrop", "incoming", "active", "deferred")
        return not any(path.is_file() for part in parts for path in (queue / part).rglob("*"))

    def wait_for(self, holds, otherwise, seconds=30):
        end = time.monotonic() + seconds
        while not holds():
            for process in self.running:
                if process.poll() is not None:
                    sys.exit(f"{' '.join(process.args)} ended with {process.returncode}\n{self.logs()}")
            if time.monotonic() > end:
                sys.exit(f"{otherwise} after {seconds} s\n{self.logs()}")
            time.sleep(0.05)

    def logs(self):
        files = [*self.folder.glob("said.*"), *self.folder.glob("maillog*")]
        return "\n".join(f"{path.name}:\n{path.read_text(errors='replace')[-2500:]}" for path in files)

    def hand_in(self, sender, recipient, message):
        """A mail from anywhere to somebody here, as another mail server would hand it in."""
        with smtplib.SMTP("127.0.0.1", self.plain) as server:
            server.sendmail(sender, [recipient], message)


class Greylist:
    """Postfix asks it about each recipient: those in `strangers` are put off once for each sender (451)."""

    def __init__(self):
        self.strangers, self.seen, self.put_off = set(), set(), []
        house = self

        class Asked(socketserver.StreamRequestHandler):
            def handle(self):
                told = {}
                for line in self.rfile:
                    name, equals, value = line.decode().rstrip("\n").partition("=")
                    if equals:
                        told[name] = value
                    else:
                        self.wfile.write(f"action={house.judge(told)}\n\n".encode())
                        told = {}

        self.server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Asked, bind_and_activate=True)
        self.server.daemon_threads = True
        self.port = self.server.server_address[1]

    def judge(self, told):
        pair = told.get("sender"), told.get("recipient")
        if pair[1] not in self.strangers or pair in self.seen:
            return "DUNNO"
        self.seen.add(pair)
        self.put_off.append(pair[1])
        return "451 4.7.1 Greylisted, come back in a minute"

    def start(self):
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def stop(self):
        self.server.shutdown()
        self.server.server_close()


class Cut:
    """A line to the mail server that breaks after the final dot, so often: the server has taken the letter and says so,
    and its word is never heard. Afterwards it is a good line."""

    def __init__(self, port, times):
        cut = self
        self.breaks_left, self.broken = times, 0

        class Line(socketserver.BaseRequestHandler):
            def handle(self):
                with socket.create_connection(("127.0.0.1", port)) as server:
                    cut.carry(self.request, server)

        self.server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Line)
        self.server.daemon_threads = True
        self.port = self.server.server_address[1]

    def carry(self, client, server):
        """One connection: bytes of both sides, watched for the end of the letter."""
        ended = threading.Event()

        def back():
            while data := server.recv(65536):
                if ended.is_set() and self.breaks_left:
                    self.breaks_left -= 1
                    self.broken += 1
                    break  # "250 queued" stays here
                client.sendall(data)
            client.shutdown(socket.SHUT_RDWR)

        answer = threading.Thread(target=back, daemon=True)
        answer.start()
        tail = b""
        try:
            while data := client.recv(65536):
                tail = (tail + data)[-5:]
                if tail == b"\r\n.\r\n":
                    ended.set()
                server.sendall(data)
        except OSError:
            pass  # it was broken off
        answer.join(10)

    def __enter__(self):
        threading.Thread(target=self.server.serve_forever, daemon=True).start()
        return self

    def __exit__(self, *_):
        self.server.shutdown()
        self.server.server_close()


def certificates(folder):
    """A private authority, and the server's certificate by it."""
    def openssl(*arguments):
        done = subprocess.run(["openssl", *map(str, arguments)], cwd=folder, capture_output=True, text=True)
        if done.returncode != 0:
            sys.exit(f"openssl {arguments[0]}: {done.stderr}")

    ec = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"]
    openssl("req", "-x509", *ec, "-keyout", "authority.key", "-out", "authority.pem", "-days", 30,
            "-subj", "/CN=Alder Fold authority", "-addext", "keyUsage=critical,keyCertSign")
    openssl("req", *ec, "-keyout", "server.key", "-out", "server.csr", "-subj", "/CN=localhost")
    (folder / "server.ext").write_text(
        f"subjectAltName=DNS:localhost,DNS:mail.{DOMAIN},IP:127.0.0.1\nextendedKeyUsage=serverAuth\n")
    openssl("x509", "-req", "-in", "server.csr", "-CA", "authority.pem", "-CAkey", "authority.key", "-CAcreateserial",
            "-days", 30, "-extfile", "server.ext", "-out", "server.pem")


def uid_of_mail():
    return f"{pwd.getpwnam('mail').pw_uid}:{grp.getgrnam('mail').gr_gid}"


def free_ports(many):
    held = [socket.create_server(("127.0.0.1", 0)) for _ in range(many)]
    ports = [one.getsockname()[1] for one in held]
    for one in held:
        one.close()
    return ports


def answers(port):
    try:
        socket.create_connection(("127.0.0.1", port), 1).close()
        return True
    except OSError:
        return False


def need_root():
    if os.geteuid() != 0:
        sys.exit("the mail server of the checks starts as root only")
