"""Writes the scenario into this folder: python -m sample_shipments.generate."""

from pathlib import Path

from sample_shipments.generator.scenario import files

FOLDER = Path(__file__).parent


def main() -> None:
    """Write every file, and take away those that no longer belong."""
    written = {FOLDER / file.path: file.text for file in files()}
    for stale in sorted(set(data_files()) - written.keys()):
        stale.unlink()
        if not any(stale.parent.iterdir()):
            stale.parent.rmdir()
    for path, text in written.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")


def data_files() -> list[Path]:
    """Return the files of the scenario that lie in the folder."""
    return sorted([*FOLDER.glob("*/**/*.yaml"), *FOLDER.glob("*/**/*.csv")])


if __name__ == "__main__":
    main()
