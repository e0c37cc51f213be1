"""The command that serves: what it refuses in one sentence, and how it ends."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from rollsound.cli.app import run
from rollsound.log.model import Author
from rollsound.show.folder import Show

PLAN = """\
version: 1
show: {title: Northbound Ferry}
people:
  - {id: ines, name: Ines, role: mixer}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A new show."""
    made = tmp_path / "ferry"
    Show.new(made, PLAN, Author("Ines", "ines", "this machine")).close()
    return made


def start(folder: Path, *more: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "rollsound", "serve", str(folder), "--no-open", *more]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


@pytest.fixture
def serving(folder: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A server and the address it printed."""
    process = start(folder)
    assert process.stdout is not None
    yield process, next(line.strip() for line in process.stdout if "/enter?key=" in line)
    process.kill()
    process.communicate()


def test_a_second_server_says_where_the_first_is(folder: Path, serving: tuple[subprocess.Popen[str], str]) -> None:
    second = start(folder)
    _, told = second.communicate(timeout=60)
    assert second.returncode == 2
    assert serving[1].partition("/enter")[0] in told
    assert "--read-only" in told
    assert "Traceback" not in told
    third = start(folder, "--read-only")
    assert third.stdout is not None
    enter = next(line.strip() for line in third.stdout if "/enter?key=" in line)
    assert httpx.get(enter, trust_env=False).status_code == 303
    third.send_signal(signal.SIGINT)
    assert third.wait(30) == 0


@pytest.mark.parametrize("sig", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_in_order_though_a_browser_listens(
    folder: Path, serving: tuple[subprocess.Popen[str], str], sig: signal.Signals
) -> None:
    process, enter = serving
    with httpx.Client(trust_env=False, timeout=30) as client:
        assert client.get(enter).status_code == 303
        with client.stream("GET", enter.partition("/enter")[0] + "/events") as stream:
            assert next(stream.iter_lines()).startswith("retry")
            process.send_signal(sig)
            assert process.wait(30) == 0
    assert not (folder / ".serving").exists()
    assert list((folder / "backups").glob("show-*.sqlite"))


def test_the_cookie_holds_over_a_new_start(folder: Path, serving: tuple[subprocess.Popen[str], str]) -> None:
    process, enter = serving
    home = enter.partition("/enter")[0]
    with httpx.Client(trust_env=False, timeout=30) as client:
        client.get(enter)
        process.send_signal(signal.SIGKILL)
        process.wait(30)
        again = start(folder, "--port", home.rpartition(":")[2])
        assert again.stdout is not None
        next(line for line in again.stdout if "/enter?key=" in line)
        assert client.get(f"{home}/api/v1/show").status_code == 200
        again.send_signal(signal.SIGINT)
        assert again.wait(30) == 0


def test_a_port_that_is_taken_is_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        assert run(["serve", str(folder), "--no-open", "--port", str(port)]) == 2
    assert f"port {port} is taken" in " ".join(capsys.readouterr().err.lower().split())


def test_a_certificate_that_is_none_is_refused(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = tmp_path / "cert.pem"
    bad.write_text("no certificate", "utf-8")
    for more in (["--tls-cert", str(bad)], ["--tls-cert", str(bad), "--tls-key", str(bad)]):
        assert run(["serve", str(folder), "--no-open", *more]) == 2
        told = capsys.readouterr().err
        assert told
        assert "Traceback" not in told


def test_under_tls_with_the_mixers_certificate(folder: Path, tmp_path: Path) -> None:
    import ssl
    from datetime import UTC, datetime, timedelta

    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "localhost")])
    now = datetime.now(UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        .sign(key, hashes.SHA256())
    )
    cert_path, key_path = tmp_path / "cert.pem", tmp_path / "key.pem"
    cert_path.write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    plain = serialization.NoEncryption()
    key_path.write_bytes(key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, plain))
    process = start(folder, "--tls-cert", str(cert_path), "--tls-key", str(key_path))
    assert process.stdout is not None
    enter = next(line.strip() for line in process.stdout if "/enter?key=" in line)
    assert enter.startswith("https://")
    trusted = ssl.create_default_context(cafile=str(cert_path))
    with httpx.Client(verify=trusted, trust_env=False) as client:
        answer = client.get(enter.replace("127.0.0.1", "localhost"))
        assert "; Secure" in answer.headers["set-cookie"]
        assert answer.headers["set-cookie"].startswith("__Host-")
    process.send_signal(signal.SIGINT)
    assert process.wait(30) == 0
