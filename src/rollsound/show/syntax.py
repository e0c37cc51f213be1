"""What is wrong with a text that is no document's, in words for the person who wrote it."""

from __future__ import annotations

from ruamel.yaml.error import MarkedYAMLError

# Beginnings of what the reader says, and what a person needs to hear instead.
_SENTENCES = (
    ("mapping values are not allowed", "has a second ': ' in one line; put the value in quotes"),
    ("found character '\\t'", "begins with a tab; indent with spaces"),
    ("found a tab", "begins with a tab; indent with spaces"),
    ("found unexpected end of stream", "opens a quote that is never closed; close it"),
    ("found unexpected document separator", "opens a quote that is never closed; close it"),
    ("found unknown escape", "has a backslash in double quotes; write two of them, or use single quotes"),
    ("expected escape sequence", "has a backslash in double quotes; write two of them, or use single quotes"),
    ("could not find expected ':'", "has a name without ': ' after it; write 'name: value'"),
    ("expected ',' or", "lacks a comma or a closing bracket; look at the line before, too"),
    ("did not find expected ',' or", "lacks a comma or a closing bracket; look at the line before, too"),
    ("expected <block end>", "is indented differently from its neighbours; line it up with them"),
    ("did not find expected '-' indicator", "is indented differently from its neighbours; line it up with them"),
    ("did not find expected key", "is indented differently from its neighbours; line it up with them"),
    ("block sequence entries are not allowed", "has a '- ' where none can stand; begin the list on a line of its own"),
    ("sequence entries are not allowed", "has a '- ' where none can stand; begin the list on a line of its own"),
    ("found character", "begins with a sign that has a meaning of its own; put the value in quotes"),
    ("expected the node content", "lacks a value; write it, or put it in quotes"),
    ("found undefined tag", "gives a value a type, which is not used here; take it out"),
    ("could not determine a constructor", "gives a value a type, which is not used here; take it out"),
    ("expected alphabetic", "begins with a sign that has a meaning of its own; put the value in quotes"),
    ("expected a digit", "has '|' or '>' with something behind it; put the value in quotes"),
    ("expected chomping", "has '|' or '>' with something behind it; put the value in quotes"),
    ("expected a comment or a line break", "has something behind a '|', '>' or '%'; put the value in quotes"),
    ("found duplicate anchor", "gives a place a name, which is not used here; take it out"),
    ("expected '<document start>'", "does not continue what stands above; line it up with its neighbours"),
)
_OTHERWISE = "cannot be read; look for a quote, bracket, colon or indent amiss here"


def begins_before(error: MarkedYAMLError) -> bool:
    """Whether what is amiss begins where the context does, not where reading stopped: a quote that is never closed."""
    return error.context_mark is not None and str(error.problem).startswith("found unexpected")


def sentence_of_syntax(error: MarkedYAMLError, text: str, line: int) -> str:
    """The sentence for a place where reading stopped."""
    problem = str(error.problem or "")
    lines = text.split("\n")
    here = lines[line - 1] if 0 < line <= len(lines) else ""
    if here[: len(here) - len(here.lstrip())].count("\t"):
        return "begins with a tab; indent with spaces"
    for beginning, sentence in _SENTENCES:
        if problem.startswith(beginning):
            return sentence
    return _OTHERWISE
