"""Encrypted suppliers: real certificates, of an authority of the tests' own."""

import contextlib
import socket
import ssl
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest
import trustme

from tests.plugins.http_servers import answer, ask, drip, serving
from tests.plugins.test_http_supplier_failures import failure


@pytest.fixture(scope="module")
def authority() -> trustme.CA:
    return trustme.CA()


@pytest.fixture
def ca_file(authority: trustme.CA, tmp_path: Path) -> str:
    authority.cert_pem.write_to_path(str(tmp_path / "authority.pem"))
    return "authority.pem"


def of(certificate: trustme.LeafCert) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    certificate.configure_cert(context)
    return context


def test_a_certificate_of_ones_own_authority_is_trusted_by_its_file(authority, ca_file, tmp_path):
    (tmp_path / "token").write_text("tok-5f1e")
    with serving(answer(), of(authority.issue_cert("127.0.0.1"))) as server:
        assert ask(server.url, folder=tmp_path, ca_file=ca_file, token_file="token").offers == ()
        assert "Authorization: Bearer tok-5f1e" in server.heads[0].split("\r\n")


def test_a_stranger_isnt_trusted_and_gets_no_question(authority, ca_file, tmp_path):
    with serving(answer(), of(authority.issue_cert("127.0.0.1"))) as server:
        assert failure(server.url) == (
            f"the certificate of {server.host} can't be trusted (unable to get local issuer certificate): check the "
            f"name in url; for an authority of one's own, name its certificate as ca_file")
        assert server.heads == []
    with serving(answer(), of(trustme.CA().issue_cert("127.0.0.1"))) as server:
        assert f"the certificate of {server.host} can't be trusted (" in failure(
            server.url, folder=tmp_path, ca_file=ca_file)
        assert server.heads == []


@pytest.mark.parametrize("names,end,said", [
    (["parts.example"], None, "IP address mismatch, certificate is not valid for '127.0.0.1'."),
    (["127.0.0.1"], datetime(2026, 1, 2, tzinfo=UTC), "certificate has expired"),
], ids=["another name", "expired"])
def test_a_certificate_that_isnt_good_here_is_told_with_why(authority, ca_file, tmp_path, names, end, said):
    begin = datetime(2026, 1, 1, tzinfo=UTC) if end else None
    with serving(answer(), of(authority.issue_cert(*names, not_before=begin, not_after=end))) as server:
        assert f"the certificate of {server.host} can't be trusted ({said}): " in failure(
            server.url, folder=tmp_path, ca_file=ca_file)
        assert server.heads == []


def test_an_encrypted_question_to_a_service_that_isnt():
    with socket.create_server(("127.0.0.1", 0)) as listener:
        host = f"127.0.0.1:{listener.getsockname()[1]}"

        def once() -> None:
            with listener.accept()[0] as connection:
                connection.sendall(b"HTTP/1.1 400 Bad Request\r\nContent-Length: 0\r\n\r\n")
                connection.shutdown(socket.SHUT_WR)
                with contextlib.suppress(OSError):
                    while connection.recv(4096):
                        pass

        thread = threading.Thread(target=once, daemon=True)
        thread.start()
        sentence = failure(f"https://{host}")
        thread.join(5)
    assert sentence.startswith(f"{host} doesn't agree on encryption (")
    assert sentence.endswith("): does it speak https at this port?")


def test_a_plain_question_to_a_service_that_is_encrypted(authority):
    with serving(answer(), of(authority.issue_cert("127.0.0.1"))) as server:
        sentence = failure(f"http://{server.host}")
        assert sentence.startswith(f"{server.host} gave no answer in HTTP (")
        assert "is https:// or http:// in url right?" in sentence


def test_encryption_that_isnt_agreed_on_in_time():
    with serving(answer()) as server:  # it waits for the end of a head in plain
        assert failure(f"https://{server.host}", deadline_s=1) == (
            f"{server.host} took the connection but didn't agree on encryption within 0.8 s: check that url leads to "
            f"an https service")


def test_an_encrypted_answer_that_drips_is_cut_off_too(authority, ca_file, tmp_path):
    def act(connection: socket.socket, number: int, question: bytes) -> None:
        drip(connection, answer())

    before = threading.active_count()
    with serving(act, of(authority.issue_cert("127.0.0.1"))) as server:
        assert "took the connection but gave no answer within 0.8 s" in failure(
            server.url, deadline_s=1, folder=tmp_path, ca_file=ca_file)
        ended = threading.Event()
        for _ in range(150):
            if threading.active_count() <= before + 1:  # the one that listens
                ended.set()
                break
            threading.Event().wait(0.02)
        assert ended.is_set(), "what was cut off has ended, on both sides"


def test_a_file_of_authorities_that_is_none(tmp_path):
    (tmp_path / "authority.pem").write_text("nothing")
    assert failure("https://127.0.0.1:1", folder=tmp_path, ca_file="authority.pem") == (
        "ca_file authority.pem holds no certificate in PEM for 127.0.0.1:1")
    assert failure("https://127.0.0.1:1", folder=tmp_path, ca_file="other.pem") == (
        "ca_file other.pem can't be read: No such file or directory")
