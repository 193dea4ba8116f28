"""Static files of the desk: hashed names, compressed."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class DeskStatic(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Hashed and compressed; a file of a library that names one it does not ship is no error."""

    support_js_module_import_aggregation = False
