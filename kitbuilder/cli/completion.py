"""Completes `--fact NAME=VALUE` in bash, which takes a word apart at its equals sign before it asks."""

import os
import shlex
from collections.abc import Mapping


def print_values_for_bash(environment: Mapping[str, str] = os.environ) -> bool:
    """Print what may follow `NAME=`, one value a line, if that is what is being typed; else leave it to typer."""
    words = environment.get("COMP_WORDS", "").split("\n")
    at = int(environment.get("COMP_CWORD", "0"))
    words += [""] * (at + 1 - len(words))
    if words[at] == "=":
        fact, begun = words[at - 1], ""
    elif at > 1 and words[at - 1] == "=":
        fact, begun = words[at - 2], words[at]
    else:
        return False
    from kitbuilder.cli.common import complete_facts

    quote = begun[:1] if begun[:1] in ("'", '"') else ""
    plain = begun[1:] if quote else begun.replace("\\", "")
    for pair in complete_facts(f"{fact}={plain}"):
        value = pair.partition("=")[2]
        # outside quotes a space would end the word
        print(value if quote else shlex.quote(value) if set(value) & set("'\"$`\\()&;") else value.replace(" ", "\\ "))
    return True
