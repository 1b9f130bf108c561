"""The list of a batch: a CSV file with a row for each job, as a spreadsheet writes it."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

from profiler.errors import InputError, RequestError
from profiler.units import parse_height_option, parse_length

MANIFEST_NAME = "jobs.csv"
COLUMNS = (
    "job", "photos", "name", "customer", "heights", "mat", "cards", "lens", "bar_x", "bar_y",
    "accept_crop",
)  # fmt: skip
NEEDED = ("job", "photos")
PHOTO_ENDINGS = (".jpg", ".jpeg", ".heic", ".heif", ".png", ".tif", ".tiff")
LONGEST_NAME = 100
#: characters that no common system allows in a folder's name
_FORBIDDEN = set('<>:"/\\|?*')


class ManifestError(InputError):
    """A list that cannot be used; `line` counts from 1, 0 for the whole."""

    def __init__(self, path: Path, line: int, what: str) -> None:
        super().__init__(f"{path}{f', line {line}' if line else ''}: {what}")
        self.path, self.line = path, line


@dataclass(frozen=True)
class Order:
    """One job to be measured; everything in it is plain, so that it travels to other machines.

    Attributes:
        job: name of its folder among the results.
        photos, mat, cards, lens: absolute paths, '' for none.
        heights: part to height and its 95 % uncertainty (None: not typed), mm.
        bars: readings of bar X and bar Y, mm, None where not read.
        output: the results' folder, absolute.
    """

    job: str
    photos: tuple[str, ...]
    output: str
    name: str = ""
    customer: str = ""
    heights: Mapping[str, tuple[float, float | None]] = field(default_factory=dict)
    mat: str = ""
    cards: str = ""
    lens: str = ""
    bars: tuple[float | None, float | None] = (None, None)
    accept_crop: bool = False
    units: str = "mm"
    inch_step: int = 64

    @property
    def folder(self) -> Path:
        """Where its results go."""
        return Path(self.output) / self.job

    def key(self) -> str:
        """The same for the same photos, records and settings, wherever they lie; else another.

        Raises:
            OSError: a photo or record cannot be read.
        """
        said = asdict(self)
        del said["output"], said["job"]
        for name in ("photos", "mat", "cards", "lens"):
            paths = said[name] if name == "photos" else [said[name]]
            said[name] = [hashlib.sha256(Path(p).read_bytes()).hexdigest() for p in paths if p]
        return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def read_manifest(path: Path, output: Path, units: str = "mm", inch_step: int = 64) -> list[Order]:
    """The orders of a list; paths in it start at the list's own folder.

    Args:
        path: the CSV file, or a folder with a `jobs.csv` in it.
        output: folder of the results.
        units: of numbers without a unit, and which unit the pages show first.

    Raises:
        ManifestError: it cannot be read, or a row makes no sense. Whether photos are there is only
            seen when they are measured.
    """
    if path.is_dir():
        path = path / MANIFEST_NAME
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise ManifestError(
            path, 0, "is not there. 'profiler batch FOLDER --plan' writes one to start from."
        ) from None
    except OSError as error:
        raise ManifestError(path, 0, f"cannot be read: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise ManifestError(path, 0, "is no UTF-8 text. Save it as 'CSV UTF-8'.") from None
    rows = _rows(path, text)
    orders = [_order(path, n, row, output, units, inch_step) for n, row in rows]
    if not orders:
        raise ManifestError(path, 0, "has no rows below its heading.")
    seen: dict[str, int] = {}
    for (line, _), order in zip(rows, orders, strict=True):
        first = seen.setdefault(order.job.casefold(), line)
        if first != line:
            raise ManifestError(path, line, f"the job '{order.job}' stands in line {first} too.")
    return orders


def plan(folder: Path) -> str:
    """A list to start from: a row for each photo in a folder and in the folders in it.

    Raises:
        RequestError: there is no photo.
    """
    if not folder.is_dir():
        raise RequestError(f"{folder} is no folder.")
    photos = sorted(
        p
        for pattern in ("*", "*/*")
        for p in folder.glob(pattern)
        if p.suffix.lower() in PHOTO_ENDINGS and p.is_file() and not p.name.startswith(".")
    )
    if not photos:
        raise RequestError(f"There is no photo in {folder}, nor in the folders in it.")
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    taken: set[str] = set()
    for photo in photos:
        own = photo.relative_to(folder)
        name = "-".join(part for part in (*own.parts[:-1], own.stem))
        name = "".join("-" if c in _FORBIDDEN or not c.isprintable() else c for c in name)
        name = name.strip(". ")[:LONGEST_NAME] or "job"
        stem, count = name, 2
        while name.casefold() in taken:
            name, count = f"{stem}-{count}", count + 1
        taken.add(name.casefold())
        writer.writerow([name, own.as_posix(), *[""] * (len(COLUMNS) - 2)])
    return out.getvalue()


def _rows(path: Path, text: str) -> list[tuple[int, dict[str, str]]]:
    """Line and cells of each row that says something."""
    heading = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=heading.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        names = [n.strip().lower().replace(" ", "_") for n in next(reader, [])]
        for name in NEEDED:
            if name not in names:
                raise ManifestError(
                    path, 1, f"has no column '{name}'. Known: {', '.join(COLUMNS)}."
                )
        for name in names:
            if name and name not in COLUMNS:
                raise ManifestError(
                    path, 1, f"no column is called '{name}'. Known: {', '.join(COLUMNS)}."
                )
        rows = []
        for cells in reader:
            if any(c.strip() for c in cells):
                if len(cells) > len(names):
                    raise ManifestError(
                        path, reader.line_num, f"{len(cells)} cells, but {len(names)} columns."
                    )
                row = {n: c.strip() for n, c in zip(names, cells, strict=False)}
                rows.append((reader.line_num, row))
    except csv.Error as error:
        raise ManifestError(path, reader.line_num, f"cannot be read as CSV: {error}.") from None
    return rows


def _order(
    path: Path, line: int, row: dict[str, str], output: Path, units: str, inch_step: int
) -> Order:
    def there(text: str) -> str:
        return str((path.parent / text).resolve()) if text else ""

    photos = tuple(there(p.strip()) for p in row["photos"].split(";") if p.strip())
    if not photos:
        raise ManifestError(path, line, "names no photo.")
    try:
        return Order(
            job=_folder_name(row["job"]),
            photos=photos,
            output=str(output.resolve()),
            name=row.get("name", ""),
            customer=row.get("customer", ""),
            heights=_heights(row.get("heights", ""), units),
            mat=there(row.get("mat", "")),
            cards=there(row.get("cards", "")),
            lens=there(row.get("lens", "")),
            bars=(_length(row.get("bar_x", ""), units), _length(row.get("bar_y", ""), units)),
            accept_crop=_yes(row.get("accept_crop", "")),
            units=units,
            inch_step=inch_step,
        )
    except RequestError as error:
        raise ManifestError(path, line, str(error)) from None


def _folder_name(text: str) -> str:
    plain = text.strip()
    if (
        not plain
        or len(plain) > LONGEST_NAME
        or plain.startswith((".", "-", "~"))
        or plain.endswith(".")
        or any(c in _FORBIDDEN or not c.isprintable() for c in plain)
    ):
        raise RequestError(
            f"'{text[:60]}' is no name for a job's folder. Take letters, numbers and dashes."
        )
    return plain


def _heights(text: str, units: str) -> dict[str, tuple[float, float | None]]:
    found: dict[str, tuple[float, float | None]] = {}
    for one in text.split(";"):
        if one.strip():
            part, mm, u95 = parse_height_option(one.strip(), units)
            if part in found:
                raise RequestError(f"the height of {part} is given twice.")
            found[part] = (mm, u95)
    return found


def _length(text: str, units: str) -> float | None:
    return parse_length(text, units) if text else None


def _yes(text: str) -> bool:
    plain = text.strip().lower()
    if plain not in ("", "yes", "no", "1", "0", "true", "false", "x"):
        raise RequestError(f"accept_crop is yes or no, not '{text[:20]}'.")
    return plain in ("yes", "1", "true", "x")
