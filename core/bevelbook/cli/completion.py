"""Completing what is typed in bash, zsh and fish: what each shell asks, and how it is answered.

A shell gets lines of a kind, a word and what it is, with tabs between: ``plain``, ``part`` (the word goes on, without a
blank), ``file`` and ``dir`` (the shell knows these better). Whatever goes wrong, it gets nothing.
"""

from __future__ import annotations

import os
import re
from typing import Any, Final

import click
from click.shell_completion import CompletionItem, ShellComplete, _resolve_context, _resolve_incomplete

from bevelbook.cli.files import StandardOutput, text_into
from bevelbook.cli.offered_words import offered
from bevelbook.cli.typed_line import TypedLine, typed_line
from bevelbook.declare.late_pattern import late_pattern

VARIABLE: Final = "_BEVELBOOK_COMPLETE"
"""In the environment: what a shell asks, such as ``bash_source`` and ``bash_complete``."""
LINE: Final = "COMP_LINE"
"""In the environment: the line up to the cursor."""
_SETTING: Final = late_pattern(r"(BEVELBOOK_[A-Z]+)=(.*)", re.DOTALL)
_LONGEST_ABOUT: Final = 70

_BASH: Final = """\
_bevelbook_completion() {
    local IFS=$'\\t' kind word about
    COMPREPLY=()
    while read -r kind word about; do
        case $kind in
            plain) COMPREPLY+=("$word") ;;
            part) COMPREPLY+=("$word"); compopt -o nospace 2>/dev/null ;;
            file) compopt -o default 2>/dev/null ;;
            dir) compopt -o dirnames 2>/dev/null ;;
        esac
    done < <(COMP_LINE="${COMP_LINE:0:COMP_POINT}" _BEVELBOOK_COMPLETE=bash_complete "$1" 2>/dev/null)
}
complete -o nosort -F _bevelbook_completion bevelbook 2>/dev/null || complete -F _bevelbook_completion bevelbook
"""
_ZSH: Final = """\
#compdef bevelbook
_bevelbook_completion() {
    local kind word about
    local -a plain plain_shown part part_shown
    while IFS=$'\\t' read -r kind word about; do
        case $kind in
            plain) plain+=("$word"); plain_shown+=("$word${about:+  -- $about}") ;;
            part) part+=("$word"); part_shown+=("$word${about:+  -- $about}") ;;
            file) compset -P '--*='; _files ;;
            dir) compset -P '--*='; _files -/ ;;
        esac
    done < <(COMP_LINE="${(j: :)words[1,CURRENT-1]} $QIPREFIX$PREFIX" _BEVELBOOK_COMPLETE=zsh_complete ${(Q)words[1]} \
        2>/dev/null)
    (( $#part )) && compadd -V part -S '' -l -d part_shown -a part
    (( $#plain )) && compadd -V plain -l -d plain_shown -a plain
}
if [[ $zsh_eval_context[-1] == loadautofunc ]]; then
    _bevelbook_completion "$@"
else
    (( $+functions[compdef] )) || { autoload -Uz compinit && compinit; }
    compdef _bevelbook_completion bevelbook
fi
"""
_FISH: Final = """\
function __bevelbook_completion
    set -l program (commandline -cpo)[1]
    set -l typed (commandline -cp | string collect)
    for line in (env COMP_LINE=$typed _BEVELBOOK_COMPLETE=fish_complete $program 2>/dev/null)
        set -l parts (string split \\t -- $line)
        switch $parts[1]
            case file dir
                set -l before (commandline -ct | string match -r '^--[a-z-]+=')
                or set before ""
                set -l path (commandline -ct | string replace -r '^--[a-z-]+=' '')
                test $parts[1] = file && set -l found (__fish_complete_path $path)
                test $parts[1] = dir && set -l found (__fish_complete_directories $path)
                printf '%s\\n' $before$found
            case '*'
                printf '%s\\t%s\\n' $parts[2] "$parts[3]"
        end
    end
end
complete --no-files --keep-order --command bevelbook --arguments '(__bevelbook_completion)'
"""


class _Completion(ShellComplete):
    """What all three shells share."""

    typed = TypedLine((), "", "", "")

    def source(self) -> str:
        return self.source_template

    def get_completion_args(self) -> tuple[list[str], str]:
        self.typed = typed_line(os.environ.get(LINE, ""))
        words = [*self.typed.words]
        while words and (setting := _SETTING.fullmatch(words[0])):
            os.environ[setting[1]] = setting[2]
            del words[0]
        return words[1:], self.typed.begun

    def get_completions(self, args: list[str], incomplete: str) -> list[CompletionItem[str]]:
        """What may be typed next: whole words, which the part that is typed begins."""
        ctx = _resolve_context(self.cli, self.ctx_args, self.prog_name, args)
        asked, begun = _resolve_incomplete(ctx, args, incomplete)
        before = incomplete.removesuffix(begun)
        found = offered(ctx, asked, begun)
        for one in found if before else ():
            one.value = before + one.value
        return found

    def format_completion(self, item: CompletionItem[Any]) -> str:
        about = " ".join((item.help or "").split())
        if len(about) > _LONGEST_ABOUT:
            about = f"{about[: _LONGEST_ABOUT - 1].rstrip()}…"
        return f"{'part' if item.is_part else item.type}\t{item.value}\t{about}"


class BashCompletion(_Completion):
    """Bash from 4.0 on: it completes the piece behind = or : alone, and puts in what it gets as it is."""

    name = "bash"
    source_template = _BASH

    def format_completion(self, item: CompletionItem[Any]) -> str:
        if item.type != "plain":
            return super().format_completion(item)
        word = self.typed.in_bash(item.value)
        return "" if word is None else f"{'part' if item.is_part else 'plain'}\t{word}\t"


class ZshCompletion(_Completion):
    """Zsh: it compares and quotes whole words itself."""

    name = "zsh"
    source_template = _ZSH


class FishCompletion(_Completion):
    """Fish: the same."""

    name = "fish"
    source_template = _FISH


SHELLS: Final = {one.name: one for one in (BashCompletion, ZshCompletion, FishCompletion)}
"""The shells by the name that they ask with."""


def answer_shell(cli: click.Command, asked: str) -> int:
    """Print what a shell asks for; the exit code."""
    shell, _, what = asked.partition("_")
    if shell not in SHELLS or what not in ("source", "complete"):
        return 2
    completion = SHELLS[shell](cli, {}, "bevelbook", VARIABLE)
    said = completion.source() if what == "source" else f"{completion.complete()}\n"
    text_into(StandardOutput(), said.lstrip("\n"))
    return 0
