"""Why a photo cannot be used. Each error holds its data and says what to do next."""

from __future__ import annotations

from pathlib import Path

from profiler.errors import InputError


class PhotoError(InputError):
    """A photo that cannot be used; `path` is the file."""

    def __init__(self, path: Path, sentence: str) -> None:
        super().__init__(sentence)
        self.path = path


class PhotoMissing(PhotoError):
    def __init__(self, path: Path) -> None:
        super().__init__(path, f"There is no file {path}. Check the name and the folder.")


class PhotoUnreadable(PhotoError):
    def __init__(self, path: Path, why: str) -> None:
        super().__init__(path, f"{path} cannot be opened: {why}.")


class PhotoIsFolder(PhotoError):
    def __init__(self, path: Path) -> None:
        super().__init__(path, f"{path} is a folder. Name the photo in it.")


class PhotoEmpty(PhotoError):
    def __init__(self, path: Path) -> None:
        super().__init__(path, f"{path} is empty. Copy it from the phone again.")


class PhotoTruncated(PhotoError):
    def __init__(self, path: Path) -> None:
        super().__init__(
            path,
            f"{path} ends before the picture does, or is damaged inside. Copy it from the phone"
            " again.",
        )


class NotAPhoto(PhotoError):
    def __init__(self, path: Path) -> None:
        super().__init__(
            path, f"{path} is not a picture. JPEG, PNG, HEIC and TIFF can be measured."
        )


class PhotoFormatUnsupported(PhotoError):
    """`kind` names the format, as 'a raw photo'."""

    def __init__(self, path: Path, kind: str) -> None:
        super().__init__(
            path,
            f"{path} is {kind}, which is not read here. Export the original photo as JPEG, HEIC,"
            " PNG or TIFF at its full size, without edits.",
        )
        self.kind = kind


class PhotoTooSmall(PhotoError):
    def __init__(self, path: Path, width: int, height: int, least_mpx: float) -> None:
        super().__init__(
            path,
            f"{path} has only {width} x {height} px. Fine targets need at least {least_mpx:g}"
            " million pixels: send the original, not a preview or a copy from a chat.",
        )
        self.width, self.height = width, height


class PhotoTooLarge(PhotoError):
    def __init__(self, path: Path, width: int, height: int, most_mpx: float) -> None:
        super().__init__(
            path,
            f"{path} claims {width} x {height} px; more than {most_mpx:.0f} million pixels are not"
            " read in this format. Take the photo at the phone's normal size (12 to 50 million"
            " pixels is plenty).",
        )
        self.width, self.height = width, height


class PhotoCropped(PhotoError):
    """The picture is not the size that the camera noted in it."""

    def __init__(self, path: Path, size: tuple[int, int], noted: tuple[int, int]) -> None:
        super().__init__(
            path,
            f"{path} has {size[0]} x {size[1]} px, but the camera noted {noted[0]} x {noted[1]}: it"
            " has been cropped or resized, so the middle of the lens is no longer known. Use the"
            " untouched original, or say --accept-crop and take a larger uncertainty.",
        )
        self.size, self.noted = size, noted


class PhotoZoomed(PhotoError):
    """The phone enlarged the middle of its picture."""

    def __init__(self, path: Path, zoom: float) -> None:
        super().__init__(
            path,
            f"{path} was taken with a digital zoom of {zoom:.2f}: detail is invented and the lens"
            " is not the calibrated one. Take it again at zoom 1, or say --accept-crop and take a"
            " larger uncertainty.",
        )
        self.zoom = zoom


class MixedPhones(InputError):
    """Photos of one job that were not taken with one lens."""

    def __init__(self, first: str, other: str, what: str) -> None:
        super().__init__(
            f"{first} and {other} were not taken with the same phone and lens: {what}. Measure one"
            " job with one phone, held at the same zoom."
        )
        self.first, self.other = first, other
