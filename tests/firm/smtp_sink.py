"""A mail server for tests: takes mail over a real socket and keeps it, or refuses it."""

import asyncio
import base64
import datetime
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

USER, PASSWORD = "office", "a long pass phrase"


class Sink:
    """What came in: mails, and whether each conversation was encrypted and signed in."""

    def __init__(self, refuses: bool, context: ssl.SSLContext | None) -> None:
        self.refuses, self.context = refuses, context
        self.mails: list[bytes] = []
        self.signed_in = False
        self.port = 0

    async def talk(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Hold one conversation (RFC 5321, 3207, 4954)."""
        say = lambda line: writer.write(f"{line}\r\n".encode())  # noqa: E731 - short
        secure = False
        say("220 sink")
        while line := (await reader.readline()).decode().strip():
            verb = line.upper().split()[0]
            if verb in ("EHLO", "HELO"):
                say("250-sink")
                if self.context and not secure:
                    say("250-STARTTLS")
                say("250 AUTH PLAIN")
            elif verb == "STARTTLS" and self.context:
                say("220 go on")
                await writer.drain()
                await writer.start_tls(self.context)
                secure = True
            elif verb == "AUTH":
                told = base64.b64decode(line.split()[2]).decode().split("\0")
                self.signed_in = told[1:] == [USER, PASSWORD] and secure
                say("235 welcome" if self.signed_in else "535 no")
            elif verb == "RCPT" and self.refuses:
                say("550 nobody of that name")
            elif verb == "DATA":
                say("354 go on")
                self.mails.append(await reader.readuntil(b"\r\n.\r\n"))
                say("250 kept")
            elif verb == "QUIT":
                say("221 bye")
                break
            else:
                say("250 fine")
        writer.close()


@contextmanager
def sink(*, refuses: bool = False, context: ssl.SSLContext | None = None) -> Iterator[Sink]:
    """Give a running sink on a port of its own, in a thread of its own."""
    made, ready, end = Sink(refuses, context), threading.Event(), threading.Event()

    async def serve() -> None:
        server = await asyncio.start_server(made.talk, "127.0.0.1", 0)
        made.port = server.sockets[0].getsockname()[1]
        ready.set()
        while not end.is_set():
            await asyncio.sleep(0.02)
        server.close()

    thread = threading.Thread(target=lambda: asyncio.run(serve()))
    thread.start()
    try:
        assert ready.wait(10)
        yield made
    finally:
        end.set()
        thread.join(10)


def certificate(folder: Path, name: str = "localhost") -> tuple[Path, ssl.SSLContext]:
    """Return a certificate of our own for a name, and what a server needs to show it."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])
    day = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(day - datetime.timedelta(days=1))
        .not_valid_after(day + datetime.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    file = folder / f"{name}.pem"
    private = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    file.write_bytes(private + made.public_bytes(Encoding.PEM))
    public = folder / f"{name}-public.pem"
    public.write_bytes(made.public_bytes(Encoding.PEM))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(file)
    return public, context
