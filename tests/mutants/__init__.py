"""Single mistakes put into the science, the documents and the sentences, to see whether the tests of their own folder notice."""
