"""`rollsound serve`: the show on this machine's browser, and on every device of the crew."""

from __future__ import annotations

import gc
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter
from pydantic import BaseModel, ConfigDict, Field

from rollsound.cli.frame import AsJson, print_json
from rollsound.cli.frame import out as console_out
from rollsound.cli.lines import line

if TYPE_CHECKING:
    from rollsound.web.serve import Serving


class ServeResult(BaseModel):
    """What is told, once, when the server answers."""

    model_config = ConfigDict(frozen=True)

    title: str
    enter_url: str = Field(description="makes one browser of this machine the mixer's; works once")
    join_urls: tuple[str, ...] = Field(description="what devices of the crew open; empty without --lan")


def serve_command(
    show: Path,
    /,
    *,
    lan: Annotated[bool, Parameter(negative="", help="Let devices of this machine's network join, by code.")] = False,
    port: Annotated[int | None, Parameter(help="The port; 8060 or the next free one when left out.")] = None,
    open_browser: Annotated[bool, Parameter(name="--open", negative="--no-open", help="Open the browser here.")] = True,
    name: Annotated[
        tuple[str, ...], Parameter(help="A name that devices reach this machine by, beside its addresses.")
    ] = (),
    tls_cert: Annotated[Path | None, Parameter(help="Your certificate (PEM): pages are then served under TLS.")] = None,
    tls_key: Annotated[Path | None, Parameter(help="The certificate's key (PEM, no password).")] = None,
    read_only: Annotated[bool, Parameter(negative="", help="Look, change nothing; beside another server.")] = False,
    json: AsJson = False,
) -> int:
    """Open a show in the browser, and with --lan on every device of the crew. Ctrl-C stops it; nothing is lost.

    Example: rollsound serve northbound-ferry/ --lan

    Parameters
    ----------
    show
        The show's folder, as `rollsound new` made it.
    """
    gc.disable()  # what is loaded for serving stays until the end; looking through it again and again helps nobody
    from rollsound.web.serve import serve

    serve(
        show,
        lan=lan,
        port=port,
        open_browser=open_browser,
        tls_cert=tls_cert,
        tls_key=tls_key,
        names=name,
        read_only=read_only,
        told=lambda serving: _begun(serving, json),
    )
    return 0


def _begun(serving: Serving, json: bool) -> None:
    gc.freeze()
    gc.enable()
    (_tell_program if json else _tell)(serving)


def _tell_program(serving: Serving) -> None:
    print_json(ServeResult(title=serving.desk.title(), enter_url=serving.enter_url, join_urls=serving.join_urls))
    sys.stdout.flush()


def _tell(serving: Serving) -> None:
    console = console_out()
    line(console, f"{serving.desk.title()} is open. In a browser on this machine (works once):")
    line(console, f"  {serving.enter_url}")
    if serving.desk.doors.lan:
        line(console, "Devices of the crew open one of these and give a code from the page Settings:")
        for url in serving.join_urls:
            line(console, f"  {url}")
    line(console, "Ctrl-C stops it. r and Enter shows a new address for a browser on this machine.")
    sys.stdout.flush()
    if sys.stdin is not None and sys.stdin.isatty():
        threading.Thread(target=_listen, args=(serving,), daemon=True).start()


def _listen(serving: Serving) -> None:
    for typed in sys.stdin:
        if typed.strip().lower() == "r":
            line(console_out(), f"  {serving.new_enter_url()}")
            sys.stdout.flush()
