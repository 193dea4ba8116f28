"""What is left to do in a language: counted, and as pages ready to be filled in."""

from __future__ import annotations

import click

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.texts import all_texts, book_of, left_to_do, translated
from keyhook.cli.options import said_plainly
from keyhook.cli.render import as_json
from keyhook.phrases import LANGUAGES, phrase_book

#: Languages that are made from English.
OTHERS = tuple(language for language in LANGUAGES if language != "en")


@click.command()
@click.argument("language", type=click.Choice(OTHERS))
@click.option("--left", is_flag=True, help="Print the texts that are missing or stale as a page to be filled in.")
@click.option("--json", "json_out", is_flag=True, help="Print one JSON document.")
@said_plainly
def texts(language: str, *, left: bool, json_out: bool) -> None:
    """Tell how much of the catalogue and of the pack a language has, or print what is left to translate."""
    catalogue, book = load_catalogue(), book_of(language)
    if left:
        click.echo(left_to_do(catalogue, book), nl=False)
        return
    shown = translated(catalogue, book)
    words = [key for key in phrase_book() if key.startswith("pack.")]
    found = {
        "language": language,
        "texts": len(all_texts(catalogue)),
        "missing": len(shown.missing),
        "stale": len(shown.stale),
        "not_read_by_a_native_speaker": len(shown.unchecked),
        "words_of_the_pack": len(words),
        "words_missing": len([key for key in words if key not in phrase_book(language)]),
    }
    if json_out:
        click.echo(as_json(found))
        return
    click.echo(f"{LANGUAGES[language]}: {found['texts']} texts of the catalogue")
    click.echo(f"  missing, shown in English: {found['missing']}")
    click.echo(f"  stale, the English has changed since: {found['stale']}")
    click.echo(f"  not yet read by a native speaker: {found['not_read_by_a_native_speaker']}")
    click.echo(f"{found['words_of_the_pack']} words of the pack, missing: {found['words_missing']}")
