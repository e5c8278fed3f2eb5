"""A weather service within the checks, and a nursery that asks it: documents on a free port of this machine."""

import json
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

NURSERY = """[nursery]
name = "Alder Fold Nursery"
zone = "{zone}"
[post]
log = false
[[site]]
id = "hill"
latitude = 42.5
longitude = -74
[[site.weather]]
{weather}
"""


class Service:
    """Answers each path with the document that stands under it, whatever the query; other paths with 404."""

    def __init__(self):
        self.documents = {}
        documents = self.documents

        class Answers(BaseHTTPRequestHandler):
            def do_GET(self):
                document = documents.get(self.path.split("?")[0])
                body = json.dumps(document or {}).encode()
                self.send_response(404 if document is None else 200)
                self.send_header("Content-Type", "application/json")
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_):
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Answers)
        self.url = f"http://127.0.0.1:{self.server.server_port}"

    def __enter__(self):
        threading.Thread(target=self.server.serve_forever, daemon=True).start()
        return self

    def __exit__(self, *_):
        self.server.shutdown()
        self.server.server_close()


def nursery(folder, weather, grafted_on, zone="America/New_York"):
    """A nursery of one site and one batch in that folder; sources give days from six weeks before grafting on."""
    folder.mkdir()
    (folder / "graftwarden.toml").write_text(NURSERY.format(zone=zone, weather=weather), encoding="utf-8")
    (folder / "batches.csv").write_text(
        f"batch,block,plan,grafts,grafted_on\nA1,A,maple field T-graft,100,{grafted_on}\n", encoding="utf-8")
    return folder / "graftwarden.toml"
