"""What several pages share: the request, links, words, sentences, tables, charts."""
