package finding

// Codes about the form of a manifest: what keeps it from being read as meant.
var _ = register(
	Code{Name: "text-unreadable", Level: Error, Why: "The file is not YAML that can be read: too large, too deep, not UTF-8, or broken by a tab, a quote or an indent. Mend the place named; nothing else can be checked until the file reads."},
	Code{Name: "yaml-feature", Level: Error, Why: "Anchors, aliases, merges, tags and second documents are not part of a manifest: they let one line mean something written elsewhere, and hostile files grow by them. Write the value out where it is used."},
	Code{Name: "key-unknown", Level: Error, Why: "A key that the manifest does not know is most often a typing mistake; reading past it would drop what you meant. The nearest known key is named."},
	Code{Name: "key-twice", Level: Error, Why: "The same key stands twice in one map and only one of them could count. Keep one."},
	Code{Name: "value-missing", Level: Error, Rows: []int{28, 85}, Why: "A required value is absent, or a key stands there with nothing behind it. In YAML a # after a space begins a comment: quote a value that starts with #."},
	Code{Name: "value-wrong", Level: Error, Why: "The value is not of the kind, unit or range that belongs here. The text says what was expected and what was found."},
	Code{Name: "value-tenfold", Level: Error, Rows: []int{28, 32}, Why: "A size is ten times what such a thing can be, or a tenth of it: most often a decimal point was lost. What hangs on the figure is not judged until it is mended, for the advice would be as wrong as the figure."},
	Code{Name: "name-twice", Level: Error, Rows: []int{78}, Why: "Two things of one design have the same name, so a list or a step that names it could mean either. Rename one of them."},
	Code{Name: "name-unknown", Level: Error, Rows: []int{12, 13, 18, 36}, Why: "Something is named here that the manifest does not list: a part, variant, filament, fastener, bought part, board or step. Add it to its list, or mend the name; the nearest known one is suggested."},
	Code{Name: "path-outside", Level: Error, Why: "A file path leaves the design's folder, is absolute, or passes through a link. A design must be whole in its own folder, or it cannot be packed and repeated. Copy the file into the folder."},
	Code{Name: "placeholder-left", Level: Error, Why: "A text that a new series or design begins with is still there: it would go out to everybody, on the sheet and in the announcement. Write your own in its place."},
	Code{Name: "quote-curly", Level: Warning, Why: "Typographic quotes do not quote in YAML; they become part of the text. Use plain ones."},
)
