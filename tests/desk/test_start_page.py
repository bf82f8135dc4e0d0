"""The page of an empty table: jobs of the last days with their pictures, the ways to begin, and nothing else."""

from __future__ import annotations

from PySide6.QtWidgets import QApplication

from nestplan.desk.pages.start import StartPage
from nestplan.model.files import write_hide, write_job
from tests.desk.small_work import job, laid_work, panel, sheet


def page(window) -> StartPage:
    shown = window.centre.currentWidget()
    assert isinstance(shown, StartPage)
    return shown


def test_there_are_five_ways_to_begin_and_no_panel_of_fields_nobody_can_fill_in(window):
    assert list(page(window).buttons) == [
        "Open the demo", "Photograph …", "Trace a hide", "From measures …", "Open files …",
    ]  # fmt: skip
    assert not window.side.isVisible()
    assert not window.rack.isVisible()
    window.document.add_hide(sheet())
    QApplication.processEvents()
    assert window.side.isVisible()
    assert window.rack.isVisible()


def test_recent_jobs_stand_there_by_their_names_with_pictures_and_are_opened_by_a_click(window, tmp_path):
    window.document.open(laid_work(4, sheet("oak"), step=(200, 150)), {})
    assert window.session.files.save_in(tmp_path, {})
    window.session.files.start_anew()
    QApplication.processEvents()
    (card,) = page(window).recent
    assert card.accessibleName() == "small job"
    kept = window.settings.recent_jobs
    picture = kept.picture(kept.jobs[0])
    assert picture is not None
    colors = {picture.toImage().pixelColor(x, y).name() for x in range(0, 300, 7) for y in range(0, 160, 7)}
    assert len(colors) > 3, "leather, pieces and their edges"
    card.click()
    QApplication.processEvents()
    assert len(window.document.contents.plan.placements) == 4


def test_a_job_whose_files_are_gone_is_not_offered(window, tmp_path):
    write_hide(tmp_path / "a.hide.json", sheet("a"))
    write_job(tmp_path / "j.job.json", job(panel()))
    window.session.files.open([tmp_path / "a.hide.json", tmp_path / "j.job.json"])
    (tmp_path / "a.hide.json").unlink()
    window.session.files.start_anew()
    QApplication.processEvents()
    assert page(window).recent == []


def test_files_remembered_before_jobs_had_names_are_still_offered(window, tmp_path):
    write_hide(tmp_path / "a.hide.json", sheet("a"))
    window.settings._kept.setValue("recent", str(tmp_path / "a.hide.json"))
    assert window.settings.recent_jobs.jobs[0].title == "a.hide.json"


def test_a_step_says_once_what_helps_in_it(qapp, qtbot, tmp_path):
    from nestplan.desk.window import Window

    for visit, said in ((1, True), (2, False)):
        window = Window(recovery=tmp_path / str(visit), tips=True)
        window.show()
        window.document.open(laid_work(2), {})
        window.notice.clear()
        window.go_to("plan")
        assert ("locks" in window.notice.words.text() and window.notice.isVisible()) is said
        window.document.stack.setClean()
        assert window.close()
        window.deleteLater()
