"""Papers: tagged PDF from the same answers as the pages."""
