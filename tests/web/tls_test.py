"""The page over TLS with the authority that the program makes, checked by another TLS library (Python's ssl, OpenSSL).

usage: tls_test.py WITMARK
"""
import http.client
import json
import os
import pathlib
import re
import socket
import ssl
import subprocess
import sys
import tempfile
import time
import unittest
import urllib.error
import urllib.request

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "cli"))
from witmark_cli import WITMARK, main  # noqa: E402

PASSWORD = "four quiet words here"


def free_ports():
    """A port that is free together with the one after it."""
    for port in range(18000 + os.getpid() % 4000, 60000, 2):
        try:
            with socket.socket() as one, socket.socket() as two:
                one.bind(("0.0.0.0", port))
                two.bind(("0.0.0.0", port + 1))
                return port
        except OSError:
            continue
    raise RuntimeError("no free ports")


class Tls(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.held = tempfile.TemporaryDirectory()
        cls.folder = pathlib.Path(cls.held.name)
        cls.depot = cls.folder / "depot"
        cls.run_fine("depot", "new", "--name", "Depot", "--zone", "Europe/Lisbon")
        cls.run_fine("person", "add", "Ines", "--role", "books", text=PASSWORD + "\n")
        cls.run_fine("authority", "make", "--name", "depot.local", "--address", "127.0.0.1,192.168.1.20")
        cls.port = free_ports()
        cls.server = subprocess.Popen(
            [WITMARK, "serve", "--listen", "0.0.0.0", "--port", str(cls.port), "--depot", str(cls.depot)],
            stdout=subprocess.PIPE, text=True)
        cls.lines = [cls.server.stdout.readline(), cls.server.stdout.readline()]

    @classmethod
    def tearDownClass(cls):
        cls.server.terminate()
        cls.status = cls.server.wait(20)
        cls.server.stdout.close()
        cls.held.cleanup()
        assert cls.status == 0, cls.status

    @classmethod
    def run_fine(cls, *words, text=None):
        done = subprocess.run([WITMARK, *words, "--depot", str(cls.depot)], input=text, capture_output=True, text=True)
        assert done.returncode == 0, (words, done.stderr)
        return done.stdout

    @property
    def authority(self):
        return self.folder / "depot.authority" / "authority.crt"

    def trusting(self):
        context = ssl.create_default_context(cafile=str(self.authority))
        return context

    def asked(self, path, context=None, method="GET", body=None, headers=None):
        connection = http.client.HTTPSConnection("127.0.0.1", self.port, context=context or self.trusting(), timeout=20)
        connection.request(method, path, body, headers or {})
        answer = connection.getresponse()
        data = answer.read()
        connection.close()
        return answer, data

    def test_who_trusts_the_authority_gets_in(self):
        answer, data = self.asked("/api/session")
        self.assertEqual(answer.status, 200)
        session = json.loads(data)
        self.assertTrue(session["secure"] and session["login_needed"] and not session["signed_in"])
        self.assertEqual(self.asked("/api/today")[0].status, 401)
        self.assertEqual(self.asked("/")[0].status, 200)

    def test_who_does_not_is_warned(self):
        with self.assertRaises(ssl.SSLCertVerificationError):
            self.asked("/", ssl.create_default_context())

    def test_old_versions_are_refused(self):
        context = self.trusting()
        context.minimum_version = ssl.TLSVersion.MINIMUM_SUPPORTED
        context.maximum_version = ssl.TLSVersion.TLSv1_1
        with self.assertRaises((ssl.SSLError, ConnectionError)):
            self.asked("/", context)

    def test_the_name_must_be_one_of_the_certificate(self):
        context = self.trusting()
        for name, fine in (("depot.local", True), ("192.168.1.20", True), ("other.local", False), ("192.168.1.21", False)):
            with socket.create_connection(("127.0.0.1", self.port), 20) as plain:
                try:
                    with context.wrap_socket(plain, server_hostname=name) as tls:
                        self.assertTrue(fine, name)
                        self.assertIn(tls.version(), ("TLSv1.2", "TLSv1.3"))
                except ssl.SSLCertVerificationError:
                    self.assertFalse(fine, name)

    def test_the_authority_is_limited(self):
        """A certificate that the authority's key signs for another name is refused by its name constraints."""
        done = subprocess.run([WITMARK, "authority", "make", "--name", "bank.example", "--address", "127.0.0.1",
                               "--depot", str(self.depot)], capture_output=True, text=True)
        self.assertEqual(done.returncode, 3)
        self.assertIn("--anew", done.stderr)
        key = self.folder / "depot.authority" / "authority.key"
        if subprocess.run(["openssl", "version"], capture_output=True, check=False).returncode:
            self.skipTest("openssl is not installed")
        steps = [
            ["openssl", "req", "-new", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-subj", "/CN=x",
             "-keyout", str(self.folder / "x.key"), "-out", str(self.folder / "x.csr"), "-addext",
             "subjectAltName=DNS:bank.example"],
            ["openssl", "x509", "-req", "-in", str(self.folder / "x.csr"), "-CA", str(self.authority), "-CAkey", str(key),
             "-copy_extensions", "copy", "-out", str(self.folder / "x.crt"), "-days", "10"],
        ]
        for step in steps:
            self.assertEqual(subprocess.run(step, capture_output=True, check=False).returncode, 0, step)
        check = subprocess.run(["openssl", "verify", "-CAfile", str(self.authority), str(self.folder / "x.crt")],
                               capture_output=True, text=True, check=False)
        self.assertNotEqual(check.returncode, 0)
        self.assertIn("subtree", check.stdout + check.stderr)

    def test_signing_in_over_tls(self):
        answer, data = self.asked("/api/session")
        headers = {"X-Witmark-Token": json.loads(data)["csrf"], "Content-Type": "application/json",
                   "Origin": f"https://127.0.0.1:{self.port}"}
        answer, data = self.asked("/api/login", method="POST", headers=headers,
                                  body=json.dumps({"name": "Ines", "password": PASSWORD}))
        self.assertEqual(answer.status, 200, data)
        cookie = answer.getheader("Set-Cookie")
        self.assertTrue(cookie.startswith("__Host-witmark="))
        for flag in ("Secure", "HttpOnly", "SameSite=Strict", "Path=/"):
            self.assertIn(flag, cookie)
        answer, data = self.asked("/api/today", headers={"Cookie": cookie.split(";")[0]})
        self.assertEqual(answer.status, 200)
        self.assertEqual(json.loads(data)["depot"], "Depot")

    def test_the_plain_port_gives_the_certificate_and_nothing_else(self):
        plain = f"http://127.0.0.1:{self.port + 1}"
        self.assertIn(f":{self.port + 1}/", self.lines[1])
        with urllib.request.urlopen(plain + "/authority.crt") as answer:
            self.assertEqual(answer.headers["Content-Type"], "application/x-x509-ca-cert")
            self.assertEqual(answer.read(), self.authority.read_bytes())
        with urllib.request.urlopen(plain + "/") as answer:
            page = answer.read().decode()
        shown = self.run_fine("authority", "check", "--json")
        self.assertIn(json.loads(shown)["fingerprint"], page)
        for path in ("/api/today", "/api/session", "/index.html", "/authority.key", "/../authority.key"):
            with self.assertRaises(urllib.error.HTTPError) as refused:
                urllib.request.urlopen(plain + path)
            self.assertEqual(refused.exception.code, 404)
            refused.exception.close()

    def test_check_finds_what_is_wrong(self):
        key = self.folder / "depot.authority" / "server.key"
        key.chmod(0o644)
        done = subprocess.run([WITMARK, "authority", "check", "--depot", str(self.depot)], capture_output=True,
                              text=True, check=False)
        self.assertEqual(done.returncode, 1)
        self.assertIn("others may read the server's key", done.stdout)
        key.chmod(0o600)
        late = subprocess.run([WITMARK, "authority", "check", "--today", "2040-01-01", "--depot", str(self.depot)],
                              capture_output=True, text=True, check=False)
        self.assertEqual(late.returncode, 1)
        self.assertIn("over", late.stdout)

    def test_leaf_is_short_enough_for_phones(self):
        """At most 825 days (CA/Browser Forum Baseline Requirements before 2020), and 397 unless told otherwise."""
        leaf = str(self.folder / "depot.authority" / "server.crt")
        dates = subprocess.run(["openssl", "x509", "-in", leaf, "-noout", "-startdate", "-enddate"], capture_output=True,
                               text=True, check=False).stdout
        found = re.findall(r"=(.*)", dates)
        if len(found) != 2:
            self.skipTest("openssl is not installed")
        begins, ends = (time.mktime(time.strptime(d, "%b %d %H:%M:%S %Y %Z")) for d in found)
        self.assertLessEqual(ends - begins, 397 * 86400 + 1)
        done = subprocess.run([WITMARK, "authority", "renew", "--days", "826", "--depot", str(self.depot)],
                              capture_output=True, text=True, check=False)
        self.assertEqual(done.returncode, 2)


if __name__ == "__main__":
    main()
