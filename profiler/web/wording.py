"""The core's sentences for the page: where they name an option, they name a field here."""

from __future__ import annotations

import re
from collections.abc import Callable

from profiler.web.caseoptions import OPTIONS
from profiler.web.cradleoptions import OPTIONS as CRADLE_OPTIONS

Rule = tuple[re.Pattern[str], str | Callable[[re.Match[str]], str]]

_COMMAND = r"'profiler (?:--\w+ )?{}[^']*'"


def _label(match: re.Match[str]) -> str:
    name = match["name"].replace("-", "_")
    option = OPTIONS.get(name) or CRADLE_OPTIONS.get(name)
    words = option.label if option is not None else match["name"].replace("-", " ")
    return f"“{words}”"


_RULES: tuple[Rule, ...] = (
    (
        re.compile(r"Give it as --side .*, and the photos from above without it\."),
        "A job has one photo from the side, and at least one from above.",
    ),
    (
        re.compile(r"Print the row with 'profiler mat\s+--upright', tape"),
        "Print the row where the mat is printed, tape",
    ),
    (
        re.compile(r"a row that 'profiler mat --upright' prints\. Put upright\.json"),
        "a row of this program. Add upright.json",
    ),
    (re.compile(r"[Gg]ive --height [\w-]+=… to be sure"), "Type its height to be sure"),
    (re.compile(r"give\s+--height [\w-]+=…"), "type its height"),
    (re.compile(r"give it as --height [\w-]+=…"), "type it under Heights"),
    (
        re.compile(r"--height (?P<part>[\w-]+)=(?P<mm>[\d.]+)mm cannot be"),
        r"A height of \g<mm> mm for the \g<part> cannot be",
    ),
    (re.compile(r"Say --height button=0"), "Type 0 as the height of the button"),
    (re.compile(r"--height button=0"), "0 typed as the height of the button"),
    (re.compile(r"--height (?P<part>[a-z-]+)"), r"the height of the \g<part>"),
    (re.compile(r"give --bar-x and --bar-y"), "type what it reads, where the mat is printed"),
    (re.compile(r"--bar-x and --bar-y"), "The readings of both bars"),
    (re.compile(r"Give the record that was written with this mat \(--mat\)"), "Use its own record"),
    (re.compile(r"say --accept-crop"), "let cropped photos in for this job"),
    (
        re.compile(r"Say --revision-of \d+ if this is the same one, or --another if.*second\."),
        "Say whether it is the same one measured again, or a second one.",
    ),
    (re.compile(r", or say --force to\s+replace (?:it|its results)"), ""),
    (re.compile(r" and measure again with --force"), " and measure again"),
    (re.compile(r"take one with 'profiler section'"), "add one under “Neck's sections”"),
    (re.compile(r"add them with " + _COMMAND.format("headstock")), "add them under “Headstock”"),
    (re.compile(r"pegs included: " + _COMMAND.format("headstock")), "pegs included"),
    (re.compile(r"'profiler case' of the same job"), "The case of the same job"),
    (re.compile(r"beside the tail \(--side\)"), "beside the tail"),
    (re.compile(r" \(--gauge\)\."), ", and take its photo."),
    (re.compile(r"a photo \(--gauge, --tracing\) or a shape \(--shape\)"), "a photo or a shape"),
    (re.compile(r"the right station \(--at\)"), "the right station"),
    (re.compile(r" \(--at (?:'[^']*'|\w+)=…\)"), ""),
    (re.compile(r"move (one|it) \(--at\)"), r"move \1"),
    (re.compile(r"\(--lining body=foam:…\)"), "(its thickness under “Under the body”)"),
    (re.compile(r"a wider case \(--clearance of the case\)"), "a wider case"),
    (re.compile(_COMMAND.format("mat --tint")), "print it where the mat is printed"),
    (re.compile(r"printed by\s+" + _COMMAND.format("mat")), "of this program"),
    (re.compile(_COMMAND.format("archive list") + r" shows all\."), "The list shows all."),
    (re.compile(_COMMAND.format("archive add JOB") + r" begins one[^.]*\."), "Keep a job in it."),
    (re.compile(r"\b(?:give it here as|give) --height \d+mm"), "type it as “Thickest height”"),
    (re.compile(r"--(?P<name>[a-z][a-z-]+)"), _label),
    (re.compile(r"('profiler (?!serve\b)[^']+')"), r"\1 on the command line"),
)


def for_page(sentence: str) -> str:
    """The same sentence for somebody who sees a page and types no options."""
    if "--" not in sentence and "'profiler" not in sentence:
        return sentence
    for pattern, instead in _RULES:
        sentence = pattern.sub(instead, sentence)
    return sentence
