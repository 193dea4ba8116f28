"""The hirer's pack: signed links, the pages on their phone, stickers, messages."""
