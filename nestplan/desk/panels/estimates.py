"""The other questions of the step Choose: how many sets or straps these hides give, and how much leather to buy.

The answers are those of `nestplan.estimate`, worked out off the window's thread and put into words here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QImage, QPixmap
from PySide6.QtWidgets import QCheckBox, QDialog, QVBoxLayout

from nestplan.desk.background.task import TaskControl
from nestplan.desk.controls.fields import (
    Choice,
    Field,
    LengthField,
    area_field,
    button,
    form,
    number_field,
    row_of,
    soft,
)
from nestplan.desk.document.document import Document
from nestplan.desk.panels.question import QuestionPart
from nestplan.desk.plain_text import plain_label
from nestplan.desk.sentences import buy_notes, buy_words, count_words
from nestplan.desk.settings import Settings
from nestplan.errors import InputError
from nestplan.geometry.units import read_area
from nestplan.model.anatomy import ANATOMY
from nestplan.model.job import Job

if TYPE_CHECKING:
    from nestplan.estimate.buy import BuyEstimate, BuyFigure
    from nestplan.estimate.count import Count

__all__ = ["BuyPart", "CountPart"]


class CountPart(QuestionPart):
    """How many sets each hide gives, and all together; or how many straps of one size."""

    def __init__(self, document: Document, settings: Settings, seconds: Field) -> None:
        super().__init__(
            "How many?", "Count", "So many sets surely, by a plan that was checked, and so many at most"
        )
        self._document, self._seconds = document, seconds
        self.strap_length = LengthField(
            settings,
            optional=True,
            hint="e.g. 44 in",
            tip="Count straps of this length instead of sets; or empty",
        )
        self.strap_width = LengthField(settings, optional=True, hint="e.g. 1 1/2 in", tip="The straps' width")
        self.joins = number_field(
            0,
            20,
            optional=True,
            hint="none",
            tip="Joins a strap may have, so that it is made of shorter parts",
        )
        self.any_way = QCheckBox("Straps may lie any way")
        self.any_way.setToolTip("Not only along the backbone, where leather stretches least")
        self.off_belly = QCheckBox("Straps stay off the belly")
        self.off_belly.setToolTip("Not on regions called belly: loose leather makes no strap")
        self.off_belly.setChecked(True)
        self.firmness = number_field(
            1, 5, optional=True, hint="any", tip="Straps only where the leather is at least so firm, 1 to 5"
        )
        self.ratio = Field(
            self._read_ratio,
            lambda shares: ":".join(f"{share:g}" for share in shares.values()),
            optional=True,
            hint="as the job asks",
            tip="Mixed sizes: the share of each article, in the order of step 2, such as 3:5:2",
        )
        self.column.addWidget(soft("Sets of the job, or straps where you give a size."))
        self.column.addLayout(
            form(
                ("Sizes mixed", self.ratio),
                ("Strap long", self.strap_length),
                ("Strap wide", self.strap_width),
                ("Joins", self.joins),
                ("Firmness, least", self.firmness),
            )
        )
        self.column.addWidget(self.any_way)
        self.column.addWidget(self.off_belly)
        document.job_changed.connect(lambda _: self._forget_ratio())
        self.finish_layout()

    def _read_ratio(self, words: str) -> dict[str, float]:
        from nestplan.estimate.job_variants import read_ratio

        job = self._document.contents.job
        if job is None:
            raise InputError("There must be pieces first (step 2).")
        return read_ratio(words, job)

    def _forget_ratio(self) -> None:
        """A ratio belongs to the articles it was typed for."""
        job, shares = self._document.contents.job, self.ratio.value
        if shares is not None and (job is None or [each.name for each in job.articles] != list(shares)):
            self.ratio.set_value(None)

    def ask(self) -> None:
        """Count on every open hide by itself and on all together."""
        contents = self._document.contents
        straps = self.strap_length.value is not None and self.strap_width.value is not None
        if self.running or not contents.leather or (contents.job is None and not straps):
            self.show_answer("To count there must be hides (step 1) and pieces (step 2), or a strap's size.")
            return
        if self.ratio.fault:
            self.show_answer(self.ratio.fault)
            return
        try:
            job = self._strap_job() or contents.job
        except InputError as error:
            self.failed.emit(error)
            return
        if job is None:
            return
        asked_job, hides, seconds = job, contents.leather, self._seconds.value
        ratio = None if straps else self.ratio.value
        tasks = len(hides) + (len(hides) > 1)

        def run(control: TaskControl) -> object:
            from nestplan.estimate.count import count
            from nestplan.estimate.planner import EnginePlanner
            from nestplan.tasks.estimating import open_crew

            with open_crew(tasks, seconds_each=seconds) as workers:
                return count(
                    asked_job,
                    hides,
                    ratio=ratio,
                    planner=EnginePlanner(seconds=seconds),
                    workers=workers,
                    on_done=lambda number, answer: control.report(answer),
                    cancelled=lambda: control.cancelled,
                )

        def take(counts: Sequence[Count]) -> None:
            self.show_answer("\n".join(count_words(counts, "strap" if straps else "set")))

        self.run(tasks, run, take)

    def _strap_job(self) -> Job | None:
        """A job of one strap of the size that was typed; None where none was. Raises InputError if it cannot be."""
        from nestplan.estimate.job_variants import STRAPS_OFF, strap_job

        length, width = self.strap_length.value, self.strap_width.value
        if length is None or width is None:
            return None
        joins, along = int(self.joins.value or 0), not self.any_way.isChecked()
        return strap_job(
            length,
            width,
            joins=joins,
            along_backbone=along,
            off=STRAPS_OFF if self.off_belly.isChecked() else (),
            least_firmness=int(self.firmness.value or 1),
        )


class BuyPart(QuestionPart):
    """How much leather of a kind to buy for the job before seeing it."""

    def __init__(self, document: Document, settings: Settings) -> None:
        super().__init__(
            "How much to buy?", "Work it out", "Simulates purchases of such hides and plans the job on each"
        )
        self._document, self._settings = document, settings
        self.kind = Choice(
            {kind: each.words for kind, each in ANATOMY.items()}, tip="The kind of hide you would buy"
        )
        self.kind.set_value("cow-side")
        self.layer = Choice({"": "whichever is cut from it"}, tip="The layer to buy for")
        self.sets = number_field(1, 10_000, optional=True, hint="as the job asks", tip="Sets wanted")
        self.area = area_field(
            read_area, hint="usual", tip="The usual area of one such hide: 22 ft2, 210 dm2"
        )
        self.price = number_field(
            0, 1e5, whole=False, optional=True, tip="Money for a square foot of marked area"
        )
        self.length = LengthField(
            settings,
            optional=True,
            hint="or the area",
            tip="Instead of its area, the usual length of one along the backbone",
        )
        self.enough = number_field(
            1, 99, tip="The advice: what is enough in so many of 100 purchases; more asks for more leather"
        )
        self.enough.set_value(90)
        self.trials = number_field(10, 2000, tip="Purchases simulated: more are surer and take longer")
        self.trials.set_value(60)
        self.plot = button("Show as a plot", self.show_plot, tip="Sets against the area bought")
        self.plot.hide()
        self.estimate: BuyEstimate | None = None
        self.column.addWidget(soft("For leather you have not seen: such hides are simulated, not known."))
        self.column.addLayout(
            form(
                ("Kind", self.kind),
                ("Layer", self.layer),
                ("Sets", self.sets),
                ("Area of one", self.area),
                ("or its length", self.length),
                ("Price per ft²", self.price),
                ("Enough in, of 100", self.enough),
                ("Trials", self.trials),
            )
        )
        self.finish_layout()
        self.column.addLayout(row_of(self.plot))
        document.job_changed.connect(lambda _: self._show_layers())
        self._show_layers()

    def _show_layers(self) -> None:
        job = self._document.contents.job
        names = [layer.name for layer in job.layers] if job else []
        self.layer.set_words({"": "whichever is cut from it", **{name: name for name in names}})

    def ask(self) -> None:
        """Simulate purchases."""
        job = self._document.contents.job
        if self.running or job is None:
            self.show_answer("There must be pieces first (step 2).")
            return
        from nestplan.estimate.simulate import area_from_length, usual_kind

        try:
            area = self.area.value
            if area is None and self.length.value is not None:
                area = area_from_length(self.kind.value, self.length.value)
            kind = usual_kind(self.kind.value, area=area, price=self.price.value)
        except InputError as error:
            self.failed.emit(error)
            return
        trials, sets, layer = int(self.trials.value), self.sets.value, self.layer.value or None
        share = self.enough.value / 100.0

        def run(control: TaskControl) -> object:
            from nestplan.estimate.buy import buy
            from nestplan.tasks.estimating import open_crew

            with open_crew(trials, seconds_each=0.5) as workers:
                return buy(
                    job,
                    kind,
                    sets=None if sets is None else int(sets),
                    layer=layer,
                    trials=trials,
                    share=share,
                    workers=workers,
                    on_done=lambda number, purchase: control.report(purchase),
                    cancelled=lambda: control.cancelled,
                )

        self.plot.hide()
        self.run(trials, run, self._take)

    def _take(self, estimate: BuyEstimate) -> None:
        self.estimate = estimate
        self.plot.show()
        words = [*buy_words(estimate, self._settings), *buy_notes(estimate, self._settings)]
        self.show_answer("\n".join(words))

    def show_plot(self) -> None:
        """Show the sets against the area bought, the same picture as the command line writes."""
        if self.estimate is not None:
            dialog = QDialog(self)
            dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
            dialog.setWindowTitle("Sets against leather bought")
            picture = plain_label()
            picture.setPixmap(self.plot_picture(self.estimate))
            QVBoxLayout(dialog).addWidget(picture)
            dialog.show()

    def _mark_words(self, figure: BuyFigure) -> str:
        """What a mark on the plot says: an area, or that any one hide is enough."""
        from nestplan.estimate.buying_report import mark_words

        return mark_words(figure, self._settings.area)

    def plot_picture(self, estimate: BuyEstimate) -> QPixmap:
        """The plot of an estimate as a picture."""
        from nestplan.drawing.png import png_image
        from nestplan.tasks.estimating import purchase_plot

        settings = self._settings
        page = purchase_plot(
            estimate,
            units=settings.unit,
            mark_words=self._mark_words,
            notes=buy_notes(estimate, settings),
        )
        image = png_image(page, dots_per_inch=110.0).convert("RGB")
        raw = image.tobytes()
        shown = QImage(raw, image.width, image.height, 3 * image.width, QImage.Format.Format_RGB888)
        return QPixmap.fromImage(shown.copy())
