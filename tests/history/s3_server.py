"""A small server of the S3 protocol that keeps objects in memory: what a store asks of one, and no more.

Objects are put (only where there is none, if so asked), got (whole or a part), listed, copied and deleted, by the
open description of the protocol's requests. Signatures are not checked. ``python s3_server.py PORT`` serves until
it is ended.
"""

from __future__ import annotations

import hashlib
import sys
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, unquote, urlsplit
from xml.sax.saxutils import escape, unescape

OBJECTS: dict[str, bytes] = {}
UPLOADS: dict[str, dict[int, bytes]] = {}
LOCK = threading.Lock()
NAMESPACE = 'xmlns="http://s3.amazonaws.com/doc/2006-03-01/"'
DAY = "2032-07-08T15:00:00.000Z"
HTTP_DAY = "Thu, 08 Jul 2032 15:00:00 GMT"


class Answers(BaseHTTPRequestHandler):
    """Answers of the server; a key is ``bucket/name``."""

    protocol_version = "HTTP/1.1"

    def log_message(self, *_: object) -> None:
        """Say nothing."""

    def _asked(self) -> tuple[str, dict[str, str]]:
        parts = urlsplit(self.path)
        query = parse_qs(parts.query, keep_blank_values=True)
        return unquote(parts.path).lstrip("/"), {name: values[0] for name, values in query.items()}

    def _body(self) -> bytes:
        return self.rfile.read(int(self.headers.get("Content-Length") or 0))

    def _answer(self, status: int, body: bytes = b"", **headers: str) -> None:
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)

    def _refuse(self, status: int, code: str) -> None:
        self._answer(status, f"<Error><Code>{code}</Code><Message>{code}</Message></Error>".encode())

    def _give(self, key: str) -> None:
        data = OBJECTS.get(key)
        if data is None:
            return self._refuse(404, "NoSuchKey")
        headers = {"ETag": _tag(data), "Last_Modified": HTTP_DAY, "Accept_Ranges": "bytes"}
        asked = self.headers.get("Range", "")
        if not asked.startswith("bytes="):
            return self._answer(200, data, **headers)
        low, _, high = asked.removeprefix("bytes=").partition("-")
        first, last = int(low), min(int(high) if high else len(data) - 1, len(data) - 1)
        return self._answer(206, data[first : last + 1], Content_Range=f"bytes {first}-{last}/{len(data)}", **headers)

    def do_GET(self) -> None:
        key, query = self._asked()
        if "list-type" in query:
            return self._answer(200, _listed(key.strip("/"), query), Content_Type="application/xml")
        return self._give(key)

    def do_HEAD(self) -> None:
        key, _ = self._asked()
        if key not in OBJECTS:
            return self._answer(404)
        data = OBJECTS[key]
        self.send_response(200)
        self.send_header("Content-Length", str(len(data)))
        self.send_header("ETag", _tag(data))
        self.send_header("Last-Modified", HTTP_DAY)
        self.end_headers()
        return None

    def do_PUT(self) -> None:
        key, query = self._asked()
        body = self._body()
        if "uploadId" in query:
            UPLOADS[query["uploadId"]][int(query["partNumber"])] = body
            return self._answer(200, ETag=_tag(body))
        source = unquote(self.headers.get("x-amz-copy-source", "")).lstrip("/")
        with LOCK:
            if self.headers.get("If-None-Match") == "*" and key in OBJECTS:
                return self._refuse(412, "PreconditionFailed")
            if source and source not in OBJECTS:
                return self._refuse(404, "NoSuchKey")
            OBJECTS[key] = OBJECTS[source] if source else body
        told = f"<CopyObjectResult {NAMESPACE}><ETag>{_tag(OBJECTS[key])}</ETag></CopyObjectResult>" if source else ""
        return self._answer(200, told.encode(), ETag=_tag(OBJECTS[key]))

    def do_POST(self) -> None:
        key, query = self._asked()
        body = self._body()
        bucket, _, name = key.partition("/")
        said = f"<Bucket>{bucket}</Bucket><Key>{escape(name)}</Key>"
        if "uploads" in query:
            number = hashlib.sha256(f"{key}{len(UPLOADS)}".encode()).hexdigest()[:16]
            UPLOADS[number] = {}
            root = "InitiateMultipartUploadResult"
            return self._answer(200, f"<{root} {NAMESPACE}>{said}<UploadId>{number}</UploadId></{root}>".encode())
        if "uploadId" in query:
            parts = UPLOADS.pop(query["uploadId"])
            OBJECTS[key] = b"".join(parts[place] for place in sorted(parts))
            root = "CompleteMultipartUploadResult"
            return self._answer(200, f"<{root} {NAMESPACE}>{said}<ETag>{_tag(OBJECTS[key])}</ETag></{root}>".encode())
        if "delete" in query:
            names = [part.split("</Key>")[0] for part in body.decode().split("<Key>")[1:]]
            for one in names:
                OBJECTS.pop(f"{bucket}/{unescape(one)}", None)
            gone = "".join(f"<Deleted><Key>{one}</Key></Deleted>" for one in names)
            return self._answer(200, f"<DeleteResult {NAMESPACE}>{gone}</DeleteResult>".encode())
        return self._refuse(501, "NotImplemented")

    def do_DELETE(self) -> None:
        key, _ = self._asked()
        OBJECTS.pop(key, None)
        self._answer(204)


def _tag(data: bytes) -> str:
    return f'"{hashlib.sha256(data).hexdigest()[:32]}"'


def _listed(bucket: str, query: dict[str, str]) -> bytes:
    """Return a list of the second kind: objects, and the folders below a prefix."""
    prefix, delimiter = query.get("prefix", ""), query.get("delimiter", "")
    found, folders = [], set()
    for key in sorted(OBJECTS):
        name = key.removeprefix(f"{bucket}/")
        if key == name or not name.startswith(prefix):
            continue
        rest = name[len(prefix) :]
        if delimiter and delimiter in rest:
            folders.add(prefix + rest.split(delimiter)[0] + delimiter)
        else:
            found.append((name, OBJECTS[key]))
    objects = "".join(
        f"<Contents><Key>{escape(name)}</Key><LastModified>{DAY}</LastModified><ETag>{escape(_tag(data))}</ETag>"
        f"<Size>{len(data)}</Size><StorageClass>STANDARD</StorageClass></Contents>"
        for name, data in found
    )
    under = "".join(f"<CommonPrefixes><Prefix>{escape(one)}</Prefix></CommonPrefixes>" for one in sorted(folders))
    head = f"<Name>{bucket}</Name><Prefix>{escape(prefix)}</Prefix><KeyCount>{len(found) + len(folders)}</KeyCount>"
    limits = "<MaxKeys>1000000</MaxKeys><IsTruncated>false</IsTruncated>"
    return f"<ListBucketResult {NAMESPACE}>{head}{limits}{objects}{under}</ListBucketResult>".encode()


if __name__ == "__main__":
    ThreadingHTTPServer(("127.0.0.1", int(sys.argv[1])), Answers).serve_forever()
