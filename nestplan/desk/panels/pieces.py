"""The side panel of the step Pieces: what the job asks for, article by article, and the current piece."""

from __future__ import annotations

import msgspec
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QHBoxLayout,
    QMenu,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from nestplan.desk.controls.fields import (
    LengthField,
    button,
    form,
    heading,
    number_field,
    scrolled,
    soft,
    text_field,
)
from nestplan.desk.controls.open_dialog import open_dialog
from nestplan.desk.dialogs.measured_piece import MeasuredPieceDialog
from nestplan.desk.dialogs.sizes import SizesDialog
from nestplan.desk.document.document import Document, pieces_and_strips
from nestplan.desk.editing.piece_editor import PieceEditor
from nestplan.desk.panels.lacing import LacingPart
from nestplan.desk.panels.piece import PiecePart
from nestplan.desk.panels.strip import StripPart
from nestplan.desk.plain_text import plain_tip
from nestplan.desk.sentences import job_words, size_words
from nestplan.desk.settings import Settings
from nestplan.desk.theme import chip, current_theme
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece, Strip
from nestplan.tasks.article_sizes import SizedJob
from nestplan.tasks.job_layers import layer_in_words, read_layer
from nestplan.tasks.output_paths import free_name

__all__ = ["PiecesPanel"]


class PiecesPanel(QWidget):
    """The job's articles with their pieces and strips; what is selected is edited below."""

    def __init__(self, document: Document, editor: PieceEditor, settings: Settings) -> None:
        super().__init__()
        self._document, self._editor, self._settings = document, editor, settings
        self._title = heading("No job yet")
        self._words = soft()
        self.tree = QTreeWidget()
        self.tree.setHeaderHidden(True)
        self.tree.setRootIsDecorated(True)
        self.tree.setMinimumHeight(190)
        self.tree.setIndentation(14)
        self.tree.setAccessibleName("Articles and pieces")
        self.tree.currentItemChanged.connect(self._row)
        self.add_button = button(
            "Add …", lambda: None, tip="A piece from measures, drawn by hand or from a drawing file"
        )
        self.add_button.setMenu(self._menu())
        self.remove_button = button(
            "Delete", self._remove, tip="Delete the selected piece from the job; Undo brings it back"
        )
        self.piece = PiecePart(document, editor, settings)
        self.strip = StripPart(document, editor, settings)
        self._pages = {
            "": soft("Select a piece, or add one: the table shows it at its true size."),
            "article": self._article_page(),
            "piece": self.piece,
            "strip": self.strip,
            "job": self._job_page(),
        }
        column = QVBoxLayout()
        column.addWidget(self._title)
        column.addWidget(self._words)
        column.addWidget(self.tree)
        row = QHBoxLayout()
        row.addWidget(self.add_button)
        row.addWidget(self.remove_button)
        column.addLayout(row)
        for page in self._pages.values():
            column.addWidget(page)
        column.addStretch(1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(column))
        self._article = "\0"
        document.opened.connect(lambda: setattr(self, "_article", "\0"))
        document.job_changed.connect(self.show_job)
        document.piece_shown.connect(lambda _: self.show_job(document.contents.job))
        settings.unit_changed.connect(lambda _: self.show_job(document.contents.job))
        self.show_job(document.contents.job)

    def _menu(self) -> QMenu:
        from nestplan.desk.theme import icon

        menu = QMenu(self)
        menu.addAction(icon("measures"), "From measures …", self.from_measures)
        menu.addAction(icon("trace"), "Draw on the table", self._editor.draw_piece)
        self.import_action = menu.addAction(icon("open"), "From a drawing file …")
        self.photo_action = menu.addAction(icon("photo"), "From a photograph of templates …")
        menu.addSeparator()
        menu.addAction("New article", self._add_article)
        return menu

    def _article_page(self) -> QWidget:
        self.article_name = text_field(tip="What is made: waist belt, pouch, bag")
        self.sets = number_field(1, 100_000, tip="How many whole ones are wanted")
        self.sets.edited.connect(lambda number: self._change_article("Set how many", sets=number))
        self.article_name.edited.connect(lambda name: self._change_article("Rename the article", name=name))
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(form(("Article", self.article_name), ("How many", self.sets)))
        self.lacing = LacingPart(self._document, self._editor, self._settings)
        column.addWidget(self.lacing)
        self.size_words = soft()
        column.addWidget(self.size_words)
        self.sizes_button = button("Sizes …", self.ask_sizes, tip="Make it in other sizes, from this one")
        column.addWidget(self.sizes_button)
        column.addStretch(1)
        return page

    def _job_page(self) -> QWidget:
        self.job_name = text_field(tip="What this job is called")
        self.gap = LengthField(self._settings, tip="Left between cut shapes for the knife")
        self.useful = LengthField(self._settings, tip="What is left counts as an offcut from this width on")
        self.mates_price = number_field(
            0,
            100_000,
            whole=False,
            suffix=" mm²",
            tip="Where a piece asks for its mates near: how much offcut, in mm², a left and right nearer by 1 mm may "
            "cost; 20 is 2 dm² for a metre, 0 does not count distances",
        )
        self.mates_limit = LengthField(
            self._settings,
            tip="A left and right that ask to lie near are warned of when farther apart than this",
        )
        self.layers = text_field(
            tip="The layers an article is made of, their leather and its thickness: outer = cow side, 2-2.4 mm; "
            "lining = goat skin, sheepskin",
            hint="e.g. outer = cow side",
        )
        self.job_name.edited.connect(lambda name: self._change_job("Rename the job", name=name))
        self.gap.edited.connect(lambda mm: self._change_job("Set the gap", gap=mm))
        self.useful.edited.connect(lambda mm: self._change_job("Set the useful width", useful_width=mm))
        self.mates_price.edited.connect(
            lambda price: self._change_job("Set the price of distance", mates_price=price)
        )
        self.mates_limit.edited.connect(
            lambda mm: self._change_job("Set how far apart mates may lie", mates_limit=mm)
        )
        self.layers.edited.connect(self._change_layers)
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(
            form(
                ("Job", self.job_name),
                ("Knife gap", self.gap),
                ("Useful width", self.useful),
                ("Mates nearer by 1 mm", self.mates_price),
                ("Mates at most apart", self.mates_limit),
                ("Layers", self.layers),
            )
        )
        column.addWidget(
            soft(
                "Layers: name = kinds of leather and thickness, separated by commas; layers separated by semicolons. "
                "A layer you rename keeps its pieces."
            )
        )
        column.addStretch(1)
        return page

    def show_job(self, job: Job | None) -> None:
        """Show the job as it is now."""
        self._title.setText(job.name if job else "No job yet")
        self._words.setText(job_words(job) + "." if job else "Add a piece, or open a job file.")
        self.remove_button.setEnabled(job is not None)
        self._fill(job)
        piece = self._document.piece
        shown = ""
        if job is not None and self._article == "":
            shown = "job"
            self.job_name.set_value(job.name)
            self.gap.set_value(job.gap)
            self.useful.set_value(job.useful_width)
            self.mates_price.set_value(job.mates_price)
            self.mates_limit.set_value(job.mates_limit)
            self.layers.set_value(
                "; ".join(layer_in_words(layer, self._settings.unit) for layer in job.layers)
            )
        elif job is not None and (piece is None or self._article != "\0"):
            shown = "article"
            article = next((a for a in job.articles if a.name == self._article), job.articles[0])
            self.article_name.set_value(article.name)
            self.sets.set_value(article.sets)
            self.lacing.show_article(article)
            self.size_words.setText(size_words(article, self._settings.unit))
            self.sizes_button.setEnabled(bool(article.pieces) and not article.graded_from)
        elif isinstance(piece, Piece):
            shown = "piece"
            self.piece.show_piece(piece)
        elif isinstance(piece, Strip):
            shown = "strip"
            self.strip.show_strip(piece)
        for name, page in self._pages.items():
            page.setVisible(name == shown)

    def _fill(self, job: Job | None) -> None:
        theme = current_theme()
        self.tree.blockSignals(True)
        self.tree.clear()
        current = None
        if job is not None:
            root = _entry(self.tree, f"{job.name}", ("job", ""))
            if self._article == "":
                current = root
            for number, article in enumerate(job.articles):
                branch = _entry(root, f"{article.name} × {article.sets}", ("article", article.name))
                branch.setIcon(0, chip(theme.tints[number % len(theme.tints)]))
                if self._article == article.name:
                    current = branch
                pieces: list[Piece | Strip] = [*article.pieces, *article.strips]
                for piece in pieces:
                    leaf = _entry(branch, self._piece_words(piece), ("piece", piece.name))
                    if self._article == "\0" and self._document.piece is piece:
                        current = leaf
            self.tree.expandAll()
        if current is not None:
            self.tree.setCurrentItem(current)
        self.tree.blockSignals(False)

    def _piece_words(self, piece: Piece | Strip) -> str:
        """A piece or strip as a row of the list: its name, how many, how large."""
        if isinstance(piece, Strip):
            size = self._settings.short_size(piece.width, piece.length)
            return f"{piece.name}, {piece.count} {piece.use}, {size}"
        warned = "⚠ " if piece.warnings() else ""
        number = f"{piece.count} pair" if piece.pair else piece.count
        width, height = (float(side) for side in piece.ring.max(axis=0) - piece.ring.min(axis=0))
        return f"{warned}{piece.name}, {number}, {self._settings.short_size(width, height)}"

    def _row(self, item: QTreeWidgetItem | None, _before: object) -> None:
        if item is None:
            return
        kind, name = item.data(0, Qt.ItemDataRole.UserRole)
        if kind == "piece":
            self._article = "\0"
            self._document.show_piece(name)
        else:
            self._article = name
        self.show_job(self._document.contents.job)

    def select(self, name: str) -> None:
        """Select a piece or strip by its name."""
        self._article = "\0"
        self._document.show_piece(name)
        self.show_job(self._document.contents.job)

    def from_measures(self) -> None:
        """Ask for measures and add what comes of them."""
        dialog = MeasuredPieceDialog(self._settings, self)
        dialog.made.connect(self.add_pieces)
        open_dialog(dialog)

    def ask_sizes(self) -> None:
        """Ask for the sizes of the selected article, or of the one the selected piece belongs to."""
        job = self._document.contents.job
        article = self._drawn_article(job)
        if job is None or article is None:
            self._editor.notified.emit("There is no article with pieces to make in other sizes.")
            return
        dialog = SizesDialog(job, article, self._settings, self)
        dialog.made.connect(self._set_sizes)
        open_dialog(dialog)

    def _drawn_article(self, job: Job | None) -> Article | None:
        """The article selected, or that of the selected piece; of one that is a size, the drawn one."""
        if job is None:
            return None
        piece = self._document.piece
        selected = next((a for a in job.articles if a.name == self._article), None) or next(
            (a for a in job.articles if piece in (*a.pieces, *a.strips)), job.articles[0]
        )
        drawn = next((a for a in job.articles if a.name == selected.graded_from), selected)
        return drawn if drawn.pieces else None

    def _set_sizes(self, sized: SizedJob) -> None:
        if self._article not in ("", "\0"):
            self._article = sized.drawn.name
        self._document.set_sizes(sized)

    def add_pieces(self, pieces: tuple[Piece | Strip, ...]) -> None:
        """Add pieces or strips to the current article, and show the last one."""
        self._article = "\0"
        self._editor.add_pieces(pieces)
        self.show_job(self._document.contents.job)

    def _add_article(self) -> None:
        job = self._document.contents.job
        if job is None:
            self.from_measures()
            return
        name = free_name("Article", [article.name for article in job.articles])
        taken = [piece.name for piece in pieces_and_strips(job)]
        piece = Piece(
            name=free_name("panel", taken),
            outline=((0, 0), (200, 0), (200, 100), (0, 100)),
            cuts=self._editor.usual_cuts(),
        )
        self._article = name
        after = msgspec.structs.replace(
            job, articles=(*job.articles, Article(name=name, sets=1, pieces=(piece,)))
        )
        self._document.edit_job(f"Add {name}", after)

    def _remove(self) -> None:
        job = self._document.contents.job
        if job is None:
            return
        if self._article == "\0":
            self._editor.remove_piece()
        elif self._article and len(job.articles) > 1:
            articles = tuple(article for article in job.articles if article.name != self._article)
            self._document.edit_job(
                f"Delete {self._article}", msgspec.structs.replace(job, articles=articles)
            )
        self._article = self._article if self._article == "\0" else ""
        self.show_job(self._document.contents.job)

    def _change_article(self, words: str, **fields: object) -> None:
        job, name = self._document.contents.job, self._article
        if job is None:
            return

        def change() -> None:
            articles = tuple(
                msgspec.structs.replace(article, **fields) if article.name == name else article
                for article in job.articles
            )
            after = msgspec.structs.replace(job, articles=articles)
            self._article = str(fields.get("name", name))
            self._document.edit_job(words, after)

        if not self._editor.attempt(change):
            self._article = name

    def _change_job(self, words: str, **fields: object) -> None:
        job = self._document.contents.job
        if job is not None:
            self._editor.attempt(
                lambda: self._document.edit_job(words, msgspec.structs.replace(job, **fields))
            )

    def _change_layers(self, words: str) -> None:
        job = self._document.contents.job
        if job is None:
            return
        units = self._settings.unit
        known = {layer_in_words(layer, units): layer for layer in job.layers}
        hides = {layer.name: layer.hides for layer in job.layers}

        def change() -> None:
            layers = []
            for part in filter(None, (part.strip() for part in words.split(";"))):
                read = known.get(part) or read_layer(part)
                layers.append(msgspec.structs.replace(read, hides=hides.get(read.name, ())))
            self._document.set_layers(layers)

        self._editor.attempt(change)


def _entry(parent: QTreeWidget | QTreeWidgetItem, words: str, key: tuple[str, str]) -> QTreeWidgetItem:
    item = QTreeWidgetItem(parent, [words])
    item.setData(0, Qt.ItemDataRole.UserRole, key)
    item.setToolTip(0, plain_tip(words))
    return item
