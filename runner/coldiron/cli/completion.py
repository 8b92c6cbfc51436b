"""`coldiron completion`: what a shell needs to complete commands, options and shipped names."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Mapping

from coldiron.cli.arguments import commands_of, parser
from coldiron.lamp.toml_file import shipped_names
from coldiron.lessons.model import lesson_names

_BASH = """\
# coldiron: to be put into ~/.bashrc as: eval "$(coldiron completion bash)"
_coldiron() {{
    local word=${{COMP_WORDS[COMP_CWORD]}} command=${{COMP_WORDS[1]}} words
    if [ "$COMP_CWORD" -le 1 ]; then
        words="{commands}"
    else
        case $command in
{cases}
            *) words="" ;;
        esac
    fi
    local IFS=$' \\t\\n'
    COMPREPLY=($(compgen -W "$words" -- "$word"))
    [ "$COMP_CWORD" -le 1 ] || case $word in -*) ;; *) COMPREPLY+=($(compgen -f -- "$word")) ;; esac
}}
complete -o filenames -F _coldiron coldiron
"""
_ZSH = """\
# coldiron: to be put into ~/.zshrc, after compinit, as: eval "$(coldiron completion zsh)"
autoload -U +X bashcompinit && bashcompinit
"""


def main(args: argparse.Namespace) -> int:
    """Print the lines that a shell of the given kind evaluates."""
    commands = commands_of(parser())
    known = {name: _options(command) for name, command in commands.items()}
    if args.shell == "fish":
        sys.stdout.write("\n".join(_fish(commands, known)) + "\n")
        return 0
    cases = "\n".join(
        f'            {name}) words="{" ".join([*options, *_names(name)])}" ;;'
        for name, options in known.items()
    )
    text = _BASH.format(commands=" ".join([*known, "--help", "--version"]), cases=cases)
    sys.stdout.write(_ZSH + text.split("\n", 1)[1] if args.shell == "zsh" else text)
    return 0


def _options(command: argparse.ArgumentParser) -> list[str]:
    return sorted(
        option for action in command._actions for option in action.option_strings if option.startswith("--")
    )


def _names(command: str) -> list[str]:
    """Names of what is shipped that a command takes, by the word it asks for and what its help says of it."""
    found: list[str] = []
    for action in commands_of(parser())[command]._actions:
        if action.dest in ("study", "lamp", "file", "lesson") and not action.option_strings:
            told = f"{action.dest} {action.help}"
            found += shipped_names("studies") if "study" in told else []
            found += shipped_names("lamps") if "lamp" in told else []
            found += lesson_names() if "lesson" in told else []
    return found


def _fish(
    commands: Mapping[str, argparse.ArgumentParser], known: Mapping[str, Iterable[str]]
) -> Iterable[str]:
    yield "# coldiron: coldiron completion fish > ~/.config/fish/completions/coldiron.fish"
    for name, command in commands.items():
        said = (command.description or "").replace("'", "’")
        yield f"complete -c coldiron -n __fish_use_subcommand -f -a {name} -d '{said}'"
        seen = f"'__fish_seen_subcommand_from {name}'"
        for option in known[name]:
            yield f"complete -c coldiron -n {seen} -l {option.removeprefix('--')}"
        for shipped in _names(name):
            yield f"complete -c coldiron -n {seen} -a {shipped}"
