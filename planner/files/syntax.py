"""What the YAML parser stumbles over, in words that help the writer of the file."""

from __future__ import annotations

import re

from planner.faults import Place

# The parser's problem, our words for it, what to do. Words in \\1 come from the problem.
_WORDS = (
    (
        r"found character '\\t'|\btabs?\b",
        "a tab stands where spaces are needed",
        "Indent with spaces.",
    ),
    (
        r"mapping values are not allowed",
        "a colon stands where there can be none",
        "Put a text with a colon in quotes, and check the indentation here and in the line above.",
    ),
    (r"could not find expected ':'", "a key stands here without its colon", "Write it as 'key: value'."),
    (r"but found '([\]}])'", r"\1 stands here, but no bracket is open", "Take it away."),
    (
        r"expected <block end>, but found|unindent",
        "this does not stand below the lines it belongs to",
        "Indent the keys of one mapping alike; put a whole text into quotes, not a part of it.",
    ),
    (r"end of stream", "the quote that begins here is not closed", "Close it, or leave it out."),
    (
        r"expected ',' or '(.)'",
        "the bracket that begins here is not closed, or a comma is missing in it",
        r"Close it with \1, or put a comma between its items.",
    ),
    (r"expected the node content", "a value is missing here", "Write one, and close every bracket."),
    (
        r"found character ['\"](.)['\"] that cannot start",
        r"a text cannot begin with \1",
        "Put it in quotes.",
    ),
    (
        r"unknown escape character|escape sequence",
        "a backslash in double quotes stands before something that it cannot stand before",
        "Use single quotes, or write two backslashes.",
    ),
)
_AT_ITS_BEGINNING = re.compile("end of stream|stream end|expected ',' or|expected ':'")


def syntax_fault(error: Exception, file: str) -> tuple[Place, str, str, str]:
    """Place, code, message and hint for what the parser raised."""
    problem = str(getattr(error, "problem", None) or "it makes no sense to the parser")
    marks = [getattr(error, name, None) for name in ("problem_mark", "context_mark")]
    if _AT_ITS_BEGINNING.search(problem):
        marks.reverse()  # the mistake is where the quote, bracket or key began
    mark = marks[0] or marks[1]
    place = Place(file, mark.line + 1, mark.column + 1) if mark else Place(file)
    for number, (pattern, words, hint) in enumerate(_WORDS):
        if found := re.search(pattern, problem):
            code = "yaml-syntax" if number else "tab"
            return place, code, found.expand(words), found.expand(hint)
    words = f"this is not valid YAML: {problem[:200]}"
    return place, "yaml-syntax", words, "Check the indentation here and in the line above."
