"""Program bytes to blocks of words and comments: strict, and by its own grammar.

A block here is what every controller of the two dialects reads in the same way. Whatever is
accepted by some and not by others (lower case, blanks inside a word, a plus sign, ``;``) is a
fault. A well-formed line, the usual case, is settled by one regular expression; only a line that
fails it is looked through character by character, to say why.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from planner.proof.faultlog import FaultLog, printable
from planner.proof.rules import Rule

LONGEST_LINE = 70
"""Characters, comments counted: below what either dialect takes (79 and 252)."""
LARGEST_NUMBER = 1e6
"""No position, feed, speed or time of these machines comes near it."""

_NUMBER = r"-?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)"
# E and O are left out: an E is the exponent of a number badly written, an O starts a subprogram.
_WELL_FORMED = re.compile(rf"(?:[A-DF-NP-Z]{_NUMBER}| |\([A-Za-z0-9 .,:=_+-]*\))*")
_WORD = re.compile(rf"([A-Z])({_NUMBER})")
_NUMBER_HERE = re.compile(_NUMBER)
_EXPONENT_HERE = re.compile(r"[eE][+-]?[0-9]")
_COMMENT = re.compile(r"\(([^()]*)\)")
_COMMENT_CHARACTERS = frozenset(
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 .,:=_+-"
)
_EXPRESSION_CHARACTERS = frozenset("#[]=<>|*")
_ACTIVE_COMMENTS = (
    *("MSG", "DEBUG", "LOG", "PRINT", "PROBEOPEN", "PROBECLOSE"),
    *("ABORT", "AXIS,", "PY,", "PYRUN", "PYRELOAD"),
)


class Word(NamedTuple):
    """A letter and its number, as text and as value."""

    letter: str
    text: str
    value: float


class Block(NamedTuple):
    """One line of a program. ``sound`` is false where its words cannot be trusted."""

    line: int
    text: str
    words: tuple[Word, ...]
    comments: tuple[str, ...]
    sound: bool


def split_lines(data: bytes) -> list[str]:
    """The lines of the program, one character a byte; the text after the last LF is a line too."""
    lines = data.decode("latin-1").split("\n")
    if lines[-1] == "":
        lines.pop()
    return lines


def read_blocks(lines: list[str], ends_in_newline: bool, log: FaultLog) -> list[Block]:
    """Tokenize every line; what is wrong with the text goes to the log."""
    blocks = [_read_block(number, text, log) for number, text in enumerate(lines, start=1)]
    if lines and not ends_in_newline:
        # A controller that is fed line by line waits for the end of its last line for ever.
        log.add(len(lines), Rule.UNENDED_LINE)
    return blocks


def _read_block(number: int, text: str, log: FaultLog) -> Block:
    if len(text) > LONGEST_LINE:
        log.add(number, Rule.LINE_TOO_LONG, characters=len(text), most=LONGEST_LINE)
    # The length is bounded before the expression runs over a hostile line.
    if len(text) <= LONGEST_LINE and _WELL_FORMED.fullmatch(text):
        if "(" in text:
            comments = tuple(_COMMENT.findall(text))
            words = _WORD.findall(_COMMENT.sub(" ", text))
        else:
            comments, words = (), _WORD.findall(text)
        sound = True
    else:
        words, comments, sound = _Diagnosis(number, text, log).run()
    for comment in comments:
        if comment.replace(" ", "").upper().startswith(_ACTIVE_COMMENTS):
            log.add(number, Rule.COMMENT_ACTIVE, comment=printable(comment))
    checked, words_sound = _checked_words(number, words, log)
    return Block(number, text, checked, comments, sound and words_sound)


def _checked_words(
    number: int, words: list[tuple[str, str]], log: FaultLog
) -> tuple[tuple[Word, ...], bool]:
    checked = []
    sound = True
    seen = set()
    for letter, text in words:
        value = float(text)
        if value == 0.0 and text[0] == "-":
            log.add(number, Rule.MINUS_ZERO, word=letter + text)
            value = 0.0
        if abs(value) > LARGEST_NUMBER:
            log.add(number, Rule.BAD_NUMBER, word=printable(letter + text))
            sound = False
        if letter not in "GM":
            if letter in seen:
                log.add(number, Rule.REPEATED_WORD, letter=letter)
                sound = False
            seen.add(letter)
        checked.append(Word(letter, text, value))
    return tuple(checked), sound


class _Diagnosis:
    """Says what is wrong with one line that is not well-formed."""

    def __init__(self, number: int, text: str, log: FaultLog) -> None:
        self.number, self.text, self.log = number, text, log
        self.words: list[tuple[str, str]] = []
        self.comments: list[str] = []
        self.sound = True

    def run(self) -> tuple[list[tuple[str, str]], tuple[str, ...], bool]:
        at = 0
        while at < len(self.text):
            character = self.text[at]
            if character == " ":
                at += 1
            elif character == "(":
                at = self._comment(at)
            elif "A" <= character <= "Z":
                at = self._word(at)
            else:
                self._stray(at)
                at += 1
        return self.words, tuple(self.comments), self.sound

    def _unsound(self, rule: Rule, **facts: str) -> None:
        self.log.add(self.number, rule, **facts)
        self.sound = False

    def _comment(self, start: int) -> int:
        end = self.text.find(")", start)
        if end < 0:
            self._unsound(Rule.COMMENT_UNCLOSED)
            end = len(self.text)
        inside = self.text[start + 1 : end]
        if "(" in inside:
            self._unsound(Rule.COMMENT_NESTED)
        for character in inside:
            if character != "(" and character not in _COMMENT_CHARACTERS:
                rule = _rule_of_byte(character) or Rule.COMMENT_CHARACTER
                self.log.add(self.number, rule, character=printable(character))
        self.comments.append(inside)
        return end + 1

    def _word(self, at: int) -> int:
        letter = self.text[at]
        if letter == "O":
            self._unsound(Rule.SUBPROGRAM, word=printable(self.text[at:]))
            return len(self.text)
        number = _NUMBER_HERE.match(self.text, at + 1)
        if number is None:
            following = self.text[at + 1 : at + 2]
            if following and following in _EXPRESSION_CHARACTERS:
                self._unsound(Rule.EXPRESSION, character=following)
            else:
                self._unsound(Rule.BAD_NUMBER, word=printable(self.text[at : at + 12]))
            return at + 1
        after = number.end()
        if _EXPONENT_HERE.match(self.text, after):
            self._unsound(Rule.EXPONENT_NUMBER, word=printable(self.text[at : after + 4]))
            return after + 2
        if letter == "E":
            self._unsound(Rule.UNKNOWN_WORD, word=letter + number.group())
        else:
            self.words.append((letter, number.group()))
        return after

    def _stray(self, at: int) -> None:
        character = self.text[at]
        rule = _rule_of_byte(character)
        if rule is not None:
            self._unsound(rule, character=printable(character))
        elif character == "/" and not self.text[:at].strip(" "):
            self._unsound(Rule.BLOCK_DELETE)
        elif character in _EXPRESSION_CHARACTERS:
            self._unsound(Rule.EXPRESSION, character=character)
        elif "a" <= character <= "z":
            self._unsound(Rule.LOWER_CASE, character=character)
        elif character in "+-.0123456789":
            self._unsound(Rule.BAD_NUMBER, word=self.text[at : at + 12])
        else:
            self._unsound(Rule.FORBIDDEN_CHARACTER, character=character)


def _rule_of_byte(character: str) -> Rule | None:
    if character > "~" and character != "\x7f":
        return Rule.NON_ASCII
    if character < " " or character == "\x7f":
        return Rule.CONTROL_CHARACTER
    return None
