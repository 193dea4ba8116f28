"""Static files of the desk: hashed names, compressed, module imports rewritten."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class DeskStatic(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Hashed and compressed; module imports follow the hashed names."""

    support_js_module_import_aggregation = True
