"""The page Steps of the stage Sources: steps wait here for a label; what each source therefore does."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from gui.actions.menus import add_context_menu
from gui.actions.registry import ActionRegistry
from gui.actions.spoken_text import delete_hint
from gui.model.sources_work import TONIGHT, page_of_the_sweep
from gui.model.step_controller import StepController
from gui.model.sweep_controller import SweepController
from gui.model.visit_access import Message
from gui.shell.question import Choice, Question
from gui.stages.sources import source_prompts
from gui.stages.sources.step_rows import NO_STEP, StepRows, switched_text
from gui.stages.sources.step_selection import NightSteps, StepSelection
from gui.stages.sources.unlabelled_step_banner import UnlabelledStepBanner
from gui.widgets.appearance import Appearance, label
from gui.widgets.page import PrimaryAction, TabPage
from gui.widgets.row_list import RowList
from logger.sweep.labelled_steps import KnownStep
from logger.translation import marked, tr
from logger.visit.records.home_records import Source, SourceKind, Spot


# long: each key of the page is one short method here.
class StepsPage(TabPage):
    """The step without a label, above one list: further steps, circuits and cords with their effects, labelled steps.

    Args:
        sweep_controller: what the window does on the stage Sources.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    page_name = marked("Steps")
    place = "sources.steps"

    def __init__(
        self, sweep_controller: SweepController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        super().__init__(sweep_controller.controller, appearance, actions)
        self.sweep_controller = sweep_controller
        self.step_controller = StepController(sweep_controller.controller)
        self.selection = StepSelection(self.step_controller)
        self._rows = StepRows(self.controller.snapshot, self.step_controller, self.selection)
        self.banner = UnlabelledStepBanner(appearance)
        self.list = RowList(appearance, tr("Steps, circuits and cords"))
        self.detail = label("", "small")
        """That a step was put aside, that none waits, or that one may not count yet."""
        self._all_the_same = self.make_buttons("steps.all_the_same")
        self._buttons = self.make_buttons(
            "steps.which", "steps.ignore", "steps.add",
            more=(
                "steps.reverse", "steps.spot", "steps.ignore_all", "", "steps.rename", "steps.essential",
                "steps.two_pole", "steps.circuit", "steps.remove", "", "spots.choose",
            ),
        )  # fmt: skip
        add_context_menu(
            self.list, actions, "steps.which", "steps.reverse", "steps.spot", "steps.ignore", "steps.ignore_all", "",
            "steps.rename", "steps.essential", "steps.two_pole", "steps.circuit", "", "steps.remove",
            beside_rows=("steps.add", "steps.ignore_all"),
        )  # fmt: skip
        self.list.row_model.key_hint = delete_hint("steps.remove")
        self.list.row_chosen.connect(self._choose)
        self.list.row_activated.connect(lambda _: actions.trigger("steps.which"))
        self._bind()
        self.column.addWidget(self.banner)
        self.column.addWidget(self.detail)
        self.column.addWidget(self._all_the_same)
        self.column.addWidget(self.list, 1)
        self.column.addWidget(self._buttons)
        self.column.setSpacing(6)
        self.column.setContentsMargins(18, 6, 18, 8)
        self.restyles(self.banner, self.list)
        self.refresh()

    # --- what is shown -----------------------------------------------------------------------------------

    def refresh(self) -> None:
        """See `StyledWidget`."""
        rows, self.selection.items = self._rows.rows(self.controller.route.chosen)
        self.list.show_rows(rows, self.selection.index)
        self._show_unlabelled_step()
        step = self.selection.unlabelled_step()
        # What is said of other changes would be taken for the one on the card.
        put_aside = self._rows.put_aside_text() if step is None else ""
        nothing = tr(NO_STEP) if step is None and not put_aside else ""
        self.detail.setText(
            "\n".join(
                filter(
                    None, (put_aside, self.step_controller.not_counted(), self._rows.detail(step) or nothing)
                )
            )
        )
        self.detail.setVisible(bool(self.detail.text()))
        self._all_the_same.setVisible(bool(put_aside))

    def _show_unlabelled_step(self) -> None:
        step = self.selection.unlabelled_step()
        self.banner.setVisible(step is not None)
        if step is not None:
            question = self._rows.guess_text(step, tr("What was it?"))
            when = self._rows.clock_with_mark(step)
            self.banner.show_step(
                self.controller.snapshot.step_size(step), when, question, step.change_volts >= 0
            )

    def _choose(self, row: int) -> None:
        if row < len(self.selection.items):  # the last row is the caution
            self.selection.choose(self.selection.items[row])
        self.refresh()
        self.choice_made.emit()

    # --- actions -----------------------------------------------------------------------------------------

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        step = self.selection.unlabelled_step()
        if step is None:
            unsure = self.step_controller.newest_open()
            if unsure is None or not self.step_controller.label_of(unsure):
                return self._go_on()
            why_not = tr("The change of {size} is still being measured: leave everything as it is.").format(
                size=self.controller.snapshot.step_size(unsure)
            )
            return PrimaryAction(tr("Label the change"), self._label_as_guessed, why_not, does="")
        guess = self.selection.guess(step)
        size = self.controller.snapshot.step_size(step)
        text = (
            tr("Label {size}: {what}").format(
                size=size, what=switched_text(self.controller.snapshot.shown_source(guess[0]), guess[1])
            )
            if guess
            else tr("Label the {size} change").format(size=size)
        )
        # Another change, or another name for it, is another deed.
        what = (guess[0].id, guess[1]) if guess else None
        return PrimaryAction(
            text, self._label_as_guessed, does=f"label {step.found.run_id} {step.found.t_ns} {what}"
        )

    def _go_on(self) -> PrimaryAction:
        """Where the work goes on while no step waits for a name."""
        page = page_of_the_sweep(self.controller)
        text = tr("Go on to tonight's list") if page == TONIGHT else tr("Go on to the breakers")
        return PrimaryAction(text, lambda: self.registry.trigger(page), does=page)

    def _bind(self) -> None:
        bind = self.registry.bind
        bind("steps.which", self._open_or_ask_which, self._why_no_step)
        bind("steps.all_the_same", self._ask_put_aside, self._why_none_put_aside)
        bind("steps.reverse", self._reverse, self._why_no_step)
        bind("steps.spot", self._ask_spot, self._why_no_labelled_step)
        bind("steps.ignore", self._ignore, self._why_no_step)
        bind("steps.ignore_all", self._ignore_all, self._why_none_waits)
        bind("steps.unlabel", self.step_controller.remove_label, self._why_no_label)
        bind("steps.add", self._ask_kind)
        bind("steps.rename", self._ask_name, self._why_no_source)
        bind("steps.essential", self._switch_essential, self._why_no_source)
        bind("steps.two_pole", self._switch_two_pole, self._why_no_source)
        bind("steps.circuit", self._ask_circuit, self._why_no_source)
        bind("steps.remove", self._remove_or_ignore, self._why_nothing)

    def _open_or_ask_which(self) -> None:
        """Ask what the chosen step was; the folded steps of a night are listed, or folded again."""
        if isinstance(night := self.selection.item, NightSteps):
            self.selection.open_or_close(night)
            self.refresh()
        else:
            self._ask_which()

    def _why_no_step(self) -> str:
        if self.selection.step() is not None or isinstance(self.selection.item, NightSteps):
            return ""
        return tr("There is no step to label.")

    def _why_no_labelled_step(self) -> str:
        step = self.selection.step()
        if step is not None and step.label is not None and step.label.source_id is not None:
            return ""
        return tr("Choose a step with a label first.")

    def _why_none_waits(self) -> str:
        if self.step_controller.unlabelled():
            return ""
        return self._rows.put_aside_text() or tr("There are no changes to label.")

    def _why_none_put_aside(self) -> str:
        return "" if self.step_controller.put_aside() else tr("No change was put aside.")

    def _why_no_label(self) -> str:
        return "" if self.step_controller.labelled() else tr("No step has a label.")

    def _why_no_source(self) -> str:
        return (
            "" if self._source_in_hand() is not None else tr("Choose a circuit or a cord first, or add one.")
        )

    def _why_nothing(self) -> str:
        return "" if isinstance(self.selection.item, Source) else self._why_no_step()

    def _refuse(self, why: str) -> None:
        self.controller.message = Message(why, refused=True)

    # --- labels of steps ---------------------------------------------------------------------------------

    def _label_as_guessed(self) -> None:
        step = self.selection.unlabelled_step()
        if step is None:
            self._refuse(tr("There are no changes to label."))
        elif guess := self.selection.guess(step):
            self._label_if_sure(step, *guess)
        else:
            self._ask_which()

    def _label_if_sure(
        self, step: KnownStep, source: Source, turned_on: bool, at: Spot | None = None
    ) -> None:
        """Label a step; ask first where its size is not that of the source's steps so far.

        Args:
            step: what is labelled.
            source: what was switched.
            turned_on: on, or off.
            at: where the body was by the user's word; None takes what the trace and the choice of spots say.
        """
        doubt = self.step_controller.places.size_doubt(step, source, turned_on, at)
        if not doubt:
            self._label(step, source, turned_on, at)
            return
        what = switched_text(source, turned_on)
        self.question_requested.emit(
            Question(
                tr("Was it “{what}”?").format(what=what),
                doubt,
                (
                    Choice(
                        tr("It was “{what}”").format(what=what),
                        partial(self._label, step, source, turned_on, at),
                    ),
                    Choice(tr("Something else..."), partial(self._ask_which_of, step)),
                ),
            )
        )

    def _ask_put_aside(self) -> None:
        """Ask what the newest step was that was put aside as part of what was entered."""
        for step in self.step_controller.put_aside()[:1]:
            self._ask_which_of(step)

    def _ask_which_of(self, step: KnownStep) -> None:
        self.selection.choose(step)
        self._ask_which()

    def _label(self, step: KnownStep, source: Source, turned_on: bool, at: Spot | None = None) -> bool:
        """Label a step; True where it has to be asked at which spot that was."""
        self.step_controller.label(step, source, turned_on, at)
        self.selection.clear_all()
        if self.controller.message.refused:
            return False
        self.reading_taken.emit()
        key = step.found.run_id, step.found.t_ns
        labelled = next(
            (k for k in self.step_controller.known() if (k.found.run_id, k.found.t_ns) == key), None
        )
        is_open = labelled is not None and at is None
        doubt = self.step_controller.places.doubt(labelled) if labelled is not None and is_open else ""
        if labelled is not None and doubt:
            self._ask_spot_of(labelled, doubt)
        return bool(doubt)

    def _reverse(self) -> None:
        step = self.selection.step()
        if step is None:
            self._refuse(tr("There is no step to turn round."))
        elif step.label is None:
            self.selection.reverse(step)
        elif (source := self._source_of(step)) is not None:
            self.step_controller.label(step, source, step.label.meaning == "off")

    def _ask_spot(self) -> None:
        """Ask at which spot the person was when the chosen step came."""
        if (step := self.selection.step()) is not None:
            self._ask_spot_of(step, tr("What a circuit or cord does is worked out for each spot by itself."))

    def _ask_spot_of(self, step: KnownStep, why: str) -> None:
        """Ask at which spot the person was when a step with a label came.

        Args:
            step: it.
            why: it is asked, in a sentence.
        """
        if step.label is None:
            return
        here = step.label.spot_id
        self.question_requested.emit(
            Question(
                tr("Where was the person when “{label}” came?").format(
                    label=self.step_controller.label_of(step)
                ),
                why,
                tuple(
                    Choice(
                        spot.name,
                        partial(self.step_controller.file_at, step, spot),
                        default=spot.id == here,
                    )
                    for spot in self.controller.route.indoor_spots()
                ),
            )
        )

    def _source_of(self, step: KnownStep) -> Source | None:
        return self.controller.snapshot.every_source.get(step.label.source_id or 0) if step.label else None

    def _ignore(self) -> None:
        step = self.selection.step()
        if step is None:
            self._refuse(tr("There is no step to ignore."))
        else:
            self.step_controller.ignore(step)
            self.selection.clear()

    def _ignore_all(self) -> None:
        waiting = self.step_controller.unlabelled()
        if waiting:
            self.step_controller.ignore(*waiting)
        else:
            self._refuse(tr("There are no changes to label."))

    def _ask_which(self, other_way: bool = False, at: Spot | None = None) -> None:
        """Ask what a step was: a move, one of those used last, or the first letters of another one's name.

        Args:
            other_way: on and off are swapped.
            at: where the body was by the user's word; None takes what the trace and the choice of spots say.
        """
        step = self.selection.step()
        if step is None:
            self._refuse(tr("There is no step to name."))
            return

        def turned_on(source: Source) -> bool:
            if step.label is not None and step.label.source_id is not None:
                return (step.label.meaning == "on") is not other_way
            is_reversed = self.selection.is_reversed(step) is not other_way
            return self.step_controller.likely_on(source, step) is not is_reversed

        def by_name(text: str) -> None:
            source = self.step_controller.source_named(text)
            if source is not None:
                self._label_if_sure(step, source, turned_on(source), at)
            else:
                self._ask_new(text, step, other_way, at)

        sources = self.step_controller.sources_by_use()
        choices = [*self._moves_of(step)]
        choices += [
            Choice(
                switched_text(self.controller.snapshot.shown_source(source), turned_on(source)),
                lambda source=source: self._label_if_sure(step, source, turned_on(source), at),  # type: ignore[misc]
            )
            for source in sources
        ]
        if sources:
            swap = tr("It was off, not on") if turned_on(sources[0]) else tr("It was on, not off")
            choices.append(Choice(swap, partial(self._ask_which, not other_way, at)))
        if len(self.controller.route.indoor_spots()) > 1:
            choices.append(Choice(tr("It was at another spot..."), partial(self._ask_where, other_way)))
        how = (
            tr("Choose one, or type the first letters of its name; a new name is added.")
            if sources
            else tr("Type the name of what was switched, such as “Bedside lamp”.")
        )
        self.question_requested.emit(
            Question(
                self._rows.question_text(step),
                " ".join(filter(None, (how, self.step_controller.places.text(step, at)))),
                tuple(choices),
                on_text=by_name,
                enter_text=tr("Take that name"),
                suggest=self.step_controller.source_names_matching,
            )
        )

    def _moves_of(self, step: KnownStep) -> list[Choice]:
        """The answers that a step was a move; none where no move came with it."""
        spots = self.controller.route.indoor_spots()
        gone_to = next((spot for spot in spots if spot.id == step.gone_to), None)
        if gone_to is None or step.label is not None:
            return []
        moves = [
            Choice(
                tr("Yes, I went to “{spot}”").format(spot=gone_to.name), partial(self._went, step, gone_to)
            )
        ]
        if len(spots) > 1:
            elsewhere = tr("I went to another spot...")
            moves.append(Choice(elsewhere, lambda: self._choose_spot(step, partial(self._went, step))))
        return moves

    def _went(self, step: KnownStep, spot: Spot) -> None:
        self.step_controller.went(step, spot)
        self.selection.clear()

    def _ask_where(self, other_way: bool) -> None:
        """Ask at which spot the person was when the step in hand came, then what it was."""
        if (step := self.selection.step()) is not None:
            self._choose_spot(step, lambda spot: self._ask_which(other_way, spot))

    def _choose_spot(self, step: KnownStep, then: Callable[[Spot], object]) -> None:
        """Let a spot be chosen for a step.

        Args:
            step: it.
            then: done with the spot.
        """
        self.question_requested.emit(
            Question(
                self._rows.question_text(step),
                tr("At which spot was the person then?"),
                tuple(
                    Choice(spot.name, partial(then, spot)) for spot in self.controller.route.indoor_spots()
                ),
            )
        )

    def _ask_new(self, text: str, step: KnownStep, other_way: bool, at: Spot | None) -> None:
        """Ask what a name is that is not on the list yet, and label the step by it."""

        def add(kind: SourceKind) -> None:
            asks = False
            for source in self.sweep_controller.source_list.add(kind, text):
                stays = self.controller.message.text if source.stays else ""
                asks = self._label(step, source, (step.change_volts > 0) is not other_way, at)
                if stays:
                    self.controller.message = Message(f"{self.controller.message.text}. {stays}")
            if not asks:
                source_prompts.ask_where_plugged_in(self.sweep_controller, self.question_requested.emit)

        self.question_requested.emit(source_prompts.kind_of_new_prompt(text, add))

    # --- circuits and cords ------------------------------------------------------------------------------

    def _chosen_source(self) -> Source | None:
        """The circuit or cord that an action is about; refuses where there is none."""
        source = self._source_in_hand()
        if source is None:
            self._refuse(tr("Choose a circuit or a cord first, or add one."))
        return source

    def _source_in_hand(self) -> Source | None:
        """The chosen row's circuit or cord, else the last used one."""
        item = self.selection.item
        if isinstance(item, Source):
            return item
        found = (
            self._source_of(item) if isinstance(item, KnownStep) else self.step_controller.last_used_source()
        )
        if found is None or all(found.id != source.id for source in self.controller.snapshot.sources):
            return None
        return found

    def _remove_or_ignore(self) -> None:
        item = self.selection.item
        if isinstance(item, Source):
            self.sweep_controller.source_list.remove(item)
            self.selection.clear()
        else:
            self._ignore()

    def _switch_essential(self) -> None:
        if (source := self._chosen_source()) is not None:
            self.sweep_controller.source_list.toggle_essential(source)

    def _switch_two_pole(self) -> None:
        source = self._chosen_source()
        if source is not None and source.kind == "circuit":
            self.sweep_controller.source_list.toggle_two_pole(source)
        elif source is not None:
            self._refuse(tr("“{source}” is a cord; only a breaker has two poles.").format(source=source.name))

    def _ask_kind(self) -> None:
        def ask_names(kind: SourceKind) -> None:
            ask = self.question_requested.emit
            ask(source_prompts.names_prompt(self.sweep_controller, kind, ask))

        self.question_requested.emit(source_prompts.kind_prompt(ask_names))

    def _ask_name(self) -> None:
        source = self._chosen_source()
        if source is not None:
            self.question_requested.emit(source_prompts.rename_prompt(self.sweep_controller, source))

    def _ask_circuit(self) -> None:
        """Ask which circuit a cord is plugged into."""
        cord = self._chosen_source()
        if cord is None:
            return
        circuits = [source for source in self.controller.snapshot.sources if source.kind == "circuit"]
        if cord.kind == "circuit":
            self._refuse(tr("“{cord}” is a circuit; choose a cord.").format(cord=cord.name))
        elif not circuits:
            self._refuse(tr("No circuit is listed yet. Add one first."))
        else:
            self.question_requested.emit(
                source_prompts.circuit_of_cord_prompt(self.sweep_controller, cord, circuits)
            )
