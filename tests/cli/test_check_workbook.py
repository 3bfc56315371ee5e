"""`marchstone check` on a workbook says the same as on the JSON that it was written from."""

from app.exchange.profile_xlsx import write_workbook
from tests.cli.running import Shell
from tests.workbooks import with_cells
from tests.worked_profiles import five_categories


def test_a_workbook_is_checked_as_its_json_is(shell: Shell) -> None:
    document = five_categories()

    by_json = shell.run("check", shell.file("ours.json", document))
    by_sheet = shell.run("check", shell.file("ours.xlsx", write_workbook(document)))

    assert (by_sheet.code, by_sheet.out) == (by_json.code, by_json.out)


def test_a_fault_is_told_by_its_cell(shell: Shell) -> None:
    raw = with_cells(write_workbook(five_categories()), {"Categories!D2": "soon"})

    ended = shell.run("check", shell.file("ours.xlsx", raw), "--json")

    (fault,) = ended.json["errors"]
    assert ended.code == 2
    assert (fault["line"], fault["column"], fault["value"]) == (None, "Categories!D2", "soon")
