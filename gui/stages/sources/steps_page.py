"""The page Steps of the stage Sources: each step of the trace waits here for a name; what each thing therefore does."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QListWidgetItem

from gui.model.step_controller import StepController
from gui.model.sweep_controller import SweepController
from gui.model.visit_access import Message
from gui.model.wording import change_text, clock_text, counted, step_text
from gui.shell.prompt import Choice, Prompt
from gui.stages.sources.unlabelled_step_banner import UnlabelledStepBanner
from gui.stages.verdict_badges import confirmation_badge
from gui.widgets.appearance import Appearance, label
from gui.widgets.badge import OPEN
from gui.widgets.keys import ACTION_OF
from gui.widgets.page import TabPage
from gui.widgets.row_list import RowList
from gui.widgets.row_painter import ListHeading, ListRow
from logger.clock import NS_PER_S
from logger.sweep.confirmation import Effect, in_words, missing
from logger.sweep.labelled_steps import MATCH_S, KnownStep
from logger.visit.records.records import Source, SourceKind

CAUTION = (
    "Caution: touch no live conductor; the panel is for a licensed electrician, by local codes. Medical devices, "
    "alarms, pumps, refrigerators, telephone for emergencies stay on. Sensitive people hold no cord near them."
)

MOST_WAITING = 4
"""So many waiting steps are listed; the older ones move up as these are dealt with."""

MOST_NAMED = 40
MOST_BY_DIGIT = 9
LEAST_BY_DIGIT = 3

Item = KnownStep | Source


# long: keys, list and questions act on the one step or source that is chosen.
class StepsPage(TabPage):
    """The step that waits, above one list: further steps, circuits and cords with their effects, named steps."""

    page_name = "Steps"

    def __init__(self, sweep_controller: SweepController, appearance: Appearance) -> None:
        super().__init__(sweep_controller.controller, appearance)
        self.sweep_controller = sweep_controller
        self.step_controller = StepController(sweep_controller.controller)
        self.newest = UnlabelledStepBanner(appearance)
        self.none = label("")
        self.list = RowList(appearance)
        self.detail = label("", "small")
        self._caution = label(CAUTION, "quiet")
        self._hints = self.make_shortcuts(("Enter", "which?"), ("X", "on/off"), ("I", "ignore"), ("A", "add"), ("E", "rename"), ("K", "stays on"),
            ("P", "plugged in where"), ("N", "next spot"),
        )  # fmt: skip
        self.list.itemClicked.connect(self._clicked)
        self._items: list[Item] = []
        self._chosen: tuple[int, int] | int | None = None
        """A step (run, time) or a source (id) that was chosen by the user; None: the newest that waits."""
        self._other_way: tuple[int, int] | None = None
        """The waiting step whose likely direction the user turned round."""
        self.column.addWidget(self.newest)
        self.column.addWidget(self.none)
        self.column.addWidget(self.list, 1)
        self.column.addWidget(self.detail)
        self.column.addWidget(self._hints)
        self.column.addWidget(self._caution)
        self.column.setSpacing(6)
        self.column.setContentsMargins(18, 6, 18, 8)
        self.restyles(self.newest, self.list)
        self.refresh()

    # --- what is shown -----------------------------------------------------------------------------------

    def refresh(self) -> None:
        """See `StyledWidget`."""
        step_controller = self.step_controller
        waiting, effects = step_controller.unlabelled(), step_controller.effects()
        rest = [
            s for s in self.controller.snapshot.sources if s.id not in {source.id for source, _ in effects}
        ]
        named = step_controller.labelled()[:MOST_NAMED]
        shown: list[ListRow | ListHeading] = []
        self._items = []
        if len(waiting) > 1 or any(map(self._passed_over, waiting)):
            older = f", {len(waiting) - MOST_WAITING} older" if len(waiting) > MOST_WAITING else ""
            shown.append(ListHeading(f"Waiting for a name: {counted(len(waiting), 'step')}{older}"))
            self._items += waiting[:MOST_WAITING]
            shown += [self._waiting_row(known) for known in waiting[:MOST_WAITING]]
        if effects or rest:
            spot = self.controller.route.chosen
            shown.append(ListHeading(f"What they do at “{spot.name}”" if spot else "Circuits and cords"))
            self._items += [source for source, _ in effects] + rest
            shown += [self._source_row(source, effect) for source, effect in effects]
            shown += [self._source_row(source, None) for source in rest]
        if named:
            shown.append(ListHeading("Named steps"))
            self._items += named
            shown += [self._named_row(known) for known in named]
        at = self._at()
        self.list.show_rows(shown, at)
        self.list.setVisible(bool(shown))
        self._show_newest()
        self.detail.setText(self._detail(dict((s.id, e) for s, e in effects)))
        self.detail.setVisible(bool(self.detail.text()))
        self._make_room()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        """The keys go first where the window is too low for everything; `?` shows them too."""
        self.list.setMinimumHeight(4 * self.appearance.sizes.large)  # two rows and a heading
        needed = self.column.minimumHeightForWidth(self.width())
        keys = self._hints.height() + self.column.spacing()
        shown = not self._hints.isHidden()
        fits = needed + (0 if shown else keys) <= self.height()
        # Only when it differs: shown and hidden in one go, it would keep its place.
        if fits is not shown:
            self._hints.setVisible(fits)

    def _show_newest(self) -> None:
        step = self._target()
        self.newest.setVisible(step is not None)
        self.none.setVisible(step is None)
        if step is None:
            self.none.setText(
                "No step waits for a name. Lie still while somebody else switches: each step shows here."
            )
            return
        guess = self._guess(step)
        asks = f"{guess[0].name} {_on(guess[1])}?" if guess else "What was it? Enter names it."
        size = change_text(step.change_volts, step.found.step.u_volts)
        self.newest.show_step(size, self._clock(step), asks, step.change_volts >= 0)

    def _waiting_row(self, known: KnownStep) -> ListRow:
        guess = self._guess(known)
        small = f"{guess[0].name} {_on(guess[1])}?" if guess else "which?"
        size = change_text(known.change_volts, known.found.step.u_volts)
        return ListRow(size, "", small, self._clock(known), badge=OPEN)

    def _named_row(self, known: KnownStep) -> ListRow:
        size = change_text(known.change_volts, known.found.step.u_volts)
        return ListRow(self.step_controller.label_of(known), size, self._clock(known), quiet=known.ignored)

    def _source_row(self, source: Source, effect: Effect | None) -> ListRow:
        about = [self._about(source)]
        if source.stays:
            about.append(f"must stay on: {source.stays}")
        small = "; ".join(about)
        if effect is None:
            return ListRow(source.name, "", small, "no step yet", badge=OPEN)
        value = change_text(effect.volts, effect.u_volts)
        verdict = f"{effect.verdict} (on {effect.ons}, off {effect.offs})"
        return ListRow(source.name, value, small, verdict, badge=confirmation_badge(effect.verdict))

    def _about(self, source: Source) -> str:
        """What kind of thing it is, and what it hangs on."""
        if source.kind == "circuit":
            return "two-pole circuit" if source.two_pole else "circuit"
        circuit = self.controller.snapshot.every_source.get(source.circuit_id or 0)
        return f"cord on {circuit.name}" if circuit else "cord"

    def _detail(self, effects: dict[int, Effect]) -> str:
        """Of the chosen row, and which steps the detector has taken back."""
        lines = [self.step_controller.withdrawal_text(name) for name in self.step_controller.withdrawn()[-1:]]
        unsure = self.step_controller.newest_open()
        if unsure is not None:
            what = self.step_controller.label_of(unsure) or step_text(unsure.change_volts)
            seconds = self.step_controller.final_in_s(unsure)
            longer = f"{seconds:.0f} s more" if seconds >= 1 else "a moment more"
            lines = [f"{what} is not sure yet: leave it as it is, {longer}."]
        item = self._item() or self.step_controller.last_used_source()
        if isinstance(item, Source) and item.id in effects:
            effect = effects[item.id]
            lines.append(f"{item.name}: {in_words(effect)}. {missing(effect)}".strip())
        elif isinstance(item, KnownStep) and item.name is not None:
            lines.append("X: it was the other way round. Enter: it was something else. I ignores it.")
        return "\n".join(lines)

    def _clock(self, known: KnownStep) -> str:
        run = self.controller.snapshot.run_started_utc_ns(known.found.run_id)
        return clock_text(run + known.found.t_ns)

    # --- what is chosen ----------------------------------------------------------------------------------

    def _at(self) -> int | None:
        """The place of the chosen row; None while none is."""
        wanted = self._chosen
        if wanted is None:
            return None
        for at, item in enumerate(self._items):
            if _is_there(item, wanted):
                return at
        return None

    def _item(self) -> Item | None:
        at = self._at()
        return None if at is None else self._items[at]

    def _target(self) -> KnownStep | None:
        """The step that the next word is about: the chosen one if it waits, else the newest that does."""
        item = self._item()
        if isinstance(item, KnownStep) and item.name is None:
            return item
        return next(iter(self.step_controller.unlabelled()), None)

    def _choose(self, places: int) -> None:
        if not self._items:
            return
        at = self._at()
        start = -1 if places > 0 else len(self._items)
        to = (start if at is None else at) + places
        self._choose_item(self._items[min(max(to, 0), len(self._items) - 1)])

    def _choose_item(self, item: Item) -> None:
        self._chosen = item.id if isinstance(item, Source) else _key(item)

    def _clicked(self, item: QListWidgetItem) -> None:
        at = self.list.row_at(item)
        if at is not None:
            self._choose_item(self._items[at])
            self.refresh()

    def _guess(self, step: KnownStep) -> tuple[Source, bool] | None:
        """What a waiting step probably was: the last used source, the other way than before. None for a step that was
        passed over, such as one of a movement, unless it was chosen: one key too many must not name it.
        """
        source = self.step_controller.last_used_source()
        if source is None or (self._passed_over(step) and self._item() is not step):
            return None
        likely = self.step_controller.likely_on(source, step)
        return source, likely is not (self._other_way is not None and _near(step, self._other_way))

    def _passed_over(self, step: KnownStep) -> bool:
        """A later step has a name already."""
        named = (known for known in self.step_controller.labelled() if not known.ignored)
        return any(_key(known) > _key(step) for known in named)

    # --- keys --------------------------------------------------------------------------------------------

    def primary_action(self) -> Message | None:
        """See `Page`."""
        step = self._target()
        if step is None:
            unsure = self.step_controller.newest_open()
            if unsure is not None and self.step_controller.label_of(unsure):
                return Message(
                    f"{self.step_controller.label_of(unsure)} is not sure yet, leave it as it is",
                    refused=True,
                )
            return Message("no step waits for a name", refused=True)
        guess = self._guess(step)
        size = step_text(step.change_volts)
        return Message(f"name {size}: {guess[0].name} {_on(guess[1])}" if guess else f"asks what {size} was")

    def handle(self, name: str) -> bool:
        """See `Page`."""
        action = ACTION_OF.get(name)
        keys: dict[str, Callable[[], None]] = {
            "Return": self._ask_which,
            "X": self._turn_round,
            "I": self._ignore,
            "Shift+Del": self._ignore_all,
            "A": self._ask_kind,
            "E": self._ask_name,
            "K": self._switch_stays,
            "T": self._switch_two_pole,
            "P": self._ask_circuit,
        }
        if action == "take":
            self._name_like_last()
        elif name in keys:
            keys[name]()
        elif action == "remove":
            self._remove_or_ignore()
        elif action == "undo" and self.controller.history.last_edit() is None:
            return self.step_controller.remove_label()
        elif name in ("Down", "Up"):
            self._choose(1 if name == "Down" else -1)
        else:
            return False
        return True

    def _name_like_last(self) -> None:
        step = self._target()
        if step is None:
            self.controller.message = Message("No step waits for a name.", refused=True)
        elif guess := self._guess(step):
            self._name(step, *guess)
        else:
            self._ask_which()

    def _name(self, step: KnownStep, source: Source, turned_on: bool) -> None:
        self.step_controller.label(step, source, turned_on)
        self._chosen = self._other_way = None
        if not self.controller.message.refused:
            self.reading_taken.emit()

    def _subject(self) -> KnownStep | None:
        """The step that a key is about: the chosen one, named or not, else the one that waits."""
        item = self._item()
        return item if isinstance(item, KnownStep) else self._target()

    def _refuse(self, why: str) -> None:
        self.controller.message = Message(why, refused=True)

    def _turn_round(self) -> None:
        step = self._subject()
        if step is None:
            self._refuse("There is no step to turn round.")
        elif step.name is None:
            again = self._other_way is not None and _near(step, self._other_way)
            self._other_way = None if again else _key(step)
        elif (source := self._source_of(step)) is not None:
            self.step_controller.label(step, source, step.name.meaning == "off")

    def _source_of(self, step: KnownStep) -> Source | None:
        return self.controller.snapshot.every_source.get(step.name.source_id or 0) if step.name else None

    def _ignore(self) -> None:
        step = self._subject()
        if step is None:
            self._refuse("There is no step to ignore.")
        else:
            self.step_controller.ignore(step)
            self._chosen = None

    def _ignore_all(self) -> None:
        waiting = self.step_controller.unlabelled()
        if waiting:
            self.step_controller.ignore(*waiting)
        else:
            self._refuse("No step waits for a name.")

    def _ask_which(self, other_way: bool = False) -> None:
        """Ask what a step was: a digit for those used last, or the first letters of its name."""
        step = self._subject()
        if step is None:
            self._refuse("There is no step to name.")
            return

        def way(source: Source) -> bool:
            if step.name is not None and step.name.source_id is not None:
                return (step.name.meaning == "on") is not other_way
            turned = self._other_way is not None and _near(step, self._other_way)
            return self.step_controller.likely_on(source, step) is not (turned is not other_way)

        def by_name(text: str) -> None:
            source = self.step_controller.source_named(text)
            if source is not None:
                self._name(step, source, way(source))
            else:
                self._ask_new(text, step, other_way)

        sources = self.step_controller.sources_by_use()[: self._most_by_digit()]
        answers = [
            Choice(str(n), f"{s.name} {_on(way(s))}", partial(self._name_as, step, s, way))
            for n, s in enumerate(sources, 1)
        ]
        if sources:
            answers.append(Choice("Tab", "the other way round", partial(self._ask_which, not other_way)))
        self.prompt_requested.emit(
            Prompt(
                f"What was {change_text(step.change_volts, step.found.step.u_volts)} at {self._clock(step)}?",
                "A number, or the first letters of a name; a new name is added.",
                tuple(answers),
                on_text=by_name,
                enter_text="that one",
                suggest=self.step_controller.source_names_matching,
            )
        )

    def _name_as(self, step: KnownStep, source: Source, way: Callable[[Source], bool]) -> None:
        self._name(step, source, way(source))

    def _ask_new(self, text: str, step: KnownStep, other_way: bool) -> None:
        """A name that is not on the list yet."""

        def add(kind: SourceKind) -> None:
            for source in self.sweep_controller.source_list.add(kind, text):
                stays = self.controller.message.text if source.stays else ""
                self._name(step, source, (step.change_volts > 0) is not other_way)
                if stays:
                    self.controller.message = Message(f"{self.controller.message.text}. {stays}")

        self.prompt_requested.emit(
            Prompt(
                f"What is “{text}”?",
                "It is not on the list yet.",
                (
                    Choice("Return", "a cord", partial(add, "cord")),
                    Choice("C", "a circuit (a breaker)", partial(add, "circuit")),
                ),
                escape_text="nothing: do not add it",
            )
        )

    def _most_by_digit(self) -> int:
        """As many as have room in a question at this height."""
        row = 1.75 * self.appearance.sizes.normal
        return int(min(max(self.height() / row - 8, LEAST_BY_DIGIT), MOST_BY_DIGIT))

    # --- the list ----------------------------------------------------------------------------------------

    def _chosen_source(self) -> Source | None:
        """The circuit or cord that a key is about: the chosen row's, else the last used one."""
        item = self._item()
        if isinstance(item, Source):
            return item
        found = self._source_of(item) if item is not None else self.step_controller.last_used_source()
        if found is None or all(found.id != source.id for source in self.controller.snapshot.sources):
            self._refuse("Choose a circuit or a cord first, with Up and Down; A adds one.")
            return None
        return found

    def _remove_or_ignore(self) -> None:
        item = self._item()
        if isinstance(item, Source):
            self.sweep_controller.source_list.remove(item)
            self._chosen = None
        else:
            self._ignore()

    def _switch_stays(self) -> None:
        if (source := self._chosen_source()) is not None:
            self.sweep_controller.source_list.toggle_essential(source)

    def _switch_two_pole(self) -> None:
        source = self._chosen_source()
        if source is not None and source.kind == "circuit":
            self.sweep_controller.source_list.toggle_two_pole(source)
        elif source is not None:
            self._refuse(f"“{source.name}” is a cord; only a breaker has two poles.")

    def _ask_kind(self) -> None:
        self.prompt_requested.emit(
            Prompt(
                "Add what?",
                "Names as on the panel, or as the household calls them.",
                (
                    Choice("Return", "a cord", partial(self._ask_added, "cord"), ("K", "1")),
                    Choice("C", "a circuit (a breaker)", partial(self._ask_added, "circuit"), ("2",)),
                ),
                escape_text="nothing",
            )
        )

    def _ask_added(self, kind: SourceKind) -> None:
        def add(name: str) -> None:
            if self.sweep_controller.source_list.add(kind, name):
                self._ask_added(kind)  # a panel has many

        self.prompt_requested.emit(
            Prompt(f"Name of the {kind}", "The next one follows.", on_text=add, enter_text="add it",
                     escape_text="that is all")
        )  # fmt: skip

    def _ask_name(self) -> None:
        source = self._chosen_source()
        if source is not None:
            self.prompt_requested.emit(
                Prompt(
                    f"Rename “{source.name}”",
                    on_text=partial(self.sweep_controller.source_list.rename, source),
                    prefilled=source.name,
                    enter_text="rename it",
                )
            )

    def _ask_circuit(self) -> None:
        """Ask which circuit a cord is plugged into."""
        cord = self._chosen_source()
        if cord is None:
            return
        circuits = [s for s in self.controller.snapshot.sources if s.kind == "circuit"]
        if cord.kind == "circuit" or not circuits:
            self._refuse(
                "No circuit is listed yet; A adds one."
                if cord.kind == "cord"
                else f"“{cord.name}” is a circuit; choose a cord with Up and Down."
            )
            return

        def by_name(text: str) -> None:
            circuit = next((c for c in circuits if c.name.casefold() == text.casefold()), None)
            if circuit is None:
                self._refuse(f"There is no circuit “{text}”. Nothing was changed.")
            else:
                self.sweep_controller.source_list.plug_into(cord, circuit)

        self.prompt_requested.emit(
            Prompt(
                f"Which circuit is “{cord.name}” plugged into?",
                "A number, or the first letters of its name.",
                (
                    Choice(
                        "0", "not known", partial(self.sweep_controller.source_list.plug_into, cord, None)
                    ),
                    *(
                        Choice(str(n), c.name, partial(self.sweep_controller.source_list.plug_into, cord, c))
                        for n, c in enumerate(circuits[: self._most_by_digit()], 1)
                    ),
                ),
                on_text=by_name,
                enter_text="that one",
                suggest=lambda typed: [c.name for c in circuits if typed.casefold() in c.name.casefold()],
            )
        )


def _on(turned_on: bool) -> str:
    return "on" if turned_on else "off"


def _key(step: KnownStep) -> tuple[int, int]:
    return step.found.run_id, step.found.t_ns


def _near(step: KnownStep, key: tuple[int, int]) -> bool:
    """Whether that is the step, though the detector may have placed it anew."""
    return step.found.run_id == key[0] and abs(step.found.t_ns - key[1]) <= MATCH_S * NS_PER_S


def _is_there(item: Item, wanted: tuple[int, int] | int) -> bool:
    if isinstance(item, Source):
        return item.id == wanted
    return not isinstance(wanted, int) and _near(item, wanted)
