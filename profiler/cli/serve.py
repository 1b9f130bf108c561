"""`profiler serve`: the whole job in a browser, at the bench and on the phone."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.shelf.common import ArchiveOption
from profiler.errors import RequestError

DEFAULT_PORT = 8765
DEFAULT_FOLDER = "profiler jobs"


def serve(
    folder: Annotated[
        Path | None,
        typer.Argument(
            metavar="FOLDER",
            help="Working folder; a job folder in it for each instrument. Default: 'profiler jobs'"
            " in your documents.",
            show_default=False,
        ),
    ] = None,
    lan: Annotated[
        bool,
        typer.Option(
            "--lan",
            help="Also let phones on the local network in, each with a code from the screen.",
            show_default=False,
        ),
    ] = False,
    port: Annotated[
        int, typer.Option(help="Where to listen; 0 takes a free one.", min=0, max=65535)
    ] = DEFAULT_PORT,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")
    ] = True,
    archive: ArchiveOption = None,
) -> None:
    """Open the bench page: photos in, look, correct, choose, print, keep.

    It is a page on this machine. Nothing leaves it, nobody else can open it unless you say --lan.
    End it with Ctrl-C; what was done is in the working folder.
    """
    from profiler.archive.place import place_of
    from profiler.web.bench import Options
    from profiler.web.serving import lan_addresses, listening
    from profiler.web.serving import serve as run

    home = _working_folder(folder)
    place = place_of(archive)
    addresses = lan_addresses() if lan else ()
    if lan and not addresses:
        raise RequestError(
            "This machine is on no local network. Connect it first, or start without --lan."
        )
    bound = listening(port, addresses)
    port = bound[0].getsockname()[1]
    address = f"http://127.0.0.1:{port}/"

    def ready() -> None:
        typer.echo(f"The bench page is at {address}")
        typer.echo(f"Jobs are in {home}")
        if lan:
            typer.echo("Phones on the local network: show the code on the page and scan it.")
        typer.echo("End with Ctrl-C.")
        if browser:
            import webbrowser

            webbrowser.open(address)

    with suppress(KeyboardInterrupt):  # that is how it is ended
        run(Options(home, place, port, lan, addresses), bound, ready)
    typer.echo("\nEnded.")


def _working_folder(folder: Path | None) -> Path:
    if folder is None:
        import platformdirs

        folder = Path(platformdirs.user_documents_dir()) / DEFAULT_FOLDER
    home = folder.expanduser().resolve()
    try:
        home.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise RequestError(f"{home} cannot be the working folder: {why}.") from None
    return home
