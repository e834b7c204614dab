"""A Debrief turned into JSON, text, pictures, a page and exchange files."""
