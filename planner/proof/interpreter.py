"""The machine's modal state, block by block.

Nothing is taken for granted: units, distance mode, plane, feed mode, work offset, cutter and
tool-length compensation, and (where the controller blends) the path mode are unset until the
program sets them. Within a block the order is that of NISTIR 6556, table 8 (from memory): feed
mode, feed, speed, spindle, coolant, dwell, plane, units, compensations, offset, path mode,
distance mode, motion, stop.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.proof.dialects import (
    SUBPROGRAM_CODES,
    UNVOUCHED,
    Dialect,
    Group,
    counted_characters,
    keeps,
)
from planner.proof.events import (
    Blend,
    Coolant,
    Dwell,
    End,
    Event,
    Lost,
    Move,
    Position,
    Spindle,
    Stop,
)
from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule
from planner.proof.tokens import Block, Word

_MM_PER_INCH = 25.4
_AXIS_LETTERS = frozenset("XYZABCUVW")


class Interpreter:
    """Reads the blocks of one program; ``events`` is what came of it.

    ``axes`` maps each axis letter of the machine to whether it is rotary; its order is the order
    of the numbers in a position.
    """

    def __init__(self, dialect: Dialect, axes: Mapping[str, bool], log: FaultLog) -> None:
        self.events: list[Event] = []
        self._dialect = dialect
        self._log = log
        self._index = {letter: i for i, letter in enumerate(axes)}
        self._rotary = tuple(axes.values())
        self._rotary_at = [i for i, rotary in enumerate(self._rotary) if rotary]
        self._straight_at = [i for i, rotary in enumerate(self._rotary) if not rotary]
        self._known_letters = dialect.straight_letters | dialect.rotary_letters
        self._modal: dict[Group, str] = {}
        self._position: Position = (None,) * len(axes)
        self._scale: float | None = None
        self._feed: float | None = None
        self._feed_is_bad = False
        self._speed: float | None = None
        self._direction: str | None = None
        self._coolant: frozenset[str] = frozenset()
        self._unset_told: set[str] = set()
        self._all_set = False
        self._lost = False
        self._ended = False

    def run(self, blocks: Sequence[Block]) -> None:
        """Interpret every block; what is wrong goes to the log."""
        for block in blocks:
            if self._ended:
                if block.text.strip():
                    self._log.add(block.line, Rule.TEXT_AFTER_END)
                continue
            if not block.sound:
                self._lose(block.line)
            if block.words:
                self._block(block)
        if not self._ended:
            self._log.add(len(blocks), Rule.NO_END)
            self._lose(len(blocks))

    # -- one block ------------------------------------------------------------------------

    def _block(self, block: Block) -> None:
        line = block.line
        if len(block.text) > self._dialect.longest_line:
            characters = counted_characters(self._dialect, block.text)
            most = self._dialect.longest_line
            if characters > most:
                self._log.add(line, Rule.LINE_TOO_LONG, characters=characters, most=most)
        codes, axis_words, others = self._sorted_words(block)
        self._feed_mode(line, codes.get(Group.FEED_MODE))
        has_feed = self._feed_word(line, others.pop("F", None))
        # Most blocks are a motion and nothing else.
        if others or len(codes) > (Group.MOTION in codes):
            self._modes_and_switches(line, codes, axis_words, others)
        if Group.MOTION in codes:
            self._modal[Group.MOTION] = codes[Group.MOTION]
        if axis_words:
            self._motion(line, axis_words, has_feed)
        self._stop(line, codes.get(Group.STOP))

    def _modes_and_switches(
        self,
        line: int,
        codes: Mapping[Group, str],
        axis_words: Mapping[str, float],
        others: dict[str, Word],
    ) -> None:
        self._speed_and_spindle(line, codes.get(Group.SPINDLE), others.pop("S", None))
        self._coolant_code(line, codes.get(Group.COOLANT))
        self._dwell(line, codes, axis_words, others)
        self._units(line, codes.get(Group.UNITS))
        for group in (Group.PLANE, Group.CUTTER, Group.TOOL_LENGTH, Group.OFFSET, Group.DISTANCE):
            if group in codes:
                self._modal[group] = codes[group]
        self._path_mode(line, codes.get(Group.PATH), others)
        for letter in others:
            self._log.add(line, Rule.UNKNOWN_WORD, word=letter)

    def _sorted_words(
        self, block: Block
    ) -> tuple[dict[Group, str], dict[str, float], dict[str, Word]]:
        codes: dict[Group, str] = {}
        axis_words: dict[str, float] = {}
        others: dict[str, Word] = {}
        digits = self._dialect.digits_always_kept
        for word in block.words:
            letter = word.letter
            if len(word.text) > digits and not keeps(self._dialect, word.text, word.value):
                self._log.add(block.line, Rule.TOO_MANY_DIGITS, word=letter + word.text)
            if letter in self._index and letter in self._known_letters:
                axis_words[letter] = word.value
            elif letter in "GM":
                self._sort_code(block.line, _code_name(word), codes)
            elif letter == "N":
                self._log.add(block.line, Rule.LINE_NUMBER)
            elif letter in _AXIS_LETTERS:
                self._log.add(block.line, Rule.UNKNOWN_AXIS, letter=letter)
                self._lose(block.line)
            elif letter in self._dialect.value_letters:
                others[letter] = word
            else:
                self._log.add(block.line, Rule.UNKNOWN_WORD, word=letter)
        return codes, axis_words, others

    def _sort_code(self, line: int, code: str, codes: dict[Group, str]) -> None:
        group = self._dialect.codes.get(code)
        if group is not None:
            if group in codes:
                self._log.add(line, Rule.MODAL_GROUP_CLASH, first=codes[group], second=code)
                self._lose(line)
            codes[group] = code
            return
        if code in UNVOUCHED:
            self._log.add(line, Rule.OFFSET_CODE, code=code)
        elif code in SUBPROGRAM_CODES:
            self._log.add(line, Rule.SUBPROGRAM, word=code)
        elif code == "G91":
            self._log.add(line, Rule.INCREMENTAL)
        else:
            self._log.add(line, Rule.UNKNOWN_CODE, code=code, dialect=self._dialect.name)
        self._lose(line)

    # -- modal words, in the order in which they act -----------------------------------------

    def _feed_mode(self, line: int, code: str | None) -> None:
        if code is not None:
            if code != self._modal.get(Group.FEED_MODE):
                # Going from inverse time to feed a minute leaves F at 0 or undefined.
                self._feed = None
                self._unset_told.discard("F")
            self._modal[Group.FEED_MODE] = code

    def _feed_word(self, line: int, word: Word | None) -> bool:
        if word is None:
            return False
        self._feed_is_bad = word.value <= 0.0
        if self._feed_is_bad:
            self._log.add(line, Rule.BAD_FEED, feed=word.value)
            self._feed = None
            return True
        if Group.FEED_MODE not in self._modal:
            self._tell_unset(line, ["G93 or G94"])
        if self._scale is None:
            self._tell_unset(line, ["G20 or G21"])
        self._feed = word.value
        return True

    def _speed_and_spindle(self, line: int, code: str | None, speed: Word | None) -> None:
        if code is None and speed is None:
            return
        if speed is not None:
            if speed.value < 0.0:
                self._log.add(line, Rule.BAD_NUMBER, word=f"S{speed.text}")
            self._speed = max(speed.value, 0.0)
        if code is not None:
            self._direction = self._dialect.spindle_codes[code]
        self._emit(Spindle(line, self._direction, self._speed))

    def _coolant_code(self, line: int, code: str | None) -> None:
        if code is not None:
            off = code == self._dialect.coolant_off
            self._coolant = frozenset() if off else self._coolant | {code}
            self._emit(Coolant(line, self._coolant))

    def _dwell(
        self,
        line: int,
        codes: Mapping[Group, str],
        axis_words: Mapping[str, float],
        others: dict[str, Word],
    ) -> None:
        if Group.NON_MODAL not in codes:
            return
        if axis_words or Group.MOTION in codes or Group.PATH in codes:
            self._log.add(line, Rule.MODAL_GROUP_CLASH, first="G4", second="motion or path mode")
            self._lose(line)
        time = others.pop("P", None)
        if time is None or time.value < 0.0:
            self._log.add(line, Rule.DWELL_TIME)
        else:
            self._emit(Dwell(line, time.value * self._dialect.dwell_unit_s))

    def _units(self, line: int, code: str | None) -> None:
        if code is None:
            return
        scale = 1.0 if code == "G21" else _MM_PER_INCH
        if self._scale not in (None, scale):
            self._log.add(line, Rule.UNITS_CHANGED)
            self._lose(line)
        self._scale = scale

    def _path_mode(self, line: int, code: str | None, others: dict[str, Word]) -> None:
        if code is None:
            return
        self._modal[Group.PATH] = code
        if code != self._dialect.blend_code:
            self._emit(Blend(line, 0.0))
            return
        tolerance = others.pop("P", None)
        if tolerance is None or tolerance.value <= 0.0:
            self._log.add(line, Rule.PATH_MODE, tolerance_mm="no limit")
            return
        if self._scale is None:
            self._tell_unset(line, ["G20 or G21"])
        self._emit(Blend(line, tolerance.value * (self._scale or 1.0)))

    def _stop(self, line: int, code: str | None) -> None:
        if code is None:
            return
        if code in self._dialect.ends:
            self._ended = True
            self._emit(End(line))
        else:
            waits = code in self._dialect.waiting_stops
            turning = self._dialect.stop_leaves_wheel_turning
            self._emit(Stop(line, code, waits, turning))

    # -- motion -------------------------------------------------------------------------------

    def _motion(self, line: int, axis_words: Mapping[str, float], has_feed: bool) -> None:
        if self._lost:
            return
        code = self._modal.get(Group.MOTION)
        # What is set once stays set: it is not asked again.
        unset = [] if self._all_set else self._unset()
        self._all_set = not unset
        if code not in ("G0", "G1"):
            unset.append("G0 or G1")
        if unset:
            self._tell_unset(line, unset)
        if code not in ("G0", "G1") or self._scale is None:
            self._lose(line)
            return
        start = self._position
        end = list(start)
        for letter, value in axis_words.items():
            i = self._index[letter]
            end[i] = value if self._rotary[i] else value * self._scale
        self._position = tuple(end)
        if code == "G0":
            self._emit(Move(line, True, start, self._position, None, None))
        else:
            self._feed_move(line, start, has_feed)

    def _feed_move(self, line: int, start: Position, has_feed: bool) -> None:
        end = self._position
        inverse = self._modal.get(Group.FEED_MODE) == "G93"
        feed = self._feed
        minutes = None
        if inverse and not has_feed:
            self._log.add(line, Rule.INVERSE_FEED_MISSING)
            feed = None
        elif feed is None and not self._feed_is_bad:
            self._tell_unset(line, ["F"])
        turning = any(start[i] != end[i] for i in self._rotary_at)
        if inverse:
            minutes = None if feed is None else 1.0 / feed
            feed = None
        elif turning and any(start[i] != end[i] for i in self._straight_at):
            # Controllers differ many-fold on the speed of such a move; see docs/proof.md.
            self._log.add(line, Rule.MIXED_FEED)
            feed = None
        elif feed is not None and not turning:
            feed *= self._scale or 1.0
        self._emit(Move(line, False, start, end, feed, minutes))

    def _unset(self) -> list[str]:
        wanted = {
            Group.DISTANCE: "G90",
            Group.PLANE: "G17",
            Group.FEED_MODE: "G93 or G94",
            Group.CUTTER: "G40",
            Group.TOOL_LENGTH: "G49",
            Group.OFFSET: "G54",
        }
        if self._dialect.blends:
            wanted[Group.PATH] = "G61 or G64"
        unset = [name for group, name in wanted.items() if group not in self._modal]
        return unset if self._scale is not None else ["G20 or G21", *unset]

    def _tell_unset(self, line: int, names: list[str]) -> None:
        """Each unset state is told once: the first line that relies on it."""
        new = [name for name in names if name not in self._unset_told]
        if new:
            self._unset_told.update(new)
            self._log.add(line, Rule.UNSET_STATE, state=", ".join(new))

    # -- events ---------------------------------------------------------------------------------

    def _emit(self, event: Event) -> None:
        if not self._lost:
            self.events.append(event)

    def _lose(self, line: int) -> None:
        if not self._lost:
            self.events.append(Lost(line))
            self._lost = True


def _code_name(word: Word) -> str:
    """``G01`` and ``G1.0`` are G1."""
    number = word.text
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    return word.letter + (number.lstrip("0") or "0")
