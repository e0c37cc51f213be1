"""Serve a show: open it, take its doors into use, and answer until stopped."""

from __future__ import annotations

import contextlib
import logging
import signal
import socket
import ssl
import threading
import webbrowser
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

import uvicorn

from rollsound.actions.running import JobRunner
from rollsound.errors import InputError, storage, storage_error
from rollsound.log.lock import serve_alone
from rollsound.log.model import JobRow
from rollsound.show.folder import Show
from rollsound.web import loading
from rollsound.web.addresses import addresses
from rollsound.web.app import create_app
from rollsound.web.desk import Desk
from rollsound.web.housekeeping import Housekeeping
from rollsound.web.live import Live
from rollsound.web.security.doors import Doors

PORT = 8060
_PORTS_TRIED = 20


@dataclass(frozen=True)
class Serving:
    """A server that answers now."""

    enter_url: str
    join_urls: tuple[str, ...]
    desk: Desk

    def new_enter_url(self) -> str:
        """Another address that makes a browser of this machine the mixer's; it works once."""
        return f"{self.enter_url.partition('?')[0]}?key={self.desk.doors.keys.make()}"


def serve(
    folder: Path,
    *,
    lan: bool = False,
    port: int | None = None,
    open_browser: bool = True,
    tls_cert: Path | None = None,
    tls_key: Path | None = None,
    names: tuple[str, ...] = (),
    read_only: bool = False,
    told: Callable[[Serving], None] = lambda serving: None,
) -> None:
    """Serve a show until the program is told to stop.

    Parameters
    ----------
    lan
        let devices of the network join; without it only this machine is answered
    port
        None: 8060, or the next one that is free
    tls_cert, tls_key
        the mixer's certificate and its key, both or neither
    names
        further names by which devices reach this machine
    told
        called once, when the server answers

    Raises
    ------
    InputError
        when the folder holds no show, another server has it, the port is taken, or the certificate cannot be used
    """
    _check_tls(tls_cert, tls_key)
    folder = folder.resolve()  # jobs run elsewhere and take whole paths only
    with contextlib.ExitStack() as held:
        taken = held.enter_context(_listen("0.0.0.0" if lan else "127.0.0.1", port))
        used_port = int(taken.getsockname()[1])
        scheme = "https" if tls_cert is not None else "http"
        here = f"{scheme}://127.0.0.1:{used_port}"
        if not read_only:
            if not folder.is_dir():
                raise InputError(f"{folder} is not there; name the folder of a show, or make one with 'rollsound new'")
            held.callback(serve_alone(folder, here).let_go)
        show = Show.open(folder, read_only=read_only)
        held.callback(show.close)
        doors = Doors(show.store, port=used_port, lan=lan, names=names, tls=tls_cert is not None)
        live = Live()
        runner = None
        if not read_only:
            runner = JobRunner(show.store, _news_to(live, show.folder), reports=show.folder / "jobs")
            held.callback(runner.close)
        desk = Desk(show=show, doors=doors, live=live, runner=runner)
        keeping = Housekeeping(desk)
        held.callback(keeping.stop)
        held.callback(loading.settle)
        server = _Server(_config(desk, tls_cert, tls_key), desk)
        joins = tuple(f"{scheme}://{name}:{used_port}/join" for name in (*names, *addresses())) if lan else ()
        serving = Serving(f"{here}/enter?key={doors.keys.make()}", joins, desk)

        def started() -> None:
            keeping.start()
            told(serving)
            if open_browser:
                threading.Thread(target=webbrowser.open, args=(serving.new_enter_url(),), daemon=True).start()

        server.on_start = started
        server.run(sockets=[taken])


class _Server(uvicorn.Server):
    """Says when it answers, and ends the live streams when it is told to stop: they would never end themselves."""

    def __init__(self, config: uvicorn.Config, desk: Desk) -> None:
        super().__init__(config)
        self._desk = desk
        self.on_start: Callable[[], None] = lambda: None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to answer."""
        await super().startup(sockets=sockets)
        if self.started:
            self.on_start()

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Take the signals that stop a program, and do not raise them anew: stopping a server is an ordinary end."""
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        before = {sig: signal.signal(sig, self.handle_exit) for sig in (signal.SIGINT, signal.SIGTERM)}
        try:
            yield
        finally:
            for sig, handler in before.items():
                signal.signal(sig, handler)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Stop: what runs is finished, streams end at once."""
        self._desk.live.close()
        super().handle_exit(sig, frame)


def _news_to(live: Live, folder: Path) -> Callable[[JobRow], None]:
    """What is told of jobs; the code that tells it is loaded with the first news."""

    def tell(row: JobRow) -> None:
        from rollsound.web.api.jobs import news_to

        news_to(live, folder)(row)

    return tell


def _config(desk: Desk, tls_cert: Path | None, tls_key: Path | None) -> uvicorn.Config:
    logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL if tls_cert is not None else logging.WARNING)
    return uvicorn.Config(
        create_app(desk),
        log_config=None,
        access_log=False,  # addresses may hold a key or a code
        proxy_headers=False,  # nobody stands between; such headers are somebody's wish to look like somebody else
        server_header=False,
        h11_max_incomplete_event_size=16_384,
        limit_concurrency=800,
        timeout_keep_alive=75,
        timeout_graceful_shutdown=2,
        ssl_certfile=tls_cert,
        ssl_keyfile=tls_key,
    )


def _listen(host: str, port: int | None) -> socket.socket:
    if port is not None and not 0 <= port <= 65535:
        raise InputError(f"there is no port {port}; ports run from 1 to 65535, name another with --port")
    wanted = [port] if port is not None else range(PORT, PORT + _PORTS_TRIED)
    for each in wanted:
        taken = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            taken.bind((host, each))
        except (OSError, OverflowError):
            taken.close()
            continue
        taken.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return taken
    tried = f"port {port} is" if port is not None else f"ports {PORT} to {PORT + _PORTS_TRIED - 1} are"
    raise InputError(f"{tried} taken on this machine or not allowed; name another with --port")


def _check_tls(tls_cert: Path | None, tls_key: Path | None) -> None:
    if (tls_cert is None) != (tls_key is None):
        raise InputError("a certificate needs its key, and a key its certificate; give both --tls-cert and --tls-key")
    if tls_cert is None or tls_key is None:
        return
    for path in (tls_cert, tls_key):
        with storage(path), open(path, "rb"):
            pass
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(tls_cert, tls_key, password="")
    except ssl.SSLError as error:
        raise InputError(
            f"{tls_cert} and {tls_key} cannot be used together ({error.reason or 'not PEM'}); "
            "give the certificate and its own key, both as PEM and without a password"
        ) from error
    except OSError as error:
        raise storage_error(error, tls_cert) from error
