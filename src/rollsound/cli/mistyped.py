"""What is said when a command line cannot be understood: what was typed, what would do, whose help to read."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping, Sequence

from cyclopts.exceptions import (
    CoercionError,
    CycloptsError,
    MissingArgumentError,
    RepeatArgumentError,
    UnknownCommandError,
    UnusedCliTokensError,
)

_KINDS = {int: "a whole number", float: "a number"}


def words_of(
    error: CycloptsError,
    arguments: Sequence[str],
    commands: Sequence[str],
    groups: Mapping[str, Collection[str]] | None = None,
) -> str:
    """The sentence, ending with the help that answers it: the command's own where one was named."""
    asked = f"rollsound {arguments[0]}" if arguments and arguments[0] in commands else "rollsound"
    inner = (groups or {}).get(arguments[0], ()) if arguments else ()
    if inner:
        asked, commands = (
            (f"{asked} {arguments[1]}", commands)
            if arguments[1:] and arguments[1] in inner
            else (
                asked,
                list(inner),
            )
        )
    return f"{_what(error, asked, commands)} See '{asked} --help'."


def _what(error: CycloptsError, asked: str, commands: Sequence[str]) -> str:
    match error:
        case UnknownCommandError(unused_tokens=[token, *_]):
            near = difflib.get_close_matches(token, commands, n=1)
            meant = f"did you mean '{near[0]}'?" if near else f"the commands are {', '.join(commands)}."
            return f"There is no command '{token}'; {meant}"
        case MissingArgumentError(argument=argument) if argument is not None:
            named = error.keyword or next((t.keyword for t in reversed(argument.tokens) if t.keyword), None)
            if named:
                return f"'{asked}' was given {named} without anything after it."
            return f"'{asked}' needs {argument.name}, which was left out."
        case UnusedCliTokensError(unused_tokens=[*tokens]):
            spare = ", ".join(f"'{token}'" for token in tokens)
            return f"'{asked}' has no use for {spare}; put quotes around a name with spaces."
        case RepeatArgumentError(token=token):
            return f"{token.keyword} was given more than once; give it once."
        case CoercionError(token=token, target_type=kind) if token is not None and kind in _KINDS:
            return f"{token.keyword or 'The value'} needs {_KINDS[kind]}; '{token.value}' is none."
    words = " ".join(str(error).split())
    return words if words.endswith((".", "?")) else words + "."
