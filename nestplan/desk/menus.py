"""The menus and their keys. What each entry does belongs to the window and its parts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QMessageBox

from nestplan import __version__
from nestplan.desk.frame.step_strip import STEPS
from nestplan.desk.table.item_shapes import LAYERS
from nestplan.desk.theme import icon
from nestplan.tasks.exporting import EXPORTS, PRINTS

if TYPE_CHECKING:
    from nestplan.desk.dialogs.projector import ProjectorDialog
    from nestplan.desk.window import Window

__all__ = ["Menus"]


class Menus:
    """Builds the menu bar of a window; `actions` are by their words."""

    def __init__(self, window: Window) -> None:
        self._window = window
        self.actions: dict[str, QAction] = {}
        self._signs: dict[QAction, str] = {}
        self._file()
        self._edit()
        self._hide()
        self._piece()
        self._plan()
        self._view()
        self._help()
        window.rack.add.setMenu(self._adding())

    def _add(
        self,
        menu: QMenu,
        words: str,
        action: Callable[[], object],
        keys: str | QKeySequence = "",
        sign: str = "",
    ) -> QAction:
        made = menu.addAction(words, action)
        if keys:
            made.setShortcut(QKeySequence(keys))
        if sign:
            made.setIcon(icon(sign))
            self._signs[made] = sign
        self.actions[words.replace("&", "")] = made
        return made

    def apply_theme(self) -> None:
        """Draw the icons anew after a change of look."""
        for action, sign in self._signs.items():
            action.setIcon(icon(sign))

    def _file(self) -> None:
        files = self._window.files
        menu = self._window.menuBar().addMenu("&File")
        self._add(menu, "&New, empty table", files.start_anew, "Ctrl+N")
        self._add(menu, "&Open …", files.ask_open, "Ctrl+O", "open")
        self._add(menu, "Open a &folder …", files.ask_folder)
        self.recent = menu.addMenu("Open &again")
        self.recent.aboutToShow.connect(self._fill_recent)
        self._add(menu, "Open the &demo", files.open_demo)
        menu.addSeparator()
        self._add(menu, "&Save", files.save, "Ctrl+S", "save")
        self._add(menu, "Save in ano&ther folder …", files.save_elsewhere, "Ctrl+Shift+S")
        menu.addSeparator()
        papers = self._window.papers
        printing = menu.addMenu("&Print")
        for name, words in PRINTS.items():
            keys, sign = ("Ctrl+P", "print") if name == "cut sheet" else ("", "")
            self._add(
                printing, f"Print: {words.lower()} …", lambda name=name: papers.ask_print(name), keys, sign
            )
        out = menu.addMenu("E&xport")
        for name, kind in EXPORTS.items():
            keys = "Ctrl+Shift+P" if name == "cut sheet" else ""
            self._add(out, f"{kind.words} …", lambda name=name: papers.ask_export(name), keys)
        self._add(out, "Comparison of the hides, into a folder …", papers.ask_comparison)
        self._window.choose_panel.paper_wanted.connect(papers.ask_comparison)
        sizes = menu.addMenu("Pape&r")
        self._choice(
            sizes, {"a4": "A4", "letter": "Letter", "a3": "A3"}, self._window.settings.paper, "paper"
        )
        menu.addSeparator()
        self._add(menu, "&Quit", self._window.close, "Ctrl+Q")

    def _fill_recent(self) -> None:
        self.recent.clear()
        for entry in self._window.settings.recent:
            first = Path(entry[0])
            more = f" and {len(entry) - 1} more" if len(entry) > 1 else ""
            action = self.recent.addAction(
                f"{first.name}{more}",
                lambda entry=entry: self._window.files.open([Path(file) for file in entry]),
            )
            action.setToolTip("\n".join(entry))
        if self.recent.isEmpty():
            self.recent.addAction("Nothing opened yet").setEnabled(False)

    def _edit(self) -> None:
        stack = self._window.document.stack
        menu = self._window.menuBar().addMenu("&Edit")
        undo = stack.createUndoAction(self._window, "&Undo")
        undo.setShortcut(QKeySequence.StandardKey.Undo)
        redo = stack.createRedoAction(self._window, "&Redo")
        redo.setShortcuts([QKeySequence("Ctrl+Shift+Z"), QKeySequence("Ctrl+Y")])
        for action, sign in ((undo, "undo"), (redo, "redo")):
            action.setIcon(icon(sign))
            self._signs[action] = sign
            menu.addAction(action)
        self.actions["Undo"], self.actions["Redo"] = undo, redo

    def _adding(self) -> QMenu:
        window = self._window
        menu = QMenu(window)
        menu.addAction("Trace one on the table", window.trace_hide)
        menu.addAction("From a photograph …", window.files.ask_photo)
        menu.addAction("From measures …", window.files.ask_measures)
        menu.addAction("From a drawing file …", window.files.ask_hide_drawing)
        menu.addAction("Open hide files …", window.files.ask_open)
        return menu

    def _hide(self) -> None:
        window, editor = self._window, self._window.hides
        menu = window.menuBar().addMenu("&Hide")

        def on_hide(action: Callable[[], object]) -> Callable[[], None]:
            def act() -> None:
                window.go_to("hides")
                action()

            return act

        self._add(menu, "&Trace a new hide", window.trace_hide, "Ctrl+H", "trace")
        self._add(menu, "From a &photograph …", window.files.ask_photo, "", "photo")
        self._add(menu, "From &measures …", window.files.ask_measures, "", "measures")
        self._add(menu, "From a &drawing file …", window.files.ask_hide_drawing)
        menu.addSeparator()
        self._add(menu, "&Change points", on_hide(editor.edit_points), "Ctrl+E", "points")
        self._add(menu, "Trace the &outline again", on_hide(editor.trace_outline))
        self._add(menu, "Round &flaw", on_hide(lambda: editor.draw_flaw("disc")), "Ctrl+D", "disc")
        self._add(menu, "&Line flaw", on_hide(lambda: editor.draw_flaw("line")), "Ctrl+L", "line")
        self._add(
            menu, "Flaw &with an outline", on_hide(lambda: editor.draw_flaw("outline")), "Ctrl+F", "area"
        )
        self._add(menu, "&Region", on_hide(editor.draw_region), "Ctrl+R", "region")
        self._add(menu, "&Backbone", on_hide(editor.draw_backbone), "Ctrl+B", "backbone")
        self._add(menu, "&Stretch", on_hide(editor.draw_stretch), "", "stretch")

    def _piece(self) -> None:
        window = self._window
        menu = window.menuBar().addMenu("&Pieces")

        def on_piece(action: Callable[[], object]) -> Callable[[], None]:
            def act() -> None:
                window.go_to("pieces")
                action()

            return act

        self._add(menu, "From &measures … ", on_piece(window.piece_panel.from_measures), "Ctrl+M", "measures")
        self._add(menu, "&Draw a piece", window.draw_piece, "Ctrl+Shift+H", "trace")
        self._add(menu, "From a drawing &file … ", window.files.ask_pieces)
        menu.addSeparator()
        self._add(menu, "Change the outline's &points", on_piece(window.pieces.edit_points), "", "points")
        self._add(menu, "Set m&arks by clicking", on_piece(window.pieces.set_marks), "Ctrl+K", "mark")

    def _plan(self) -> None:
        window = self._window
        menu = window.menuBar().addMenu("P&lan")

        def lay() -> None:
            window.go_to("plan")
            window.plan_panel.begin()

        self._add(menu, "&Lay the pieces", lay, "Ctrl+Return", "plan")
        self._add(menu, "Compare the &hides", self._compare)
        menu.addSeparator()
        for words, action, sign, key in (
            ("Lo&ck or unlock", window.plan.toggle_lock, "lock", "L"),
            ("&Turn over", window.plan.turn_over, "over", "M"),
            ("Slide to the &nearest free place", window.plan.slide_free, "slide", "F"),
            ("Take &off", window.plan.take_off, "off", "Del"),
            ("&Mark as cut", window.plan.mark_cut, "done", "Enter"),
        ):
            made = self._add(menu, words, action, "", sign)
            made.setText(f"{words}\t{key}")  # a key of the table: shown here, heard there
        menu.addSeparator()
        self._add(menu, "All is cut: put the &rest back …", window.files.book_cut)
        window.cut_panel.book.clicked.connect(lambda: window.files.book_cut())
        self._add(menu, "Under a pro&jector …", self.show_projector, "Ctrl+J")
        window.cut_panel.project.clicked.connect(lambda: self.show_projector())
        self.projector: ProjectorDialog | None = None

    def show_projector(self) -> None:
        """Open the dialog of the projector view."""
        from nestplan.desk.dialogs.projector import ProjectorDialog

        window = self._window
        window.go_to("cut")
        if self.projector is None:
            self.projector = ProjectorDialog(window.document, window.plan, window.settings, window)
        self.projector.show()
        self.projector.raise_()

    def _compare(self) -> None:
        self._window.go_to("choose")
        self._window.choose_panel.compare()

    def _view(self) -> None:
        window, settings = self._window, self._window.settings
        menu = window.menuBar().addMenu("&View")
        for number, (name, (word, _)) in enumerate(STEPS.items(), start=1):
            self._add(menu, f"Step {number}: {word}", lambda name=name: window.go_to(name), f"Ctrl+{number}")
        menu.addSeparator()
        self._add(menu, "&Fit", window.table.fit, "Ctrl+0", "fit")
        self._add(menu, "Zoom &in", lambda: window.table.zoom(1.25), "Ctrl++")
        self._add(menu, "Zoom &out", lambda: window.table.zoom(0.8), "Ctrl+-")
        self._add(menu, "&Tape measure", window.take_tape, "Ctrl+T", "tape")
        self._add(menu, "Next hide", lambda: self._next_hide(1), "Ctrl+PgDown")
        self._add(menu, "Previous hide", lambda: self._next_hide(-1), "Ctrl+PgUp")
        menu.addSeparator()
        layers = menu.addMenu("&Show")
        for name, words in LAYERS.items():
            action = layers.addAction(words)
            action.setCheckable(True)
            action.setChecked(name not in settings.hidden_layers)
            action.toggled.connect(lambda on, name=name: window.set_layer(name, on))
            self.actions[f"Show {name}"] = action
        window.head.layers.setMenu(layers)
        units = menu.addMenu("&Units")
        self._choice(units, {"mm": "Millimetres, dm²", "in": "Inches, ft²"}, settings.unit, "unit")
        look = menu.addMenu("&Look")
        looks = {"system": "As the desktop", "light": "Light", "dark": "Dark"}
        self._choice(look, looks, settings.theme, "theme")

    def _choice(self, menu: QMenu, words: dict[str, str], chosen: str, name: str) -> None:
        group = QActionGroup(menu)
        for key, text in words.items():
            action = menu.addAction(text)
            action.setCheckable(True)
            action.setChecked(key == chosen)
            action.triggered.connect(lambda _=False, key=key: setattr(self._window.settings, name, key))
            group.addAction(action)
            self.actions[text] = action

    def _next_hide(self, step: int) -> None:
        document = self._window.document
        names = [hide.name for hide in document.contents.hides]
        if document.hide is not None and names:
            document.show_hide(names[(names.index(document.hide.name) + step) % len(names)])

    def _help(self) -> None:
        window = self._window
        menu = window.menuBar().addMenu("&Help")
        self._add(menu, "&Guide", self.show_guide, "F1")
        self._add(menu, "&About nestplan", self._about)
        self._guide = None
        window.addActions([action for action in self.actions.values() if not action.shortcut().isEmpty()])

    def show_guide(self) -> None:
        """Open the guide."""
        from nestplan.desk.dialogs.guide import GuideWindow

        if self._guide is None:
            self._guide = GuideWindow(self._window)
        self._guide.show()
        self._guide.raise_()

    def _about(self) -> None:
        QMessageBox.about(
            self._window,
            "About nestplan",
            f"nestplan {__version__}\n\nPlans how to cut panels, straps and lace from irregular hides, before the "
            "knife touches leather. MIT licence.\n\nIt reminds of cautions but approves nothing: the makers' "
            "instructions, local rules and trained practice come first.",
        )
