"""What a refusal looks like: problem details (RFC 9457) for programs, a page for people."""

from __future__ import annotations

from dataclasses import asdict, is_dataclass
from typing import Any

from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from rollsound.errors import MistakesError, RollsoundError, StorageError
from rollsound.mistakes import place_in_words, sentence_of
from rollsound.web.faults import save_fault
from rollsound.web.rendering import render
from rollsound.web.security.doors import is_loopback
from rollsound.web.words import w

PROBLEM_TYPE = "application/problem+json"
MOST_TOLD = 200
"""Mistakes listed one by one; who has more corrects these first."""


class ProblemMistake(BaseModel):
    """One mistake in what was sent."""

    place: str
    line: int = Field(description="counts from 1; 0 where there are no lines")
    sentence: str


class ProblemClash(BaseModel, extra="allow"):
    """One field that somebody else changed in between."""

    path: str
    base: Any = None
    mine: Any = None
    theirs: Any = None
    their_person: str = ""
    their_time: str = ""


class Problem(BaseModel):
    """Why something was refused (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str = Field(description="one sentence: what, where, what to do")
    mistakes: list[ProblemMistake] | None = None
    clashes: list[ProblemClash] | None = None


PROBLEMS: dict[int | str, dict[str, Any]] = {
    "4XX": {"model": Problem, "description": "Refused; `detail` says why.", "content": {PROBLEM_TYPE: {}}},
    "5XX": {"model": Problem, "description": "A fault or a failed disk.", "content": {PROBLEM_TYPE: {}}},
}
"""Give it to every JSON router: ``APIRouter(responses=PROBLEMS)``."""


def missing(sentence: str) -> HTTPException:
    """What was asked for is not there."""
    return HTTPException(404, sentence)


def problem_of(error: Exception) -> Problem:
    """The problem behind an error that a person may be told."""
    if isinstance(error, RequestValidationError):
        told = [
            ProblemMistake(place=place_in_words(tuple(each["loc"])), line=0, sentence=sentence_of(each))
            for each in error.errors()
        ]
        return _problem("mistakes", 422, w("problems.mistakes_detail", n=len(told)), mistakes=told)
    if isinstance(error, MistakesError):
        listed = [ProblemMistake(place=m.place, line=m.line, sentence=m.sentence) for m in error.mistakes[:MOST_TOLD]]
        sentence = error.sentence
        if more := len(error.mistakes) - len(listed):
            listed.append(ProblemMistake(place="", line=0, sentence=w("problems.more_mistakes", n=more)))
            sentence = w("problems.mistakes_detail", n=len(error.mistakes))
        return _problem("mistakes", 422, sentence, mistakes=listed)
    if isinstance(error, StorageError):
        return _problem("storage", 507, error.sentence)
    if isinstance(error, RollsoundError):
        clashes = getattr(error, "clashes", None)
        if clashes is not None:
            return _problem("clash", 409, error.sentence, clashes=[_clash(each) for each in clashes])
        return _problem("input", 400, error.sentence)
    if isinstance(error, HTTPException):
        kind = {401: "unknown", 403: "forbidden", 404: "missing", 405: "method", 409: "state"}
        known = {404: w("problems.missing_detail"), 405: w("problems.method_detail")}
        plain = error.detail in ("Not Found", "Method Not Allowed")
        sentence = known.get(error.status_code, error.detail) if plain else error.detail
        return _problem(kind.get(error.status_code, "refused"), error.status_code, sentence)
    return _problem("fault", 500, w("problems.fault_detail"))


def answer_to(request: Request, error: Exception) -> Response:
    """The answer to a refused request, in the form that the asker reads."""
    problem = problem_of(error)
    headers = dict(getattr(error, "headers", None) or {})
    path: str = request.scope["path"]
    if path.startswith("/api/") or path == "/events":
        return JSONResponse(
            problem.model_dump(mode="json", exclude_none=True), problem.status, headers, media_type=PROBLEM_TYPE
        )
    if problem.status == 401 and request.method == "GET" and not _is_part(request) and path != "/join":
        return RedirectResponse("/join", 303, headers)
    template = "parts/refused.html" if _is_part(request) else "refused.html"
    framed = problem.status < 500  # what failed may be the very thing that the frame shows
    return render(request, template, problem=problem, status=problem.status, headers=headers, framed=framed)


def fault_answer(request: Request, error: Exception) -> Response:
    """The answer after a fault of ours; where its report is, is told on this machine only."""
    report = save_fault(request.method, request.scope["path"], error)
    here = request.client is not None and is_loopback(request.client.host)
    sentence = w("problems.fault_here", report=report) if here and report else w("problems.fault_detail")
    return answer_to(request, HTTPException(500, sentence))


def _is_part(request: Request) -> bool:
    return "/part/" in request.scope["path"] or request.headers.get("hx-request") == "true"


def _problem(kind: str, status: int, detail: str, **more: Any) -> Problem:
    title = w(f"problems.title_{kind}")
    return Problem(type=f"urn:rollsound:problem:{kind}", title=title, status=status, detail=_sentence(detail), **more)


def _sentence(text: str) -> str:
    return text if text.endswith((".", "?", ":")) else f"{text}."


def _clash(clash: Any) -> ProblemClash:
    plain = asdict(clash) if is_dataclass(clash) and not isinstance(clash, type) else dict(vars(clash))
    for name in ("base", "mine", "theirs"):
        value = plain.get(name)
        plain[name] = value if isinstance(value, str | int | float | bool | list | dict) else None
    plain["their_time"] = str(plain.get("their_time") or "")
    return ProblemClash(**plain)
