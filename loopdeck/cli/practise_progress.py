"""What was practised over days: a table, JSON, or a picture."""

import argparse
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from loopdeck.practice.target import Target


def report(args: argparse.Namespace, target: "Target | None") -> int:
    """Print, or draw, the progress of one target or of all."""
    from loopdeck.cli.practise import shelf_path
    from loopdeck.errors import UserError
    from loopdeck.practice.progress import read_progress

    found = read_progress(shelf_path(args), None if target is None else target.mark)
    if not found.runs:
        raise UserError(f"Nothing was practised yet{'' if target is None else f' of {target.name}'}.")
    if args.picture is not None:
        from loopdeck.cli.guard import check_picture_option

        check_picture_option(args, args.take)
        _draw(found.runs, args.picture)
    if args.json:
        import json

        print(json.dumps({"runs": found.runs, "unreadable": found.unreadable}))
        return 0
    print(table_of(found.runs))
    if found.unreadable:
        print(f"{found.unreadable} runs of the record could not be read and are left out.")
    return 0


def table_of(runs: list[dict[str, Any]]) -> str:
    """The runs as a table."""
    from loopdeck.cli.report import plain, table

    rows = []
    for run in runs:
        clean = sum(bool(one.get("clean")) for one in run["passes"])
        rows.append(
            (
                plain(run["at"][:10]),
                plain(run["target"]),
                f"{run['reached_qpm']:g}",
                f"{clean} of {len(run['passes'])}",
                plain(str(run.get("work_on", ""))),
            )
        )
    return table(rows, ("day", "riff", "clean up to", "clean passes", "work on"), right=(2,))


def _draw(runs: list[dict[str, Any]], path: str) -> None:
    """The tempo reached, run by run, a line for each riff."""
    from loopdeck.cli.pictures import INK, NOW, QUIET, new_figure, save

    figure, (plot,) = new_figure(9.0, 4.5)
    shapes = ("o-", "s--", "^-.", "D:")
    for index, mark in enumerate(dict.fromkeys(run["mark"] for run in runs)):
        own = [(place, run) for place, run in enumerate(runs) if run["mark"] == mark]
        places, tempi = [place for place, _ in own], [run["reached_qpm"] for _, run in own]
        plot.plot(places, tempi, shapes[index % len(shapes)], color=INK if index else NOW, label=own[-1][1]["target"])
    step = max(1, len(runs) // 8)
    plot.set_xticks(range(0, len(runs), step), [run["at"][:10] for run in runs[::step]], fontsize=9)
    plot.set_ylabel("clean up to (quarters a minute)", color=QUIET)
    plot.legend(frameon=False, loc="upper left")
    save(figure, path)
